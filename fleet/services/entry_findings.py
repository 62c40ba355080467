"""What does the audit find in the entries themselves: all findings but gaps (design 4.7)?

Entries are read unit by unit and judged many units at a time.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import groupby
from zoneinfo import ZoneInfo

import numpy as np

from fleet.domain.answers import FindingRow
from fleet.domain.records import REMOVED, Mark, StoredEntry
from fleet.services.columns import FleetColumns
from fleet.services.finding_words import corrected_words, doubt_words, initials_words
from schedules.audit import (
    AuditMarks,
    Charts,
    Doubt,
    Reason,
    batches,
    conflicts,
    impossible,
    late,
    stood,
)
from schedules.calendars import CalendarIndex
from schedules.dates import Days, date_of, day_of
from schedules.units import Places

__all__ = ["ENTRY_FINDINGS", "entry_findings"]

_ENTRIES_AT_ONCE = 20_000
_AHEAD_DAYS = 2 * 366
"""Spans that run ahead are held against the calendars up to two years on (design 4.2)."""
_PERIOD_DAYS = 380
"""A period that holds a day ends, and the next open day is looked for, so many days on."""
_FROM_PAPER = ("file", "paper")
"""The doors of what was written by hand first."""
_EPOCH = dt.datetime(1970, 1, 1, tzinfo=dt.UTC)
_MICROSECOND = dt.timedelta(microseconds=1)

ENTRY_FINDINGS = ("late", "batch", "conflict", "impossible", "no initials", "corrected")
"""The findings that entries are read for."""

Duties = Mapping[tuple[str, str], tuple[int, int]]
"""Property number and task to the place of the unit and the number of the task's versions."""


@dataclass(frozen=True, slots=True)
class _Found:
    """One finding before it is laid beside its cell."""

    finding: str
    stored: Sequence[StoredEntry]
    """The entries it speaks of, the first one of the unit and task."""
    day: int
    settle: str
    has_cell: bool = True


def entry_findings(
    fleet: FleetColumns,
    stored: Iterable[StoredEntry],
    span: tuple[dt.date, dt.date],
    on: dt.date,
    known_at: dt.datetime | None,
    wanted: Sequence[str],
) -> Iterator[FindingRow]:
    """The wanted findings that speak of a day of the span (both ends included), as on a day.

    Of days after `on` only what was recorded ahead of them is told. stored: entries by unit and in
    chain order; those not known at `known_at`, or of units that the fleet does not have, are left
    out.
    """
    duties = _duties(fleet)
    days = range(day_of(span[0]), day_of(span[1]) + 1)
    reach = max(day_of(on), min(days.stop - 1, day_of(on) + _AHEAD_DAYS))
    index, first_day, last_day = _index(fleet, day_of(on), reach)
    for block in _blocks(stored, {unit.property_number for unit in fleet.units}, known_at):
        audit = _Audit(fleet, duties, index, (first_day, last_day), block, day_of(on))
        yield from audit.rows([one for name in wanted for one in audit.found(name, days)])


def _duties(fleet: FleetColumns) -> Duties:
    found: dict[tuple[str, str], tuple[int, int]] = {}
    for number, task in enumerate(fleet.tasks):
        for place in fleet.duties.unit[fleet.duties.rows(number)].tolist():
            found[fleet.units[place].property_number, task] = place, number
    return found


def _index(fleet: FleetColumns, on: int, reach: int) -> tuple[CalendarIndex, int, int]:
    """Calendars of all days that can be expected up to the period of the day `reach`."""
    columns = fleet.columns
    begins = np.maximum(columns.in_service, columns.record_from)
    first_day, last_day = min(on, int(begins.min(initial=on))), reach + _PERIOD_DAYS
    return fleet.index(date_of(first_day), date_of(last_day)), first_day, last_day


def _blocks(
    stored: Iterable[StoredEntry], property_numbers: set[str], known_at: dt.datetime | None
) -> Iterator[list[StoredEntry]]:
    """The known entries of whole units, some units at a time."""
    block: list[StoredEntry] = []
    for property_number, own in groupby(stored, key=lambda line: line.entry.property_number):
        if property_number in property_numbers:
            block += [line for line in own if known_at is None or line.known_at <= known_at]
        if len(block) >= _ENTRIES_AT_ONCE:
            yield block
            block = []
    if block:
        yield block


@lru_cache(maxsize=100_000)
def _local_on(instant: dt.datetime, time_zone: str) -> dt.date:
    return instant.astimezone(ZoneInfo(time_zone)).date()


def _is_judged(line: StoredEntry) -> bool:
    """Say whether bench or program recorded it, or a file that gives the instant (design 4.7).

    Of what was removed after its retention nobody can be asked any more.
    """
    if line.source == REMOVED:
        return False
    is_told = line.source not in _FROM_PAPER or line.entry.recorded_at is not None
    return is_told and line.entry.mark is not Mark.FILLED


class _Audit:
    """The audit of one block of entries."""

    def __init__(
        self,
        fleet: FleetColumns,
        duties: Duties,
        index: CalendarIndex,
        days: tuple[int, int],
        block: Sequence[StoredEntry],
        on: int,
    ) -> None:
        self._fleet, self._duties, self._block, self._on = fleet, duties, block, on
        self._place = {unit.property_number: n for n, unit in enumerate(fleet.units)}
        chosen = sorted({self._place[line.entry.property_number] for line in block})
        self._charts = Charts(
            fleet.duties.versions, fleet.columns, np.array(chosen, dtype=np.int64), index, *days
        )
        self._closed: dict[tuple[int, dt.date], str] = {}
        struck = {line.entry.strikes for line in block if line.entry.strikes}
        self._live = [
            line for line in block if line.entry.mark is not None and line.entry.key not in struck
        ]

    def found(self, finding: str, days: range) -> Iterator[_Found]:
        """The findings of one name that speak of one of the days, not after the day asked for
        unless they were recorded ahead.
        """
        past = range(days.start, min(days.stop, self._on + 1))
        if finding == "corrected":
            yield from self._corrected(past)
        elif finding == "no initials":
            for line in self._live:
                is_bare = not line.entry.initials.strip() and _is_judged(line)
                if is_bare and (day := day_of(line.entry.on)) in past:
                    yield _Found(finding, [line], day, initials_words(line))
        else:
            for doubt in self._doubts(finding, days):
                if doubt.day in (days if doubt.reason is Reason.FUTURE else past):
                    yield self._doubted(finding, doubt)

    def _doubts(self, finding: str, days: range) -> Iterator[Doubt]:
        charts, marks, on, since = self._charts, self._marks, self._on, days.start
        if finding == "impossible":
            return impossible(charts, marks, on, since, days.stop - 1)
        if finding == "conflict":
            return conflicts(charts, marks, on)
        return (late if finding == "late" else batches)(charts, marks, on, since)

    def _doubted(self, finding: str, doubt: Doubt) -> _Found:
        stored = [self._live[place] for place in doubt.marks]
        known_on = date_of(int(self._marks.known_days[doubt.marks[0]]))
        closed = self._why_closed(doubt) if doubt.reason is Reason.CLOSED else ""
        spoken = self._spoken_days(doubt) if doubt.reason is Reason.BATCH else 1
        settle = doubt_words(doubt.reason, stored, known_on, closed, spoken)
        is_charted = doubt.day <= self._charts.last_day - _PERIOD_DAYS
        has_cell = is_charted and doubt.reason is not Reason.BATCH
        return _Found(finding, stored, doubt.day, settle, has_cell)

    def _spoken_days(self, doubt: Doubt) -> int:
        """How many days the marks of a doubt speak of, not after the day asked for."""
        which = np.zeros(len(self._live), dtype=np.bool_)
        which[list(doubt.marks)] = True
        return len(self._charts.spoken(self._marks, which, self._on)[0])

    def _corrected(self, days: range) -> Iterator[_Found]:
        standing = {line.entry.key: line for line in self._block}
        for line in self._block:
            struck = standing.get(line.entry.strikes) if line.entry.strikes else None
            if struck is None or (day := day_of(struck.entry.on)) not in days:
                continue
            zone = self._fleet.sites[self._site(struck.entry.property_number, day)].time_zone
            settle = corrected_words(line, _local_on(line.known_at, zone))
            yield _Found("corrected", [struck, line], day, settle)

    @cached_property
    def _marks(self) -> AuditMarks:
        entries = [line.entry for line in self._live]
        unit, task = self._places(self._live)
        from_days = _days([entry.on for entry in entries])
        sites = stood(self._fleet.columns, unit, from_days).tolist()
        zones = [site.time_zone for site in self._fleet.sites]
        known_on = [
            _local_on(line.known_at, zones[site])
            for line, site in zip(self._live, sites, strict=True)
        ]
        known_at = [(line.known_at - _EPOCH) // _MICROSECOND for line in self._live]
        marks = np.array([entry.mark.value if entry.mark else "" for entry in entries], dtype="U9")
        return AuditMarks(
            unit=unit,
            task=task,
            from_days=from_days,
            to_days=_days([entry.to_on or entry.on for entry in entries]),
            known_at=np.array(known_at, dtype=np.int64),
            known_days=_days(known_on),
            is_done=marks == Mark.DONE.value,
            is_unused=marks == Mark.UNUSED.value,
            is_explained=marks == Mark.EXPLAINED.value,
            is_judged=np.array([_is_judged(line) for line in self._live], dtype=np.bool_),
        )

    def _places(self, lines: Sequence[StoredEntry]) -> tuple[Places, Places]:
        """The unit and the number of the task of each entry, -1 for a task the unit has not."""
        numbers = [line.entry.property_number for line in lines]
        unit = np.array([self._place[number] for number in numbers], dtype=np.int64)
        nothing = (0, -1)
        tasks = [
            self._duties.get((number, line.entry.task), nothing)[1]
            for number, line in zip(numbers, lines, strict=True)
        ]
        return unit, np.array(tasks, dtype=np.int64)

    def _site(self, property_number: str, day: int) -> int:
        unit = np.array([self._place[property_number]], dtype=np.int64)
        return int(stood(self._fleet.columns, unit, np.array([day], dtype=np.int32))[0])

    def _why_closed(self, doubt: Doubt) -> str:
        number = self._live[doubt.marks[0]].entry.property_number
        site, on = self._site(number, doubt.day), date_of(doubt.day)
        if (site, on) not in self._closed:
            closed = self._fleet.calendar(self._fleet.sites[site], on, on).why_closed(on)
            self._closed[site, on] = closed.reason if closed is not None else "closed"
        return self._closed[site, on]

    def rows(self, found: Sequence[_Found]) -> Iterator[FindingRow]:
        """Findings as rows, each beside the cell of its day."""
        unit, task = self._places([one.stored[0] for one in found])
        days = np.array([one.day for one in found], dtype=np.int32)
        cells = self._charts.cells(unit, task, days)
        sites = stood(self._fleet.columns, unit, days).tolist()
        spans = zip(
            cells.from_days.tolist(),
            cells.to_days.tolist(),
            cells.opens.tolist(),
            cells.closes.tolist(),
            strict=True,
        )
        shown = (cells.is_expected & np.array([one.has_cell for one in found], dtype=bool)).tolist()
        for one, place, number, span, is_shown in zip(
            found, unit.tolist(), sites, spans, shown, strict=True
        ):
            site, owner = self._fleet.sites[number], self._fleet.units[place]
            start, end, opens, closes = (date_of(day) if is_shown else None for day in span)
            yield FindingRow(
                site.site,
                site.county,
                site.region,
                owner.property_number,
                owner.kind,
                _joined(line.entry.task for line in one.stored),
                one.finding,
                start,
                end,
                opens,
                closes,
                date_of(one.day),
                _joined(line.entry.key for line in one.stored),
                one.settle,
            )


def _days(dates: Sequence[dt.date]) -> Days:
    return np.fromiter((day_of(on) for on in dates), dtype=np.int32, count=len(dates))


def _joined(words: Iterable[str]) -> str:
    return "; ".join(dict.fromkeys(words))
