"""How is a database opened so that a transaction means the same on SQLite and on PostgreSQL?

A unit of work that may write takes the one write lock when it begins: BEGIN IMMEDIATE on SQLite, an
advisory lock on PostgreSQL, so that no two writers read the same tail of a chain. One that only
reads sees one moment: BEGIN on SQLite in WAL mode, REPEATABLE READ on PostgreSQL.
"""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any
from urllib.parse import quote

import sqlalchemy as sa
from sqlalchemy import event
from sqlalchemy.engine import URL
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import ArgumentError
from sqlalchemy.pool import NullPool, QueuePool

from fleet.domain.texts import shown_address
from fleet.errors import StoreError

__all__ = [
    "WAIT_SECONDS",
    "WRITE",
    "file_of",
    "look_only_engine",
    "make_engine",
    "parse_url",
    "place_of",
]

WAIT_SECONDS = 5
"""How long a writer waits for another to finish."""

WRITE = "dueward_write"
"""The execution option of a connection whose transactions may write."""

_KEPT = 10
"""As many connections to SQLite stay open; each caches up to 64 MB of pages."""

_WRITE_LOCK = 0x64756577
"""The number of PostgreSQL's advisory lock; 'duew' in ASCII."""

_FORMS = "write sqlite:///FILE or postgresql://USER@HOST/DATABASE"


def parse_url(text: str) -> URL:
    """Read a database address; StoreError for what is neither a SQLite file nor PostgreSQL."""
    try:
        url = sa.make_url(text)
    except (ArgumentError, ValueError):
        said = shown_address(text)
        raise StoreError(f"{said} is not the address of a database; {_FORMS}") from None
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
    """Name a database in a message: its file, or its address without user and query."""
    address = URL.create("postgresql", host=url.host, port=url.port, database=url.database)
    return str(file_of(url) or address.render_as_string())


def look_only_engine(url: URL) -> sa.Engine:
    """Make an engine to see what a database is, before anything is set or written there.

    A SQLite file in WAL mode without a log beside it is opened as one that nobody writes to:
    otherwise SQLite would make a log and its index beside a file that may not be ours.
    """
    file = file_of(url)
    if file is None:
        return make_engine(url)
    is_at_rest = _is_in_wal_mode(file) and not file.with_name(f"{file.name}-wal").exists()
    address = f"file:{quote(str(file))}?mode=ro{'&immutable=1' if is_at_rest else ''}"

    def connect() -> sqlite3.Connection:
        return sqlite3.connect(address, uri=True, timeout=WAIT_SECONDS)

    return sa.create_engine(url, creator=connect, poolclass=NullPool)


def _is_in_wal_mode(file: Path) -> bool:
    """Read it from the file's header (SQLite file format 1.3.3: byte 18 is 2)."""
    try:
        with file.open("rb") as opened:
            return opened.read(19)[18:] == b"\x02"
    except OSError:
        return False  # SQLite will say so when it opens the file


def make_engine(url: URL, *, foreign_keys: bool = True, keeps: bool = False) -> sa.Engine:
    """Make the engine of a database that is ours or to become ours; nothing is opened yet.

    foreign_keys False is for migrations on SQLite only: with it, changing a table that others
    refer to would empty them. keeps: connections to SQLite stay open for the next who asks, as a
    process that serves pages wants them; on PostgreSQL they always do.
    """
    if url.get_backend_name() == "sqlite":
        return _sqlite_engine(url, foreign_keys=foreign_keys, keeps=keeps)
    settings = f"-c timezone=UTC -c lock_timeout={WAIT_SECONDS * 1000}"
    try:
        engine = sa.create_engine(url, connect_args={"options": settings})
    except ModuleNotFoundError:
        raise StoreError(
            "PostgreSQL needs the library psycopg; install it with pip install 'dueward[postgres]'"
        ) from None
    event.listen(engine, "begin", _begin_on_postgresql)
    return engine


def _sqlite_engine(url: URL, *, foreign_keys: bool, keeps: bool) -> sa.Engine:
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

    kept: dict[str, Any] = {"pool_size": _KEPT, "max_overflow": -1} if keeps else {}
    pool = QueuePool if keeps else NullPool
    waits = {"timeout": WAIT_SECONDS}
    engine = sa.create_engine(url, poolclass=pool, connect_args=waits, **kept)
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
