"""What stands in a database, read past the program? All tables as plain rows, at one moment."""

from __future__ import annotations

import datetime as dt
import hashlib
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

from tests.studies.survival.invented import Row

__all__ = ["Tables", "counts", "file_of", "fingerprint", "insert", "rows_of", "tables", "writing"]

Tables = dict[str, list[Row]]

_FLAGS = {"initial", "open"}
_SQLITE_TABLES = "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
_POSTGRESQL_TABLES = "SELECT tablename FROM pg_tables WHERE schemaname = 'public' ORDER BY 1"


def file_of(url: str) -> Path | None:
    """The file of a SQLite address; None for PostgreSQL."""
    return Path(url.removeprefix("sqlite:///")) if url.startswith("sqlite") else None


@contextmanager
def _reading(url: str) -> Iterator[Any]:
    """A connection that sees one moment."""
    file = file_of(url)
    if file is not None:
        with closing(sqlite3.connect(file, isolation_level=None)) as opened:
            opened.execute("BEGIN")
            yield opened
    else:
        import psycopg

        with psycopg.connect(url) as connection:
            connection.isolation_level = psycopg.IsolationLevel.REPEATABLE_READ
            connection.execute("SET timezone = 'UTC'")
            yield connection


@contextmanager
def writing(url: str) -> Iterator[Any]:
    """A connection past the program, whose changes are kept at the end."""
    file = file_of(url)
    if file is not None:
        with closing(sqlite3.connect(file)) as opened, opened:
            yield opened
    else:
        import psycopg

        with psycopg.connect(url) as connection:
            yield connection


def insert(connection: Any, table: str, rows: Sequence[Row]) -> None:
    """Insert rows that have the same columns."""
    if not rows:
        return
    mark = "?" if isinstance(connection, sqlite3.Connection) else "%s"
    names = ", ".join(f'"{name}"' for name in rows[0])
    marks = ", ".join([mark] * len(rows[0]))
    values = [tuple(map(_given, row.values())) for row in rows]
    connection.cursor().executemany(f"INSERT INTO {table} ({names}) VALUES ({marks})", values)  # noqa: S608


def _given(value: object) -> object:
    if isinstance(value, dt.datetime):
        return _instant(value)
    return value.isoformat() if isinstance(value, dt.date) else value


def tables(url: str) -> Tables:
    """Every table with its rows, in the order of all their cells."""
    with _reading(url) as connection:
        is_file = isinstance(connection, sqlite3.Connection)
        names = connection.execute(_SQLITE_TABLES if is_file else _POSTGRESQL_TABLES).fetchall()
        return {name: rows_of(connection, name) for (name,) in names}


def rows_of(connection: Any, table: str) -> list[Row]:
    """The rows of a table, the same from both databases."""
    cursor = connection.execute(f"SELECT * FROM {table}")  # noqa: S608
    names = [column[0] for column in cursor.description]
    rows = [
        {name: _plain(name, value) for name, value in zip(names, row, strict=True)}
        for row in cursor
    ]
    return sorted(rows, key=lambda row: repr(list(row.values())))


def counts(url: str) -> dict[str, int]:
    """How many rows each table has, at one moment; `heads` is where all chains end together."""
    with _reading(url) as connection:
        is_file = isinstance(connection, sqlite3.Connection)
        names = connection.execute(_SQLITE_TABLES if is_file else _POSTGRESQL_TABLES).fetchall()
        found = {
            name: connection.execute(f"SELECT count(*) FROM {name}").fetchone()[0]  # noqa: S608
            for (name,) in names
        }
        if "chain_head" in found:
            query = "SELECT coalesce(sum(seq), 0) FROM chain_head"
            found["heads"] = int(connection.execute(query).fetchone()[0])
        return found


def fingerprint(found: Tables) -> str:
    """One hash of all rows of all tables."""
    return hashlib.sha256(repr(sorted(found.items())).encode()).hexdigest()


def _plain(name: str, value: Any) -> Any:
    if isinstance(value, dt.datetime):
        return _instant(value)
    if isinstance(value, dt.date):
        return value.isoformat()
    if isinstance(value, memoryview):
        return bytes(value)
    return bool(value) if name in _FLAGS and value in {0, 1} else value


def _instant(at: dt.datetime) -> str:
    return f"{at.astimezone(dt.UTC):%Y-%m-%dT%H:%M:%S.%f}Z"
