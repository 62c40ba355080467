"""What does a database's refusal mean to the person at the keyboard?"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from fleet.errors import AppendOnly, FleetError, StoreError
from fleet.storage.append_only import REFUSAL
from fleet.storage.engines import WAIT_SECONDS, place_of

__all__ = ["driver_errors", "in_words"]

_LOCKED = (
    f"another program is writing to it and did not finish within {WAIT_SECONDS} seconds;"
    " wait for it, then run the command again"
)
_FULL = "its disk is full and nothing was written; free some space, then run the command again"
_NO_DATABASE = "this is not a database; name another file with --database, or move this one away"
_DAMAGED = "the database is damaged; restore the last backup"
_READ_ONLY = "it may not be written to; give the program the right to write to the file and folder"
_UNREACHABLE = "it cannot be opened; check that its folder exists and may be read"

_FAILING = (
    "it cannot be read from or written to the disk; see that the disk has room and works,"
    " then run the command again"
)

_SQLITE = {
    sqlite3.SQLITE_BUSY: _LOCKED,
    sqlite3.SQLITE_LOCKED: _LOCKED,
    sqlite3.SQLITE_FULL: _FULL,
    sqlite3.SQLITE_NOTADB: _NO_DATABASE,
    sqlite3.SQLITE_CORRUPT: _DAMAGED,
    sqlite3.SQLITE_READONLY: _READ_ONLY,
    sqlite3.SQLITE_CANTOPEN: _UNREACHABLE,
    sqlite3.SQLITE_IOERR: _FAILING,
    # No room for the file by which programs share the log.
    sqlite3.SQLITE_IOERR_SHMSIZE: _FULL,
}
"""By SQLite's result code, or else by its lowest byte, the primary one."""

_POSTGRESQL = {
    "53100": _FULL,
    "55P03": _LOCKED,
    "42501": "this user lacks a right it needs; ask who owns the database to grant it"
    " (dueward roles, which itself needs CREATEROLE)",
}
"""By SQLSTATE (PostgreSQL manual, appendix A)."""


def driver_errors(engine: sa.Engine) -> tuple[type[Exception], ...]:
    """What SQLAlchemy or the driver below it raises when the database refuses."""
    return (DBAPIError, engine.dialect.loaded_dbapi.Error)


@contextmanager
def in_words(engine: sa.Engine) -> Iterator[None]:
    """Turn what the database refuses inside into AppendOnly or a StoreError that names the mend."""
    try:
        yield
    except driver_errors(engine) as error:
        cause = error.orig if isinstance(error, DBAPIError) and error.orig else error
        raise _sentence(engine, cause) from error


def _sentence(engine: sa.Engine, cause: BaseException) -> FleetError:
    first = (str(cause).strip() or type(cause).__name__).splitlines()[0]
    if REFUSAL in first:
        return AppendOnly(first)
    place = place_of(engine.url)
    state = getattr(cause, "sqlstate", None)
    if state is not None:
        known = _POSTGRESQL.get(state)
    elif engine.dialect.name == "postgresql" and _is_operational(engine, cause):
        known = f"it cannot be reached ({first}); check the address and that the server runs"
    else:
        code = getattr(cause, "sqlite_errorcode", 0)
        known = _SQLITE.get(code, _SQLITE.get(code & 0xFF))
        if first.startswith("no such table"):
            known = f"{_DAMAGED} ({first})"
    return StoreError(f"{place}: {known or f'the database refused: {first}'}")


def _is_operational(engine: sa.Engine, cause: BaseException) -> bool:
    return isinstance(cause, engine.dialect.loaded_dbapi.OperationalError)
