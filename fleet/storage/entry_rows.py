"""How are entries kept? In the order they came, one hash chain a unit, never changed."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields
from typing import Any

import sqlalchemy as sa
from sqlalchemy.exc import DBAPIError

from fleet.domain.records import Entry, Mark, StoredEntry
from fleet.errors import KeyTaken, NotFound
from fleet.services.ports import Stamp
from fleet.storage.bulk import Cell, chunks, insert_rows
from fleet.storage.canonical import START, entry_content, instant_text, link
from fleet.storage.chains import STAMPED
from fleet.storage.head_rows import Tail, entry_chain, set_heads, tails_of
from fleet.storage.refusals import driver_errors
from fleet.storage.schema import entry as table
from fleet.storage.schema import unit

__all__ = ["append_entries", "find_entries", "read_entries"]

_GIVEN = (
    "unit_id",
    "seq",
    "key",
    "task",
    "on",
    "to_on",
    "mark",
    "initials",
    "note",
    "reading",
    "recorded_at",
    "strikes",
    "why",
)
_READ = (*_GIVEN[2:], "seq", "stored_at", "by", "source")
"""What is selected after the property number, in the order `_stored` takes it."""

_ROWS_AT_ONCE = 5_000


def append_entries(
    connection: sa.Connection,
    entries: Sequence[Entry],
    stamp: Stamp,
    unit_ids: Mapping[str, int],
    tails: dict[str, Tail],
) -> None:
    """Append entries to their units' chains, in this order, all or none of them.

    tails: the ends of chains known so far in this unit of work, by chain; brought up to date.
    Raises NotFound for an unknown unit and KeyTaken for a key that stands already.
    """
    grown = _tails_of(connection, entries, unit_ids, tails)
    rows = _chained_rows(entries, stamp, unit_ids, grown)
    try:
        with connection.begin_nested():
            insert_rows(connection, table, _GIVEN + STAMPED, rows)
            set_heads(connection, grown)
    except driver_errors(connection.engine) as error:
        clash = _clash(connection, entries) if _is_integrity(connection, error) else None
        if clash is None:
            raise
        raise clash from None
    tails.update(grown)


def find_entries(connection: sa.Connection, keys: Sequence[str]) -> dict[str, StoredEntry]:
    """The entries that stand under these keys; keys unknown are left out."""
    query = _query().join(unit, unit.c.id == table.c.unit_id)
    found: dict[str, StoredEntry] = {}
    for chunk in chunks(keys):
        for row in connection.execute(query.where(table.c.key.in_(chunk))).all():
            line = _stored(*row)
            found[line.entry.key] = line
    return found


def read_entries(
    connection: sa.Connection,
    unit_ids: Sequence[int] | None,
    task: str | None,
    stored_after: dt.datetime | None = None,
) -> Iterator[StoredEntry]:
    """Entries of some units (None: all), of one task or all, by unit and then in chain order."""
    query = _query().join(unit, unit.c.id == table.c.unit_id)
    query = query.order_by(table.c.unit_id, table.c.seq)
    if task is not None:
        query = query.where(table.c.task == task)
    if stored_after is not None:
        query = query.where(table.c.stored_at > stored_after)
    if unit_ids is None:
        yield from _stream(connection, query)
        return
    for chunk in chunks(sorted(set(unit_ids))):
        yield from _stream(connection, query.where(table.c.unit_id.in_(chunk)))


def _query() -> sa.Select[Any]:
    return sa.select(unit.c.property_number, *(table.c[name] for name in _READ))


def _stream(connection: sa.Connection, query: sa.Select[Any]) -> Iterator[StoredEntry]:
    with connection.execute(query, execution_options={"yield_per": _ROWS_AT_ONCE}) as rows:
        for row in rows:
            yield _stored(*row)


def _stored(
    property_number: str,
    key: str,
    task: str,
    on: dt.date,
    to_on: dt.date | None,
    mark: Mark | None,
    initials: str,
    note: str,
    reading: str,
    recorded_at: dt.datetime | None,
    strikes: str,
    why: str,
    seq: int,
    stored_at: dt.datetime,
    by: str,
    source: str,
) -> StoredEntry:
    given = Entry(
        key=key,
        property_number=property_number,
        task=task,
        on=on,
        to_on=to_on,
        mark=mark,
        initials=initials,
        note=note,
        reading=reading,
        recorded_at=recorded_at,
        strikes=strikes,
        why=why,
    )
    return StoredEntry(entry=given, seq=seq, stored_at=stored_at, by=by, source=source)


def _tails_of(
    connection: sa.Connection,
    entries: Sequence[Entry],
    unit_ids: Mapping[str, int],
    tails: Mapping[str, Tail],
) -> dict[str, Tail]:
    """The ends of the chains that these entries go to."""
    numbers = {entry.property_number for entry in entries}
    unknown = sorted(numbers - unit_ids.keys())
    if unknown:
        raise NotFound("unit", unknown[0], "load it before its entries")
    chains = {entry_chain(number) for number in numbers}
    found = {chain: tails.get(chain, (0, START)) for chain in chains}
    return found | tails_of(connection, sorted(chains - tails.keys()))


def _chained_rows(
    entries: Sequence[Entry], stamp: Stamp, unit_ids: Mapping[str, int], tails: dict[str, Tail]
) -> list[tuple[Cell, ...]]:
    """The rows of entries, each linked to the one before it; moves the tails on."""
    stored_at = instant_text(stamp.at)
    rows: list[tuple[Cell, ...]] = []
    for entry in entries:
        unit_id, chain = unit_ids[entry.property_number], entry_chain(entry.property_number)
        seq, previous = tails[chain]
        seq += 1
        digest = link(previous, entry_content(entry, seq, stamp))
        tails[chain] = (seq, digest)
        end = (stored_at, stamp.by, stamp.source, previous, digest)
        rows.append((unit_id, seq, *_cells(entry), *end))
    return rows


def _cells(entry: Entry) -> tuple[Cell, ...]:
    return (
        entry.key,
        entry.task,
        entry.on.isoformat(),
        None if entry.to_on is None else entry.to_on.isoformat(),
        None if entry.mark is None else entry.mark.value,
        entry.initials,
        entry.note,
        entry.reading,
        None if entry.recorded_at is None else instant_text(entry.recorded_at),
        entry.strikes,
        entry.why,
    )


def _is_integrity(connection: sa.Connection, error: Exception) -> bool:
    cause = error.orig if isinstance(error, DBAPIError) else error
    return isinstance(cause, connection.dialect.loaded_dbapi.IntegrityError)


def _clash(connection: sa.Connection, entries: Sequence[Entry]) -> KeyTaken | None:
    """Find the first entry whose key stands already, in the store or earlier among these."""
    stored = find_entries(connection, [entry.key for entry in entries])
    standing = {key: line.entry for key, line in stored.items()}
    for entry in entries:
        other = standing.setdefault(entry.key, entry)
        if other is not entry:
            return KeyTaken(entry.key, _differences(other, entry))
    return None


def _differences(one: Entry, other: Entry) -> str:
    names = [field.name for field in fields(Entry)]
    differ = [name for name in names if getattr(one, name) != getattr(other, name)]
    return ", ".join(differ) or "the instant it was stored"
