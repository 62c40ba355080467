"""What stands in each chain, and which text of each line was hashed?

Every column of a line but its two hashes is in the text; an entry's has the property number of its
unit in the place of the unit's number. A unit's chain is read by itself, so that no more than one
is in memory. Values are read as the driver has them: SQLite stores days and instants as the very
texts that are hashed, PostgreSQL is asked for these texts.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from json.encoder import encode_basestring as quoted
from typing import Any, NamedTuple

import sqlalchemy as sa

from fleet.domain.chain import Line
from fleet.storage import schema
from fleet.storage.canonical import canonical_json
from fleet.storage.columns import Instant
from fleet.storage.head_rows import entry_chain, register_chain

__all__ = ["RawLine", "chain_names", "raw_lines", "read_lines"]

_ROWS_AT_ONCE = 1_000
_HASHES = ("prev_hash", "hash")
_CONTENT = (
    *("by", "initials", "key", "mark", "note", "on", "reading", "recorded_at", "source"),
    *("stored_at", "strikes", "task", "to_on", "why"),
)
"""The columns of an entry's text in its order; property_number and seq are added."""

_NAMING: Mapping[str, tuple[str, ...]] = {
    "attachment": ("name",),
    "change_line": ("key",),
    "holiday_year": ("country", "subdivision", "year"),
    "rule_book": (),
    "seal": ("root",),
    "tombstone": ("key",),
}
"""Which columns name a line to a person; the chain of each table bears its name, but for
change_line, which holds one chain a table of the register."""


class RawLine(NamedTuple):
    """A line as it stands, checked by nobody yet."""

    seq: int
    previous: bytes
    """The hash of the line before, as this line has it."""
    hash: bytes
    key: str
    """What names the line to a person; '' where nothing does."""
    content: str | None
    """None where a cell holds what the program never writes there."""


def chain_names(connection: sa.Connection) -> list[str]:
    """Name every chain that a line could stand in, also units without entries, in UTF-8 order."""
    numbers = connection.execute(sa.select(schema.unit.c.property_number)).scalars()
    tables = connection.execute(sa.select(schema.change_line.c.chain).distinct()).scalars()
    names = [*map(entry_chain, numbers), *map(register_chain, tables)]
    return sorted([*names, *(_NAMING.keys() - {"change_line"})], key=str.encode)


def read_lines(connection: sa.Connection, chains: Sequence[str] | None) -> Iterator[Line]:
    """The lines of some chains (None: all), chain by chain in the order of their names.

    A line that was disposed of comes with the text of what is left of it.
    """
    names = chain_names(connection) if chains is None else sorted(set(chains), key=str.encode)
    for name in names:
        for line in raw_lines(connection, name):
            yield Line(name, line.seq, line.hash, line.content or "")


def raw_lines(connection: sa.Connection, chain: str) -> Iterator[RawLine]:
    """The lines of one chain in their order; none where there is no such chain."""
    kind, _, rest = chain.partition("/")
    if kind == "entry":
        yield from _entry_lines(connection, rest)
    elif kind == "register":
        yield from _other_lines(connection, schema.change_line, rest)
    elif chain in _NAMING:
        yield from _other_lines(connection, schema.METADATA.tables[chain], None)


def _entry_lines(connection: sa.Connection, property_number: str) -> Iterator[RawLine]:
    entry, unit = schema.entry, schema.unit
    columns = ("seq", *_HASHES, *_CONTENT)
    query = (
        sa.select(*_texts(connection, entry, columns))
        .join(unit, unit.c.id == entry.c.unit_id)
        .where(unit.c.property_number == property_number)
        .order_by(entry.c.seq)
    )
    number = quoted(property_number)
    for row in _rows(connection, query, stream=False):
        try:
            content = _entry_text(number, *row)
            content.encode()
        except (TypeError, UnicodeEncodeError):
            content = None
        seq, previous, digest, _, _, key, *_ = row
        yield RawLine(seq, _bytes(previous), _bytes(digest), key, content)


def _entry_text(
    number: str,
    seq: int,
    _previous: bytes,
    _hash: bytes,
    by: str,
    initials: str,
    key: str,
    mark: str | None,
    note: str,
    on: str,
    reading: str,
    recorded_at: str | None,
    source: str,
    stored_at: str,
    strikes: str,
    task: str,
    to_on: str | None,
    why: str,
) -> str:
    """The same text as canonical.entry_content, from cells; TypeError for what is no text."""
    return (
        f'{{"by":{quoted(by)},"initials":{quoted(initials)},"key":{quoted(key)},'
        f'"mark":{"null" if mark is None else quoted(mark)},"note":{quoted(note)},'
        f'"on":{quoted(on)},"property_number":{number},"reading":{quoted(reading)},'
        f'"recorded_at":{"null" if recorded_at is None else quoted(recorded_at)},"seq":{seq},'
        f'"source":{quoted(source)},"stored_at":{quoted(stored_at)},"strikes":{quoted(strikes)},'
        f'"task":{quoted(task)},"to_on":{"null" if to_on is None else quoted(to_on)},'
        f'"why":{quoted(why)}}}'
    )


def _other_lines(
    connection: sa.Connection, table: sa.Table, register: str | None
) -> Iterator[RawLine]:
    """The lines of a table (of one chain, where it holds several)."""
    names = [column.name for column in table.columns]
    query = sa.select(*_texts(connection, table, names)).order_by(table.c.seq)
    if register is not None:
        query = query.where(table.c.chain == register)
    truths = {column.name for column in table.columns if isinstance(column.type, sa.Boolean)}
    for row in _rows(connection, query, stream=True):
        cells = dict(zip(names, row, strict=True))
        previous, digest = (cells.pop(name) for name in _HASHES)
        key = _named(cells, _NAMING[table.name])
        for name in truths & {name for name, value in cells.items() if value in (0, 1)}:
            cells[name] = bool(cells[name])
        try:
            content = canonical_json(cells)
            content.encode()
        except (TypeError, ValueError):
            content = None
        yield RawLine(cells["seq"], _bytes(previous), _bytes(digest), key, content)


def _bytes(digest: object) -> bytes:
    """A hash as it stands; nothing where something else stands in its place."""
    return digest if isinstance(digest, bytes) else b""


def _named(cells: Mapping[str, Any], columns: Iterable[str]) -> str:
    """What names a line; the key of a register record is a JSON list."""
    words = " ".join(str(cells[name]) for name in columns)
    if not words.startswith("["):
        return words
    try:
        return " ".join(map(str, json.loads(words)))
    except ValueError:
        return words


def _texts(
    connection: sa.Connection, table: sa.Table, columns: Iterable[str]
) -> list[sa.ColumnElement[Any]]:
    """Columns as the driver gives them, days and instants as the texts that are hashed."""
    is_sqlite = connection.dialect.name == "sqlite"
    return [table.c[name] if is_sqlite else _text(table.c[name]) for name in columns]


def _text(column: sa.Column[Any]) -> sa.ColumnElement[Any]:
    if isinstance(column.type, sa.Date):
        return sa.func.to_char(column, "YYYY-MM-DD")
    if isinstance(column.type, Instant):
        in_utc = sa.func.timezone("UTC", column, type_=sa.DateTime)
        return sa.func.to_char(in_utc, 'YYYY-MM-DD"T"HH24:MI:SS.US"Z"')
    return column


def _rows(
    connection: sa.Connection, query: sa.Select[Any], *, stream: bool
) -> Iterator[Sequence[Any]]:
    """Rows as the driver gives them; text that is no UTF-8, which only a forger or a broken disk
    leaves, comes with lone surrogates in the place of its bytes.
    """
    given = 0
    try:
        for row in _fetched(connection, query, stream=stream):
            yield row
            given += 1
        return
    except sqlite3.OperationalError as error:
        if "decode" not in str(error):
            raise
    driver: Any = connection.connection.driver_connection
    driver.text_factory = lambda text: text.decode(errors="surrogateescape")
    try:
        rows = _fetched(connection, query, stream=stream)
        yield from (row for place, row in enumerate(rows) if place >= given)
    finally:
        driver.text_factory = str


def _fetched(
    connection: sa.Connection, query: sa.Select[Any], *, stream: bool
) -> Iterator[Sequence[Any]]:
    """The rows of a query; PostgreSQL's driver takes them all at once unless it is to stream."""
    if stream and connection.dialect.name != "sqlite":
        with connection.execute(query, execution_options={"yield_per": _ROWS_AT_ONCE}) as result:
            yield from result
        return
    with connection.execute(query) as result:
        while rows := result.cursor.fetchmany(_ROWS_AT_ONCE):
            yield from rows
