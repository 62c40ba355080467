"""What does the audit find, literally: entry by entry and day by day (design 4.7)?

Stands on the literal engine of `tests/reference` and shares no code with the program. A finding is
(finding, property number, tasks, day, keys); gaps are answered by the reference itself. The
reference's entries have no initials.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from zoneinfo import ZoneInfo

from tests.reference.calendars import RefCalendar
from tests.reference.cells import RefCell, cell_of_day, expected_cells
from tests.reference.dates import ONE_DAY, days_between
from tests.reference.records import RefEntry, RefFleet, RefRule
from tests.reference.units import UnitOfFleet

__all__ = ["Finding", "literal_findings"]

Finding = tuple[str, str, str, dt.date, tuple[str, ...]]
_MINUTE = dt.timedelta(minutes=1)


def literal_findings(
    fleet: RefFleet,
    on: dt.date,
    known_at: dt.datetime | None = None,
    window: tuple[dt.date, dt.date] = (dt.date.min, dt.date.max),
) -> list[Finding]:
    """All findings but gaps, of the days of a window, sorted.

    Of days after `on` only what was recorded ahead of them.
    """
    calendars = {site.site: RefCalendar(fleet, site) for site in fleet.sites}
    found: list[Finding] = []
    for unit in fleet.units:
        of = UnitOfFleet(fleet, unit, calendars, known_at)
        found += _UnitAudit(fleet, of, on, known_at, window).findings()
    return sorted(row for row in found if window[0] <= row[3] <= window[1])


class _UnitAudit:
    def __init__(
        self,
        fleet: RefFleet,
        of: UnitOfFleet,
        on: dt.date,
        known_at: dt.datetime | None,
        window: tuple[dt.date, dt.date],
    ) -> None:
        self.fleet, self.of, self.on, self.window = fleet, of, on, window
        number = of.unit.property_number
        self.known = [
            entry
            for entry in fleet.entries
            if entry.property_number == number
            if known_at is None or self.known_at(entry) <= known_at
        ]
        struck = {entry.strikes for entry in self.known if entry.strikes}
        self.standing = [e for e in self.known if e.mark and e.key not in struck]
        self.live = [e for e in self.standing if e.on <= on]

    def known_at(self, entry: RefEntry) -> dt.datetime:
        return entry.recorded_at or self.fleet.loaded_at

    def known_on(self, entry: RefEntry) -> dt.date:
        zone = ZoneInfo(self.of.calendar_on(entry.on).site.time_zone)
        return self.known_at(entry).astimezone(zone).date()

    def is_judged(self, entry: RefEntry) -> bool:
        return entry.recorded_at is not None and entry.mark != "filled"

    def spoken(self, entry: RefEntry, last_on: dt.date | None = None) -> list[dt.date]:
        if self.is_one(entry):
            return [entry.on]
        assert entry.to_on is not None
        days = days_between(entry.on, min(entry.to_on, last_on or self.on))
        return [day for day in days if self.of.is_expected(day)]

    def asked(self, entry: RefEntry, last_on: dt.date | None = None) -> list[dt.date]:
        return [day for day in self.spoken(entry, last_on) if day >= self.window[0]]

    def is_one(self, entry: RefEntry) -> bool:
        return entry.to_on is None or entry.to_on == entry.on

    def rule(self, task: str, day: dt.date) -> RefRule:
        speaking = self.of.version_on(task, day)
        if speaking is not None:
            return speaking
        own = [rule for rule in self.of.rules if rule.task == task]
        return max(own, key=lambda rule: (bool(rule.models), rule.from_on or dt.date.min))

    def cell(self, task: str, day: dt.date) -> RefCell | None:
        cells = expected_cells(self.of, task, day)
        rule = self.of.version_on(task, day)
        if rule is not None and rule.each is not None:
            return cell_of_day(self.of, rule, cells, day)
        holding = [cell for cell in cells if cell.period_from <= day <= cell.period_to]
        return max(holding, key=lambda cell: cell.period_from) if holding else None

    def findings(self) -> Iterator[Finding]:
        for name, found in (
            ("late", self.late()),
            ("batch", self.batches()),
            ("conflict", self.both()),
            ("conflict", self.off()),
            ("impossible", self.impossible()),
            ("corrected", self.corrected()),
            ("no initials", ((e.on, [e]) for e in self.live if self.is_judged(e))),
        ):
            for day, entries in found:
                tasks = "; ".join(dict.fromkeys(entry.task for entry in entries))
                keys = tuple(entry.key for entry in entries)
                yield name, self.of.unit.property_number, tasks, day, keys

    def late(self) -> Iterator[tuple[dt.date, list[RefEntry]]]:
        for entry in self.live:
            days = [day for day in self.asked(entry) if self.is_late(entry, day)]
            if self.is_judged(entry) and days:
                yield days[0], [entry]

    def is_late(self, entry: RefEntry, day: dt.date) -> bool:
        cell = self.cell(entry.task, day)
        if cell is None:
            return False
        if entry.mark == "explained":
            return True
        next_open = cell.closes + ONE_DAY
        for _ in range(366):
            if self.of.calendar_on(cell.closes).is_open(next_open):
                return self.known_on(entry) > next_open
            next_open += ONE_DAY
        return False

    def batches(self) -> Iterator[tuple[dt.date, list[RefEntry]]]:
        rows = [
            (self.known_at(entry), entry, day, (entry.task, cell.period_from))
            for entry in self.live
            if self.is_judged(entry)
            for day in self.spoken(entry)
            if (cell := self.cell(entry.task, day)) is not None
        ]
        groups: list[list[int]] = []
        for start in sorted({row[0] for row in rows}):
            within = [n for n, row in enumerate(rows) if start <= row[0] <= start + _MINUTE]
            if min(len({rows[n][2] for n in within}), len({rows[n][3] for n in within})) >= 5:
                if groups and set(groups[-1]) & set(within):
                    groups[-1] = sorted({*groups[-1], *within})
                else:
                    groups.append(within)
        for group in groups:
            keys = {rows[n][1].key for n in group}
            if days := [rows[n][2] for n in group if rows[n][2] >= self.window[0]]:
                yield min(days), [e for e in self.live if e.key in keys]

    def both(self) -> Iterator[tuple[dt.date, list[RefEntry]]]:
        said: dict[tuple[str, dt.date], list[RefEntry]] = {}
        for entry in self.live:
            for day in self.spoken(entry):
                if entry.mark in ("done", "unused") and self.rule(entry.task, day).each:
                    said.setdefault((entry.task, day), []).append(entry)
        for (_, day), entries in said.items():
            if len({entry.mark for entry in entries}) == 2:
                yield day, entries

    def off(self) -> Iterator[tuple[dt.date, list[RefEntry]]]:
        record_from = self.of.unit.record_from_on or self.of.start_on
        for entry in self.live:
            day = entry.on
            if day < self.of.start_on or self.of.is_retired(day):
                continue
            is_out = self.of.outage_on(day) is not None
            if self.rule(entry.task, day).each is None:
                if is_out and entry.mark == "done":
                    yield day, [entry]
                continue
            is_closed = not self.of.calendar_on(day).is_open(day)
            if self.is_one(entry) and day >= record_from and (is_out or is_closed):
                yield day, [entry]

    def impossible(self) -> Iterator[tuple[dt.date, list[RefEntry]]]:
        for entry in self.standing:
            is_cell = self.rule(entry.task, entry.on).each is not None
            is_before = (entry.to_on or entry.on) < self.of.start_on
            is_off = is_before and (is_cell or entry.mark != "done")
            if entry.on <= self.on and (is_off or self.of.is_retired(entry.on)):
                yield entry.on, [entry]
                continue
            days = self.asked(entry, self.window[1])
            ahead = [day for day in days if day > self.known_on(entry)]
            if ahead:
                yield ahead[0], [entry]

    def corrected(self) -> Iterator[tuple[dt.date, list[RefEntry]]]:
        for entry in self.known:
            for struck in self.known:
                if entry.strikes == struck.key and struck.on <= self.on:
                    yield struck.on, [struck, entry]
