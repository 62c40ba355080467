"""How is a PostgreSQL database written to a file and read back? With pg_dump and pg_restore."""

from __future__ import annotations

import os
from collections.abc import Callable
from pathlib import Path

import sqlalchemy as sa
from sqlalchemy.engine import URL

from fleet.errors import StoreError
from fleet.services.checked import Checked, checked
from fleet.services.load_ports import Progress
from fleet.storage.engines import WRITE, make_engine, place_of
from fleet.storage.postgres_tools import find_tool, run_tool, server_version
from fleet.storage.record import SqlRecord
from fleet.storage.refusals import in_words

__all__ = ["BEGINNING", "dump", "read_dump"]

BEGINNING = b"PGDMP"
"""How an archive in pg_dump's custom format begins."""


def dump(url: URL, made: Path, progress: Progress, *, is_current: bool) -> Checked | None:
    """Write a database to a file, of the very moment whose chains are checked.

    None where the schema is older and its chains cannot be walked. Raises StoreError for a missing
    program, and for whatever the programs refuse.
    """
    engine, place = make_engine(url), place_of(url)
    try:
        with in_words(engine), engine.connect() as connection:
            connection.begin()
            version = server_version(connection)
            writer, reader = find_tool("pg_dump", version), find_tool("pg_restore", version)
            moment = connection.exec_driver_sql("SELECT pg_export_snapshot()").scalar_one()
            run_tool(
                [
                    *(writer, "--format=custom", "--no-password"),
                    *(f"--snapshot={moment}", f"--file={made}"),
                ],
                url,
                place=place,
            )
            _check_dump(reader, made, sa.inspect(connection).get_table_names(), place)
            return checked(SqlRecord(connection, write=False), progress) if is_current else None
    finally:
        engine.dispose()


def _check_dump(reader: Path, made: Path, tables: list[str], place: str) -> None:
    """Read the whole dump, and look that it holds the rows of every table."""
    run_tool([reader, f"--file={os.devnull}", made], None, place=place)
    listed = run_tool([reader, "--list", made], None, place=place)
    held = {
        line.split(" TABLE DATA ")[1].split()[1]
        for line in listed.splitlines()
        if " TABLE DATA " in line
    }
    if missing := sorted(set(tables) - held):
        raise StoreError(
            f"{place}: the dump lacks the table {missing[0]}, and was not kept; check that this"
            " user may read every table"
        )


def read_dump(url: URL, file: Path, look: Callable[[], None]) -> None:
    """Read a dump into a database without tables, all or nothing.

    `look` is called when it stands; where that raises, it is taken out again.
    """
    engine = make_engine(url)
    try:
        with in_words(engine):
            with engine.connect() as connection:
                reader = find_tool("pg_restore", server_version(connection))
            run_tool(
                [
                    *(reader, "--single-transaction", "--exit-on-error", "--no-password"),
                    *("--no-owner", "--no-privileges", file),
                ],
                url,
                place=str(file),
            )
            try:
                look()
            except BaseException:
                _empty(engine)
                raise
    finally:
        engine.dispose()


def _empty(engine: sa.Engine) -> None:
    """Take out every table of a database that had none, and what keeps them from changing."""
    quote = engine.dialect.identifier_preparer.quote
    with engine.connect().execution_options(**{WRITE: True}) as connection, connection.begin():
        for table in sa.inspect(connection).get_table_names():
            connection.exec_driver_sql(f"DROP TABLE {quote(table)} CASCADE")
        connection.exec_driver_sql("DROP FUNCTION IF EXISTS refuse_change() CASCADE")
