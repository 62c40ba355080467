"""How is a database opened so that a transaction means the same on SQLite and on PostgreSQL?

A unit of work that may write takes the one write lock when it begins: BEGIN IMMEDIATE on SQLite, an
advisory lock on PostgreSQL, so that no two writers read the same tail of a chain. One that only
reads sees one moment: BEGIN on SQLite in WAL mode, REPEATABLE READ on PostgreSQL.
"""

from __future__ import annotations

from pathlib import Path

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool

from fleet.errors import StoreError

__all__ = ["WAIT_SECONDS", "WRITE", "file_of", "make_engine", "parse_url", "place_of"]

WAIT_SECONDS = 5
"""How long a writer waits for another to finish."""

WRITE = "dueward_write"
"""The execution option of a connection whose transactions may write."""

_WRITE_LOCK = 0x64756577
"""The number of PostgreSQL's advisory lock; 'duew' in ASCII."""

_FORMS = "write sqlite:///FILE or postgresql://USER@HOST/DATABASE"


def parse_url(text: str) -> URL:
    """Read a database address; StoreError for what is neither a SQLite file nor PostgreSQL."""
    try:
        url = sa.make_url(text)
    except (ArgumentError, ValueError):
        raise StoreError(f"'{text}' is not the address of a database; {_FORMS}") from None
    if url.drivername in {"postgres", "postgresql", "postgresql+psycopg"}:
        return url.set(drivername="postgresql+psycopg")
    if url.drivername not in {"sqlite", "sqlite+pysqlite"}:
        raise StoreError(f"'{url.drivername}' databases are not supported; {_FORMS}")
    if url.database in {None, "", ":memory:"}:
        raise StoreError(f"a database in memory is gone with the program; {_FORMS}")
    return url


def file_of(url: URL) -> Path | None:
    """The file of a SQLite database; None for PostgreSQL."""
    return Path(url.database or "") if url.get_backend_name() == "sqlite" else None


def place_of(url: URL) -> str:
    """Name a database in a message: its file, or its address without the password."""
    return str(file_of(url) or url.set(drivername="postgresql").render_as_string())


def make_engine(url: URL, *, foreign_keys: bool = True) -> sa.Engine:
    """Make the engine of a database; nothing is opened yet.

    foreign_keys False is for migrations on SQLite only: with it, changing a table that others
    refer to would empty them.
    """
    if url.get_backend_name() == "sqlite":
        return _sqlite_engine(url, foreign_keys=foreign_keys)
    settings = f"-c timezone=UTC -c lock_timeout={WAIT_SECONDS * 1000}"
    try:
        engine = sa.create_engine(url, connect_args={"options": settings})
    except ModuleNotFoundError:
        raise StoreError(
            "PostgreSQL needs the library psycopg; install it with pip install 'dueward[postgres]'"
        ) from None
    event.listen(engine, "begin", _begin_on_postgresql)
    return engine


def _sqlite_engine(url: URL, *, foreign_keys: bool) -> sa.Engine:
    def prepare(connection: DBAPIConnection, _: object) -> None:
        # The driver begins no transaction of its own; _begin_on_sqlite does.
        connection.isolation_level = None
        for pragma in (
            f"foreign_keys={'ON' if foreign_keys else 'OFF'}",
            "journal_mode=WAL",
            "synchronous=FULL",
            "recursive_triggers=ON",
            "cache_size=-65536",
        ):
            connection.cursor().execute(f"PRAGMA {pragma}").close()

    engine = sa.create_engine(url, poolclass=NullPool, connect_args={"timeout": WAIT_SECONDS})
    event.listen(engine, "connect", prepare)
    event.listen(engine, "begin", _begin_on_sqlite)
    return engine


def _begin_on_sqlite(connection: sa.Connection) -> None:
    write = connection.get_execution_options().get(WRITE, False)
    connection.exec_driver_sql("BEGIN IMMEDIATE" if write else "BEGIN")


def _begin_on_postgresql(connection: sa.Connection) -> None:
    if connection.get_execution_options().get(WRITE, False):
        connection.exec_driver_sql(f"SELECT pg_advisory_xact_lock({_WRITE_LOCK})")
    else:
        connection.exec_driver_sql("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
