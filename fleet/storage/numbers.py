"""Under which number is a renumbered unit stored, and under which is it shown?

Inside the database a unit keeps the number it was entered under, its *identity*: keys, chains,
hashes and change lines stay as they are. What is read is shown under the number the unit bears now,
also where it speaks of the past, and what is written is turned back.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Any

import sqlalchemy as sa

from fleet.domain.evidence import Renumbering
from fleet.domain.numbers import (
    present_numbers,
    renumbered,
    renumbered_keys,
    renumbered_register,
)
from fleet.domain.records import Entry, StoredEntry, Unit
from fleet.domain.register import Change, Register
from fleet.storage.schema import renumbering as table
from fleet.storage.schema import unit

__all__ = ["Numbers", "read_numbers"]


@dataclass(frozen=True, slots=True)
class Numbers:
    """The numbers of renumbered units; for all others nothing changes."""

    renumberings: Mapping[tuple[str, ...], Renumbering]
    present: Mapping[str, str]
    """Every number such a unit ever bore: the number it bears now."""
    identity: Mapping[str, str]
    """Every number such a unit ever bore: the number it is stored under."""

    def shown_entry(self, line: StoredEntry) -> StoredEntry:
        """A stored entry as people see it; its key stays as it was written."""
        entry = renumbered(line.entry, self.present)
        return line if entry is line.entry else replace(line, entry=entry)

    def stored_entry(self, entry: Entry) -> Entry:
        """An entry as it is stored."""
        return renumbered(entry, self.identity)

    def shown_change(self, change: Change) -> Change:
        """A change as people see it."""
        return _changed(change, self.present)

    def stored_change(self, change: Change) -> Change:
        """A change as it is stored."""
        return _changed(change, self.identity)

    def shown_register(self, register: Register) -> Register:
        """A register as people see it, with all renumberings, whatever instant it is known at."""
        if not self.present:
            return register
        shown = renumbered_register(register, self.present)
        return replace(shown, renumberings=dict(self.renumberings))

    def shown_keys(
        self, kind: type[Any], keys: frozenset[tuple[str, ...]]
    ) -> frozenset[tuple[str, ...]]:
        """Keys of the records of a class as people see them."""
        return renumbered_keys(kind, keys, self.present) if self.present else keys

    def unit_ids(self, ids: Mapping[str, int]) -> dict[str, int]:
        """Numbers of all units, by every property number; a unit's present one comes last.

        ids: by the numbers that units are stored under.
        """
        now = {self.present.get(number, number): unit_id for number, unit_id in ids.items()}
        former = {n: ids[own] for n, own in self.identity.items() if own in ids and n not in now}
        return former | now


def _changed(change: Change, numbers: Mapping[str, str]) -> Change:
    if not numbers:
        return change
    old, new = renumbered(change.old, numbers), renumbered(change.new, numbers)
    return replace(change, old=old, new=new)


def read_numbers(connection: sa.Connection, changes: Sequence[Change] = ()) -> Numbers:
    """The numbers of renumbered units, as they will be after some changes."""
    names = [field.name for field in fields(Renumbering)]
    rows = connection.execute(sa.select(*(table.c[name] for name in names)))
    found = [Renumbering(**dict(zip(names, row, strict=True))) for row in rows]
    renumberings = {one.key: one for one in found}
    for change in changes:
        if isinstance(change.new, Renumbering):
            renumberings[change.new.key] = change.new
    present = present_numbers(renumberings.values())
    if not present:
        return Numbers({}, {}, {})
    query = sa.select(unit.c.property_number).where(unit.c.property_number.in_(sorted(present)))
    entered = connection.execute(query).scalars().all()
    new = [change.new.property_number for change in changes if isinstance(change.new, Unit)]
    return Numbers(renumberings, present, _identities(present, [*entered, *new]))


def _identities(present: Mapping[str, str], entered: Iterable[str]) -> dict[str, str]:
    """The number each is stored under; entered: the units' own, those in the database first."""
    own: dict[str, str] = {}
    for number in entered:
        if number in present:
            own.setdefault(present[number], number)
    return {number: own.get(now, now) for number, now in present.items()}
