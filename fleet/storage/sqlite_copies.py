"""How is a SQLite database copied while others write to it, and is a copy whole?

The copy is taken with SQLite's online backup within one read transaction, so that it is of one
moment and can be counted against it. VACUUM INTO would write less, but counts nothing and cannot
run inside a transaction; a record that only grows has little to leave out.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from urllib.parse import quote

from fleet.errors import StoreError
from fleet.services.disk import FULL
from fleet.storage.engines import WAIT_SECONDS

__all__ = ["at_rest", "copy_live", "counts_of", "damage_of", "schema_differences"]

_PAGES_AT_ONCE = 4_096
_BEGINNING = b"SQLite format 3\0"
"""How every SQLite database begins (SQLite file format 1.3)."""


def copy_live(source: Path, made: Path) -> dict[str, int]:
    """Copy a database to a file that is not there yet; the answer: how many rows each table had.

    Raises StoreError for a source that is damaged or locked, and where the disk is full.
    """
    with _told(source), closing(_opened(source, "rw")) as live:
        live.execute("BEGIN")
        counts = _table_counts(live)
        with closing(sqlite3.connect(made, isolation_level=None)) as copy:
            live.backup(copy, pages=_PAGES_AT_ONCE, sleep=0.01)
        at_rest(made)
    return counts


def at_rest(file: Path) -> None:
    """Bring a database to be one file by itself, without a log beside it."""
    with closing(sqlite3.connect(file, isolation_level=None)) as connection:
        connection.execute("PRAGMA journal_mode=DELETE").fetchone()


def damage_of(file: Path) -> str | None:
    """Say what is wrong with a file that should be a database at rest; None: nothing is."""
    with file.open("rb") as opened:
        beginning = opened.read(len(_BEGINNING))
    if beginning != _BEGINNING:
        return "it does not begin as a SQLite database does"
    try:
        with closing(_opened(file, "ro")) as connection:
            first = connection.execute("PRAGMA integrity_check(1)").fetchone()
            if first != ("ok",):
                said = " ".join(str(first[0]).split())
                return f"SQLite's integrity check finds: {said}"
            broken = connection.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.DatabaseError as error:
        return f"SQLite cannot read it ({error})"
    except UnicodeDecodeError:
        return "SQLite's integrity check finds names in it that are no text"
    return None if broken is None else f"a row of table {broken[0]} refers to what is not there"


def _table_counts(connection: sqlite3.Connection) -> dict[str, int]:
    """Count the rows of every table."""
    tables = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
    return {
        name: connection.execute(f'SELECT count(*) FROM "{name}"').fetchone()[0]  # noqa: S608
        for (name,) in sorted(tables)
    }


def counts_of(file: Path) -> dict[str, int]:
    """Count the rows of every table of a database at rest."""
    with closing(_opened(file, "ro")) as connection:
        return _table_counts(connection)


def schema_differences(file: Path, model: Path) -> list[str]:
    """Name what the model's schema has and a database at rest has not, and triggers beyond."""
    query = "SELECT CAST(name AS BLOB), type, tbl_name, CAST(sql AS BLOB) FROM sqlite_schema"
    found = []
    for one in (file, model):
        with closing(_opened(one, "ro")) as connection:
            connection.text_factory = bytes
            found.append(set(connection.execute(query)))
    there, wanted = found
    beyond = {row for row in there - wanted if row[1] == b"trigger"}
    return sorted({row[0].decode(errors="replace") for row in (wanted - there) | beyond})


def _opened(file: Path, mode: str) -> sqlite3.Connection:
    at_rest_words = "&immutable=1" if mode == "ro" else ""
    address = f"file:{quote(str(file.resolve()))}?mode={mode}{at_rest_words}"
    return sqlite3.connect(address, uri=True, isolation_level=None, timeout=WAIT_SECONDS)


_MENDS = {
    sqlite3.SQLITE_FULL: FULL,
    sqlite3.SQLITE_IOERR: "the disk refused; check it, then run the command again",
    sqlite3.SQLITE_BUSY: "another program is using it alone; run the command again when it is done",
    sqlite3.SQLITE_CORRUPT: "the database is damaged; restore the last backup",
    sqlite3.SQLITE_NOTADB: "the database is damaged; restore the last backup",
}


@contextmanager
def _told(source: Path) -> Iterator[None]:
    try:
        yield
    except sqlite3.Error as error:
        known = _MENDS.get(getattr(error, "sqlite_errorcode", 0) & 0xFF)
        raise StoreError(f"{source}: {known or f'SQLite refused: {error}'}") from error
