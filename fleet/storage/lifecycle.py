"""Is there a database, is its schema the one this program knows, and how does it become so?

Alembic is imported only where tables are made or changed: to open a database need not wait for it.
"""

from __future__ import annotations

import os
from pathlib import Path
from typing import Any, Literal

import sqlalchemy as sa
from sqlalchemy.engine import URL

from fleet.errors import StoreError
from fleet.storage import append_only
from fleet.storage.engines import (
    WRITE,
    file_of,
    look_only_engine,
    make_engine,
    parse_url,
    place_of,
)
from fleet.storage.refusals import in_words
from fleet.storage.role_grants import grant_again
from fleet.storage.schema import HEAD, REVISIONS

__all__ = ["SchemaState", "create", "require_current", "schema_state", "upgrade"]

SchemaState = Literal["missing", "older", "current", "newer"]

_SCRIPTS = Path(__file__).with_name("migrations")

_MENDS = {
    "missing": "there is no fleet here yet; run dueward load or dueward demo",
    "older": "it was made by an earlier version of this program; run dueward upgrade",
    "newer": "it was made by a later version of this program; install that version",
}


def schema_state(url: str) -> SchemaState:
    """Compare a database's schema with the one this program knows; makes no file, changes none.

    missing: no file, or a database without tables. Raises StoreError for what is no database, and
    for one that holds something else.
    """
    place = parse_url(url)
    file = file_of(place)
    if file is not None and not file.exists():
        return "missing"
    engine = look_only_engine(place)
    try:
        with in_words(engine), engine.connect() as connection:
            return _state(connection)
    finally:
        engine.dispose()


def require_current(url: str) -> None:
    """Raise a StoreError that says what to run, unless the schema is the one this program knows."""
    state = schema_state(url)
    if state != "current":
        raise StoreError(f"{place_of(parse_url(url))}: {_MENDS[state]}")


def create(url: str) -> None:
    """Make the tables of a fleet where there is none; StoreError where there is one."""
    if schema_state(url) != "missing":
        raise StoreError(f"{place_of(parse_url(url))}: there is a fleet here already; use it as is")
    _migrate(parse_url(url))


def upgrade(url: str) -> Path | None:
    """Bring an older schema up to this program's.

    On SQLite the database is first copied to a file beside it, whose path is the answer; None where
    nothing was to be done but to put back a trigger that was missing, and on PostgreSQL. Raises
    StoreError where there is no fleet.
    """
    state = schema_state(url)
    place = parse_url(url)
    if state == "current":
        _guard(place)
        return None
    if state != "older":
        raise StoreError(f"{place_of(place)}: {_MENDS[state]}")
    copy = _copy(place)
    _migrate(place)
    return copy


def _guard(url: URL) -> None:
    """Put back the triggers of append-only tables where one is missing, altered or off."""
    engine = make_engine(url)
    try:
        with in_words(engine), engine.connect() as connection:
            if append_only.unguarded(connection):
                connection.rollback()
                with connection.execution_options(**{WRITE: True}).begin():
                    append_only.install(connection)
    finally:
        engine.dispose()


def _state(connection: sa.Connection) -> SchemaState:
    tables = sa.inspect(connection).get_table_names()
    if not tables:
        return "missing"
    if not {"alembic_version", "change_line"} <= set(tables):
        raise StoreError(
            f"{place_of(connection.engine.url)}: this database holds something else;"
            " name another with --database"
        )
    revision = connection.exec_driver_sql("SELECT version_num FROM alembic_version").scalar()
    if revision == HEAD:
        return "current"
    return "older" if revision in REVISIONS else "newer"


def _copy(url: URL) -> Path | None:
    """Copy a SQLite database beside itself, under a free name that only a whole one gets."""
    file = file_of(url)
    if file is None:
        return None
    number = 1
    while (target := file.with_name(f"{file.stem}-before-{HEAD}-{number}{file.suffix}")).exists():
        number += 1
    part = target.with_name(f"{target.name}.part")
    part.unlink(missing_ok=True)
    engine = make_engine(url)
    try:
        with in_words(engine), engine.connect() as connection:
            driver: Any = connection.connection.driver_connection
            driver.execute("VACUUM INTO ?", (str(part),))
        with part.open("rb+") as copy:
            os.fsync(copy.fileno())
        part.rename(target)
    finally:
        part.unlink(missing_ok=True)
    return target


def _migrate(url: URL) -> None:
    """Run the migration scripts up to the last, all or nothing."""
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(_SCRIPTS).replace("%", "%%"))
    engine = make_engine(url, foreign_keys=False)
    try:
        with (
            in_words(engine),
            engine.connect().execution_options(**{WRITE: True}) as connection,
            connection.begin(),
        ):
            config.attributes["connection"] = connection
            command.upgrade(config, "head")
            _check_references(connection)
            grant_again(connection)
    finally:
        engine.dispose()


def _check_references(connection: sa.Connection) -> None:
    """Foreign keys are off while SQLite's tables change; look at them before it is kept."""
    if connection.dialect.name == "sqlite":
        broken = connection.exec_driver_sql("PRAGMA foreign_key_check").all()
        if broken:
            raise StoreError(
                f"{place_of(connection.engine.url)}: {len(broken)} lines refer to what is not"
                f" there (the first in table {broken[0][0]}); nothing was changed, restore a backup"
            )
