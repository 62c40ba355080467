"""How do lines written elsewhere enter a record that has none? As they were hashed, or not at all.

Each hash is worked out from the line before and the text, and each text is taken apart into the
cells of its row: only a text that these cells give again is taken. A line whose content was
disposed of bears the hash that its tombstone tells; so tombstones come before other lines, the
register's before the entries, and each chain whole.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache
from typing import Any

import sqlalchemy as sa

from fleet.domain.chain import Flaw, Line
from fleet.domain.records import Mark
from fleet.storage import schema
from fleet.storage.bulk import Cell, insert_rows
from fleet.storage.canonical import START, canonical_json, instant_text, link
from fleet.storage.columns import Instant
from fleet.storage.head_rows import Tail, set_heads
from fleet.storage.register_rows import TABLES, bring_up_table

__all__ = ["LineImport"]

_ROWS_AT_ONCE = 2_000
_HASHES = ("prev_hash", "hash")


class _Wrong(Exception):
    """A line that is not as it was written; the text is a sentence."""


class LineImport:
    """Takes lines into the tables of one connection."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._gone: dict[tuple[str, int], str] = {}
        """The hash of each line whose content was disposed of, by chain and number."""
        self._heads: dict[str, Tail] = {}

    def take(self, lines: Iterable[Line]) -> Flaw | None:
        """Append lines; the first that is not as it was written is the answer, and stops it."""
        rows = _Rows(self._connection)
        chain: _Chain | None = None
        for line in lines:
            is_next = chain is None or chain.name != line.chain
            if is_next and (flaw := self._closed(chain, rows)):
                return flaw
            try:
                chain = self._opened(line.chain) if is_next or chain is None else chain
                previous = chain.tail[1]
                rows.add(chain.table, (*self._cells(chain, line), previous, line.hash))
            except _Wrong as wrong:
                return Flaw(line.chain, line.seq, "", str(wrong))
        if flaw := self._closed(chain, rows):
            return flaw
        rows.write()
        set_heads(self._connection, self._heads)
        return None

    def _closed(self, chain: _Chain | None, rows: _Rows) -> Flaw | None:
        """Close a chain; what is wrong with it as a whole is told at its last line."""
        if chain is None:
            return None
        try:
            self._close(chain, rows)
        except _Wrong as wrong:
            return Flaw(chain.name, chain.tail[0], "", str(wrong))
        return None

    def _opened(self, name: str) -> _Chain:
        if name in self._heads:
            raise _Wrong("its lines do not stand together")
        kind, _, rest = name.partition("/")
        if kind == "entry":
            return _Chain(name, schema.entry, {"property_number": rest}, self._unit_id(rest))
        if kind == "register" and rest in TABLES:
            return _Chain(name, schema.change_line, {"chain": rest})
        if name not in _WHOLE:
            raise _Wrong("there is no such chain")
        return _Chain(name, _WHOLE[name], {})

    def _unit_id(self, number: str) -> tuple[int]:
        query = sa.select(schema.unit.c.id).where(schema.unit.c.property_number == number)
        unit_id = self._connection.execute(query).scalar_one_or_none()
        if unit_id is None:
            raise _Wrong(f"no line before it tells of a unit '{number}'")
        return (unit_id,)

    def _close(self, chain: _Chain, rows: _Rows) -> None:
        """Note where a chain ends, and bring up the table of the register that it makes."""
        self._heads[chain.name] = chain.tail
        if chain.table is schema.change_line:
            rows.write()
            try:
                bring_up_table(self._connection, chain.said["chain"], chain.changes)
            except (LookupError, TypeError, ValueError):
                raise _Wrong("a change in it is not one this program writes") from None
            except sa.exc.IntegrityError:
                raise _Wrong("it speaks of what no line before it tells of") from None

    def _cells(self, chain: _Chain, line: Line) -> Sequence[Cell]:
        """The cells of a line, once its number, its hash and its text are found right."""
        seq, previous = chain.tail
        if line.seq != seq + 1:
            raise _Wrong(f"line {seq + 1} should stand here")
        is_gone = self._gone.get((chain.name, line.seq)) == line.hash.hex()
        if link(previous, line.content) != line.hash and not is_gone:
            raise _Wrong("its hash is not that of its text and the line before")
        content = chain.content(line)
        chain.tail = (line.seq, line.hash)
        if chain.table is schema.tombstone:
            self._gone[content["of_chain"], content["of_seq"]] = content["of_hash"]
        if chain.table is schema.change_line:
            chain.changes.append((content["old"], content["new"]))
        return (*chain.start, *(content[name] for name in chain.columns))


class _Chain:
    """One chain being taken: its table, what every line of it says, and how far it has come."""

    def __init__(
        self, name: str, table: sa.Table, said: Mapping[str, str], start: tuple[Cell, ...] = ()
    ) -> None:
        self.name, self.table, self.said, self.start = name, table, said, start
        self.tail: Tail = (0, START)
        self.changes: list[tuple[str | None, str]] = []
        """Of a chain of the register: the old and the new record of each change."""
        self.columns = _COLUMNS[table.name]
        self._checks = {**_CHECKS[table.name], **dict.fromkeys(said, _is_text)}

    def content(self, line: Line) -> dict[str, Any]:
        """The cells that a line's text names, each of the kind its column holds."""
        wrong = _Wrong("its text is not one this program writes")
        try:
            cells = json.loads(line.content)
        except ValueError:
            raise wrong from None
        if not isinstance(cells, dict) or cells.keys() != self._checks.keys():
            raise wrong
        try:
            is_right = all(check(cells[name]) for name, check in self._checks.items())
        except TypeError:  # a list or an object, which no cell holds
            is_right = False
        if not is_right:
            raise wrong
        if canonical_json(cells) != line.content or cells["seq"] != line.seq:
            raise wrong
        if any(cells[name] != value for name, value in self.said.items()):
            raise wrong
        return cells


class _Rows:
    """Rows on their way into one table after another, so many at a time."""

    def __init__(self, connection: sa.Connection) -> None:
        self._connection = connection
        self._table: sa.Table | None = None
        self._rows: list[tuple[Cell, ...]] = []

    def add(self, table: sa.Table, row: tuple[Cell, ...]) -> None:
        """Take a row; what waits is written before one of another table."""
        if table is not self._table or len(self._rows) >= _ROWS_AT_ONCE:
            self.write()
            self._table = table
        self._rows.append(row)

    def write(self) -> None:
        """Write what waits."""
        if self._table is not None and self._rows:
            start = ("unit_id",) if self._table is schema.entry else ()
            columns = (*start, *_COLUMNS[self._table.name], *_HASHES)
            insert_rows(self._connection, self._table, columns, self._rows)
            self._rows = []


def _is_text(value: object) -> bool:
    return isinstance(value, str)


def _is_number(value: object) -> bool:
    return isinstance(value, int) and not isinstance(value, bool) and abs(value) < 1 << 31


def _is_truth(value: object) -> bool:
    return isinstance(value, bool)


@lru_cache(maxsize=8192)
def _is_day(value: object) -> bool:
    try:
        return isinstance(value, str) and dt.date.fromisoformat(value).isoformat() == value
    except ValueError:
        return False


@lru_cache(maxsize=8192)
def _is_instant(value: object) -> bool:
    try:
        return isinstance(value, str) and instant_text(dt.datetime.fromisoformat(value)) == value
    except (ValueError, OverflowError):
        return False


def _is_mark(value: object) -> bool:
    return value in _MARKS


def _or_empty(check: Callable[[object], bool]) -> Callable[[object], bool]:
    return lambda value: value is None or check(value)


_MARKS = frozenset(mark.value for mark in Mark)


def _check_of(column: sa.Column[Any]) -> Callable[[object], bool]:
    check = _is_text
    for kind, of_kind in (
        (Instant, _is_instant),
        (sa.Enum, _is_mark),
        (sa.Date, _is_day),
        (sa.Boolean, _is_truth),
        (sa.Integer, _is_number),
    ):
        if isinstance(column.type, kind):
            check = of_kind
            break
    return _or_empty(check) if column.nullable else check


_WHOLE = {
    table.name: table
    for table in (
        schema.tombstone,
        schema.rule_book,
        schema.holiday_year,
        schema.attachment,
        schema.seal,
    )
}
"""The tables that are one chain, of their own name."""
_COLUMNS = {
    table.name: [c.name for c in table.columns if c.name not in ("unit_id", *_HASHES)]
    for table in (*_WHOLE.values(), schema.change_line, schema.entry)
}
_CHECKS: Mapping[str, Mapping[str, Callable[[object], bool]]] = {
    name: {column: _check_of(schema.METADATA.tables[name].c[column]) for column in columns}
    for name, columns in _COLUMNS.items()
}
