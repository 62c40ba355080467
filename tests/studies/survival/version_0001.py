"""What did a database of version 0001 look like? Frozen: plain SQL, and hashes made here.

The tables stand in `tables_0001_*.sql`, as that version made them (its triggers too: holiday years
had none, and no chain). The rows are those of an invented fleet.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path
from typing import Any

from tests.studies.survival.evidence import START, kept_rows, link
from tests.studies.survival.invented import BOOK, STORED_AT, Invented, Row
from tests.studies.survival.raw import file_of, insert, writing

__all__ = ["build"]

AT = f"{STORED_AT:%Y-%m-%dT%H:%M:%S.%f}Z"
END: Row = {"stored_at": AT, "by": "study", "source": "file"}
KEYS: dict[str, Callable[[Row], list[str]]] = {
    "site": lambda row: [row["site"]],
    "weekly_pattern": lambda row: [row["site"], row["from_on"]],
    "holiday": lambda row: [row["site"], row["country"], row["subdivision"], row["on"]],
    "closure": lambda row: [row["site"], row["from_on"], "open" if row["open"] else "closed"],
    "unit": lambda row: [row["property_number"]],
    "placement": lambda row: [row["property_number"], row["from_on"]],
    "outage": lambda row: [row["property_number"], row["from_on"]],
    "person": lambda row: [row["email"], row["role"], row["site"], row["region"]],
}


def build(url: str, fleet: Invented, years: Iterable[Row]) -> None:
    """Fill an empty database as version 0001 would have; years: holidays as they were looked up."""
    kind = "postgresql" if file_of(url) is None else "sqlite"
    script = Path(__file__).with_name(f"tables_0001_{kind}.sql").read_text(encoding="utf-8")
    with writing(url) as connection:
        (connection.execute if kind == "postgresql" else connection.executescript)(script)
        insert(connection, "alembic_version", [{"version_num": "0001"}])
        for table, rows in fleet.register.items():
            insert(connection, table, rows)
            insert(connection, "change_line", list(_change_lines(table, rows)))
        insert(connection, "rule_book", [_book()])
        insert(connection, "holiday_year", [_year(row) for row in years])
        ids = _unit_ids(connection)
        lines = list(_entry_lines(fleet.entries, ids))
        insert(connection, "entry", lines)
        insert(connection, "marked_year", kept_rows(lines))
        if kind == "sqlite":
            connection.commit()
            connection.execute("PRAGMA journal_mode=WAL")


def _unit_ids(connection: Any) -> dict[str, int]:
    return dict(connection.execute("SELECT property_number, id FROM unit").fetchall())


def _change_lines(table: str, rows: list[Row]) -> Iterator[Row]:
    previous = START
    for seq, row in enumerate(rows, start=1):
        plain = {name: _plain(value) for name, value in row.items()}
        line = {
            "chain": table,
            "seq": seq,
            "key": _json(KEYS[table](plain)),
            "old": None,
            "new": _json(plain),
            "initial": True,
            **END,
        }
        digest = link(previous, line)
        yield {**line, "prev_hash": previous, "hash": digest}
        previous = digest


def _book() -> Row:
    sha256 = hashlib.sha256(BOOK.encode()).hexdigest()
    line = {"seq": 1, "text": BOOK, "sha256": sha256, "initial": True, **END}
    return {**line, "prev_hash": START, "hash": link(START, line)}


def _year(row: Row) -> Row:
    names = ("country", "subdivision", "year", "names", "origin")
    return {**{name: row[name] for name in names}, "stored_at": AT}


def _entry_lines(entries: list[Row], ids: dict[str, int]) -> Iterator[Row]:
    ends: dict[str, tuple[int, bytes]] = {}
    for entry in entries:
        number = entry["property_number"]
        seq, previous = ends.get(number, (0, START))
        plain = {name: _plain(value) for name, value in entry.items()}
        digest = link(previous, {**plain, "seq": seq + 1, **END})
        ends[number] = seq + 1, digest
        del plain["property_number"]
        line = {"unit_id": ids[number], "seq": seq + 1, **plain, **END}
        yield {**line, "prev_hash": previous, "hash": digest}


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _plain(value: Any) -> Any:
    """As it stood in a JSON text: dates and instants as text, numbers with a point too."""
    if hasattr(value, "hour"):
        return f"{value:%Y-%m-%dT%H:%M:%S.%f}Z"
    if hasattr(value, "isoformat"):
        return value.isoformat()
    return repr(value) if isinstance(value, float) else value
