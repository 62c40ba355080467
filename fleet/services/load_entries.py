"""Which entries of the files are new, which stand already, and which cannot be?

The record itself is asked whether a key is known: entries of earlier chunks stand in it by then.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from zoneinfo import ZoneInfo

from fleet.domain.records import REMOVED, Entry, Site, Unit, blanked
from fleet.services.load_checks import nearest
from fleet.services.load_merge import Merged
from fleet.services.load_numbers import rows_of_now
from fleet.services.load_ports import MAX_FAULTS, EntryRows, Faults, TableCount
from fleet.services.load_readings import ReadingWatch
from fleet.services.ports import Record, Stamp
from schedules.rules import Basis, RuleBook

__all__ = ["EntryLoad"]

_TaskBases = Mapping[str, frozenset[Basis]]


class EntryLoad:
    """Takes chunks of entries, appends the new ones and counts.

    With `is_writing` false (the register has faults, its units are not in the store) nothing is
    appended, and a struck key that is not known is let pass: it may stand in an earlier chunk.
    """

    def __init__(
        self,
        record: Record,
        merged: Merged,
        book: RuleBook | None,
        *,
        is_writing: bool,
        stamp: Stamp,
    ) -> None:
        self._record, self._merged, self._book = record, merged, book
        self._is_writing, self._stamp = is_writing, stamp
        self._tasks: dict[tuple[str, str], _TaskBases] = {}
        self.readings = ReadingWatch(merged.now(Unit), book)
        """What follows from the readings of the new entries."""
        self.touched: set[str] = set()
        """Property numbers of the units that got an entry."""
        self._new = self._unchanged = 0
        self._ahead: list[str] = []
        self._ahead_untold = 0
        self._today: dict[str, dt.date] = {}
        self._removed: set[str] = set()
        """Keys of entries whose content was removed after its retention; the files may have it."""
        self._has_rows = False

    @property
    def count(self) -> dict[str, TableCount]:
        """New and unchanged entries, under 'entries'; empty where the files hold none."""
        if not self._has_rows:
            return {}
        return {"entries": TableCount(new=self._new, unchanged=self._unchanged)}

    @property
    def remarks(self) -> list[str]:
        """What was accepted though it may be a slip; at most 1,000 rows are named."""
        more = f"and {self._ahead_untold} more spans that run on after today"
        return [*self._ahead, more] if self._ahead_untold else self._ahead

    def take(self, rows: EntryRows, faults: Faults) -> None:
        """Check a chunk against register, book and record, and append what is new in it."""
        self._has_rows = True
        rows = rows_of_now(rows, self._merged.numbers, self._record)
        fresh = self._fresh(rows, self._possible(rows, faults), faults)
        if self._is_writing and fresh:
            self._record.append(fresh, self._stamp)
        self._new += len(fresh)
        self.touched.update(entry.property_number for entry in fresh)
        if self._is_writing:
            self.readings.take(fresh)

    def _possible(self, rows: EntryRows, faults: Faults) -> list[int]:
        """Positions of the entries whose unit and task are known."""
        units = self._merged.now(Unit)
        possible = []
        for at, entry in enumerate(rows.entries):
            unit = units.get((entry.property_number,))
            bases = None if unit is None else self._bases(unit).get(entry.task)
            if bases is None:
                self._tell_unknown(rows, at, unit, faults)
            elif entry.to_on is not None and Basis.CELL not in bases:
                problem = f"'{entry.task}' has no cells to mark from one day to another"
                mend = "leave 'to' empty; write a row for each day it was done"
                faults.add(rows.file, rows.numbers[at], "to", problem, mend)
            else:
                possible.append(at)
                if entry.to_on is not None and entry.mark is not None and unit is not None:
                    self._look_ahead(rows, at, entry.to_on, unit)
        return possible

    def _look_ahead(self, rows: EntryRows, at: int, to_on: dt.date, unit: Unit) -> None:
        """Remark a span that runs on after the day of the load at the unit's site."""
        days = (to_on - self._today_at(unit.site)).days
        if days <= 0:
            return
        if len(self._ahead) == MAX_FAULTS:
            self._ahead_untold += 1
            return
        so_long = "1 day" if days == 1 else f"{days} days"
        place = f"{rows.file} row {rows.numbers[at]}"
        self._ahead.append(f"{place}: the span runs on to {to_on}, {so_long} after today")

    def _today_at(self, name: str) -> dt.date:
        """The civil date of the load at a site; in UTC where the site's row is a fault."""
        if name not in self._today:
            site = self._merged.now(Site).get((name,))
            zone = dt.UTC if site is None else ZoneInfo(site.time_zone)
            self._today[name] = self._stamp.at.astimezone(zone).date()
        return self._today[name]

    def _bases(self, unit: Unit) -> _TaskBases:
        """The tasks of a unit in any version, with their bases; none for an unknown kind."""
        kind_and_model = unit.kind, unit.model
        if kind_and_model not in self._tasks:
            kind = None if self._book is None else self._book.kinds.get(unit.kind)
            versions = {} if kind is None else kind.tasks(unit.model)
            self._tasks[kind_and_model] = {
                task: frozenset(rule.basis for rule in rules) for task, rules in versions.items()
            }
        return self._tasks[kind_and_model]

    def _tell_unknown(self, rows: EntryRows, at: int, unit: Unit | None, faults: Faults) -> None:
        entry, number = rows.entries[at], rows.numbers[at]
        if unit is None:
            if not self._merged.is_spoiled(Unit, entry.property_number):
                problem = f"no unit '{entry.property_number}'"
                mend = "add it to units, or correct the number"
                faults.add(rows.file, number, "property_number", problem, mend)
        elif tasks := self._bases(unit):
            problem = f"no task '{entry.task}' for unit {entry.property_number}"
            mend = nearest(entry.task, tasks, f"its kind has: {', '.join(tasks)}")
            faults.add(rows.file, number, "task", problem, mend)

    def _fresh(self, rows: EntryRows, possible: Sequence[int], faults: Faults) -> list[Entry]:
        """The entries that are new, in their order; the others stand already or are refused."""
        known = self._known(rows.entries[at].key for at in possible)
        struck = self._known(
            rows.entries[at].strikes for at in possible if rows.entries[at].strikes
        )
        fresh: dict[str, Entry] = {}
        for at in possible:
            entry = rows.entries[at]
            old = fresh.get(entry.key) or known.get(entry.key)
            if old in (entry, blanked(entry) if entry.key in self._removed else entry):
                self._unchanged += 1
            elif old is not None:
                problem = f"key '{entry.key}' already stands for another entry"
                problem += f" ({_difference(old, entry)})"
                mend = "an entry is never changed: strike it and write a new one"
                faults.add(rows.file, rows.numbers[at], "key", problem, mend)
            elif not entry.strikes or self._may_strike(
                rows, at, fresh.get(entry.strikes) or struck.get(entry.strikes), faults
            ):
                fresh[entry.key] = entry
        return list(fresh.values())

    def _known(self, keys: Iterator[str]) -> dict[str, Entry]:
        wanted = list(dict.fromkeys(keys))
        if not wanted:
            return {}
        found = self._record.stored(wanted)
        self._removed |= {key for key, stored in found.items() if stored.source == REMOVED}
        return {key: stored.entry for key, stored in found.items()}

    def _may_strike(self, rows: EntryRows, at: int, struck: Entry | None, faults: Faults) -> bool:
        entry, number = rows.entries[at], rows.numbers[at]
        if struck is None:
            if self._is_writing:
                problem = f"no earlier entry has the key '{entry.strikes}'"
                mend = "write the key of an entry that stands before this one"
                faults.add(rows.file, number, "strikes", problem, mend)
            return not self._is_writing
        if struck.property_number != entry.property_number:
            problem = f"'{entry.strikes}' is an entry of unit {struck.property_number}"
            mend = f"strike an entry of unit {entry.property_number}, or correct the number"
            faults.add(rows.file, number, "strikes", problem, mend)
            return False
        return True


def _difference(old: Entry, new: Entry) -> str:
    """Say in which columns two entries differ."""
    names = [field.name for field in dataclasses.fields(Entry)]
    unlike = [name for name in names if getattr(old, name) != getattr(new, name)]
    listed = ", ".join("to" if name == "to_on" else name for name in unlike)
    return f"{listed} {'differs' if len(unlike) == 1 else 'differ'}"
