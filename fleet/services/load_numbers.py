"""Which unit does a row of a file mean where units have been renumbered?

Rows under a former number mean the unit, as those under its present one do.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace

from fleet.domain.evidence import Renumbering
from fleet.domain.numbers import renumbered
from fleet.domain.records import Entry, Unit
from fleet.services.load_merge import Merged
from fleet.services.load_ports import EntryRows, Faults
from fleet.services.ports import Record

__all__ = ["check_renumberings", "rows_of_now"]


def check_renumberings(merged: Merged, faults: Faults) -> None:
    """A number is given up by a unit, for one that no other unit bears or has borne."""
    units, rows = merged.now(Unit), merged.rows(Renumbering)
    borne = _borne(merged)
    for row in rows.values():
        former, number = row.record.former, row.record.property_number
        now = merged.numbers[number]
        if (now,) not in units:
            if not any(merged.is_spoiled(Unit, name) for name in (former, number, now)):
                problem = f"there is no unit '{former}', and none '{number}'"
                mend = "add the unit to units under either number, or correct both"
                faults.add(row.file, row.row, "former", problem, mend)
        elif len(borne[now]) > 1:
            problem = f"units {' and '.join(sorted(borne[now]))} would be one"
            mend = "write a number that no other unit bears or has borne"
            faults.add(row.file, row.row, "property_number", problem, mend)


def _borne(merged: Merged) -> Mapping[str, set[str]]:
    """The numbers of the units that stand in the store, by the numbers they would bear."""
    found: dict[str, set[str]] = defaultdict(set)
    for number in merged.numbers_before:
        found[merged.numbers.get(number, number)].add(number)
    return found


def rows_of_now(rows: EntryRows, numbers: Mapping[str, str], record: Record) -> EntryRows:
    """Entries under the numbers their units bear now.

    One that a file gave no key of its own is the entry that stands under another of the unit's
    numbers, where all else is the same.
    """
    if not numbers or not any(entry.property_number in numbers for entry in rows.entries):
        return rows
    borne: dict[str, list[str]] = defaultdict(list)
    for number, now in numbers.items():
        borne[now].append(number)
    keys = {
        at: _other_keys(entry, borne[numbers[entry.property_number]])
        for at, entry in enumerate(rows.entries)
        if entry.property_number in numbers
    }
    standing = record.stored([key for others in keys.values() for key in others])
    entries = list(rows.entries)
    for at, others in keys.items():
        entries[at] = entry = renumbered(entries[at], numbers)
        for key in others:
            if key in standing and standing[key].entry == replace(entry, key=key):
                entries[at] = standing[key].entry
    return replace(rows, entries=entries)


def _other_keys(entry: Entry, numbers: list[str]) -> list[str]:
    """The keys it would have got under its unit's other numbers; none where it has its own."""
    end = f"/{entry.task}/{entry.on}/"
    start = entry.property_number + end
    if not entry.key.startswith(start):
        return []
    count = entry.key.removeprefix(start)
    return [f"{number}{end}{count}" for number in numbers if number != entry.property_number]
