"""Which marks of a record does the audit doubt (design 4.7)?

Marks of some units lie side by side as columns, a place a mark, in the order of the record; what is
doubted comes back as few values. Who wrote, and in what words to say it, is not known here.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cached_property
from typing import TypeVar

import numpy as np

from schedules.calendars import UNREACHED, CalendarIndex
from schedules.dates import FAR, NEVER, Days, Mask, period_first_day, period_number
from schedules.rules import Roll, Rule
from schedules.units import Places, UnitColumns

__all__ = [
    "BATCH_CELLS",
    "BATCH_SECONDS",
    "AuditMarks",
    "Charts",
    "Doubt",
    "MarkCells",
    "Reason",
    "batches",
    "conflicts",
    "impossible",
    "late",
    "stood",
]

_Item = TypeVar("_Item")

BATCH_CELLS, BATCH_SECONDS = 5, 60
"""So many cells of one unit for different days, recorded within so many seconds, are a batch."""


class Reason(StrEnum):
    """Why a mark is doubted."""

    LATE = "late"
    BATCH = "batch"
    BOTH = "done and unused"
    CLOSED = "site closed"
    OUT = "out of service"
    BEFORE = "before in service"
    RETIRED = "after retirement"
    FUTURE = "in the future when recorded"


@dataclass(frozen=True, slots=True)
class Doubt:
    """One doubt: the places of its marks and the day it speaks of."""

    reason: Reason
    marks: tuple[int, ...]
    day: int


@dataclass(frozen=True, slots=True)
class AuditMarks:
    """Live marks, a place a mark, in the order of their units' chains.

    unit: places in the UnitColumns; task: numbers of the charts' versions, -1 where the unit has no
    such task. from_days and to_days, int32, both included, may reach beyond the day asked for.
    known_at: microseconds of an instant, int64; known_days: the date of that instant at the site.
    is_judged: false for what is read from paper, which is never late, nor part of a batch.
    """

    unit: Places
    task: Places
    from_days: Days
    to_days: Days
    known_at: Places
    known_days: Days
    is_done: Mask
    is_unused: Mask
    is_explained: Mask
    is_judged: Mask


def stood(units: UnitColumns, unit_of_row: Places, days: Days) -> Places:
    """The calendar of the site where each row's unit stood on the row's day; int64."""
    found = units.calendars.take(unit_of_row)
    moves = np.diff(units.moves.starts).take(unit_of_row)
    for turn in range(int(moves.max(initial=0))):
        rows = np.flatnonzero(moves > turn)
        place = units.moves.starts.take(unit_of_row[rows]) + turn
        moved = units.moves.days.take(place) <= days[rows]
        found[rows[moved]] = units.move_calendars.take(place[moved])
    return found


def _version_on(versions: Sequence[Rule], days: Days) -> Places:
    """The number of the version in force on each day, -1 where none is."""
    found = np.full(len(days), -1, dtype=np.int64)
    dates = days.astype("M8[D]")
    for number in range(len(versions) - 1, -1, -1):
        rule = versions[number]
        speaks = np.ones(len(days), dtype=np.bool_)
        if rule.from_on is not None:
            speaks &= dates >= np.datetime64(rule.from_on)
        if rule.until_on is not None:
            speaks &= dates <= np.datetime64(rule.until_on)
        found[speaks] = number
    return found


@dataclass(frozen=True, slots=True)
class MarkCells:
    """The cell that a day belongs to, a place a row.

    is_cell: a cell rule is in force on the day; is_expected: it has an expected cell. from_days to
    closes are int32, of no meaning where there is no expected cell.
    """

    is_cell: Mask
    is_expected: Mask
    from_days: Days
    to_days: Days
    opens: Days
    closes: Days


def _periods(versions: Sequence[Rule], days: Days) -> tuple[Days, Days]:
    """First and last day of the period each day belongs to; FAR and NEVER where it has none.

    Of the version in force on the day; else, where an earlier version's period still runs, of it.
    """
    speaking = _version_on(versions, days)
    from_days = np.full(len(days), NEVER, dtype=np.int32)
    to_days = np.full(len(days), NEVER, dtype=np.int32)
    settled = np.zeros(len(days), dtype=np.bool_)
    for number, rule in enumerate(versions):
        if rule.each is None:
            continue
        numbers = period_number(days, rule.each)
        first = period_first_day(numbers, rule.each)
        own = _version_on(versions, first) == number
        chosen = own & ~settled & ((speaking == number) | (first > from_days))
        from_days[chosen] = first[chosen]
        to_days[chosen] = period_first_day(numbers + 1, rule.each)[chosen] - 1
        settled |= own & (speaking == number)
    return np.where(to_days == NEVER, np.int32(FAR), from_days), to_days


@dataclass(frozen=True)
class Charts:
    """The charts of some units: whose days are expected, and which cell does a day belong to?

    versions: those of each task number; units: all of a fleet; chosen: the places of those units
    whose marks are looked at, ascending; first_day to last_day lie in the index's span.
    """

    versions: Sequence[Sequence[Rule]]
    units: UnitColumns
    chosen: Places
    index: CalendarIndex
    first_day: int
    last_day: int

    @cached_property
    def _expected(self) -> Places:
        """Every expected day, unit after unit, as one ascending number each."""
        table = self.units.expected(self.index, self.chosen, self.first_day, self._width)
        return np.flatnonzero(table)

    @property
    def _width(self) -> int:
        return self.last_day - self.first_day + 1

    def expected_within(
        self, unit: Places, from_days: Days, to_days: Days
    ) -> tuple[Places, Places]:
        """Where the expected days of each span begin and end (not included) in `day`'s places."""
        row = np.searchsorted(self.chosen, unit) * self._width
        starts = np.clip(from_days.astype(np.int64) - self.first_day, 0, self._width)
        stops = np.clip(to_days.astype(np.int64) + 1 - self.first_day, 0, self._width)
        found = np.searchsorted(self._expected, row + starts)
        return found, np.maximum(np.searchsorted(self._expected, row + stops), found)

    def day(self, places: Places) -> Days:
        """The expected day at each place."""
        numbers = self._expected.take(places, mode="clip") if self._expected.size else places * 0
        return (numbers % self._width + self.first_day).astype(np.int32)

    def cells(self, unit: Places, task: Places, days: Days) -> MarkCells:
        """The cell each row's day belongs to."""
        from_days = np.full(len(days), FAR, dtype=np.int32)
        to_days = np.full(len(days), NEVER, dtype=np.int32)
        is_cell = np.zeros(len(days), dtype=np.bool_)
        for number in np.unique(task[task >= 0]).tolist():
            rows = np.flatnonzero(task == number)
            versions = self.versions[number]
            from_days[rows], to_days[rows] = _periods(versions, days[rows])
            has_cells = np.array([rule.each is not None for rule in versions])
            is_cell[rows] = has_cells[np.maximum(_version_on(versions, days[rows]), 0)]
        starts, stops = self.expected_within(unit, from_days, to_days)
        opens, closes = self.day(starts), self.day(stops - 1)
        return MarkCells(is_cell, stops > starts, from_days, to_days, opens, closes)

    def spoken(self, marks: AuditMarks, which: Mask, on: int) -> tuple[Places, Days]:
        """The days that some marks speak of, not after `on`: place of the mark and day, by mark.

        One day speaks for itself; a span speaks of its unit's expected days (design 7).
        """
        starts, stops = self.expected_within(
            marks.unit, marks.from_days, np.minimum(marks.to_days, np.int32(on))
        )
        is_one = marks.to_days <= marks.from_days
        which = which & (marks.from_days <= on)
        counts = np.where(which, np.where(is_one, 1, stops - starts), 0)
        place = np.repeat(np.arange(len(counts)), counts)
        before = np.concatenate([np.zeros(1, dtype=np.int64), np.cumsum(counts)])[place]
        turn = np.arange(len(place)) - before
        days = np.where(is_one[place], marks.from_days[place], self.day(starts[place] + turn))
        return place, days.astype(np.int32)


def late(charts: Charts, marks: AuditMarks, on: int, since: int = NEVER) -> Iterator[Doubt]:
    """Marks recorded after their cell closed and one more open day, a doubt a mark.

    A mark that explains is late by what it says (design 4.5). A span is doubted at the first of its
    late days that is not before `since`.
    """
    place, days = charts.spoken(marks, marks.is_judged, on)
    cells = charts.cells(marks.unit[place], marks.task[place], days)
    closes = np.where(cells.is_expected, cells.closes, np.int32(charts.first_day))
    calendars = stood(charts.units, marks.unit[place], closes)
    offsets = charts.index.offsets(Roll.FOLLOWING).take(
        charts.index.starts.take(calendars) + closes + 1
    )
    in_time = closes + 1 + offsets
    is_late = (offsets != UNREACHED) & (marks.known_days[place] > in_time)
    is_late = cells.is_expected & (is_late | marks.is_explained[place]) & (days >= since)
    yield from _first_days(Reason.LATE, place[is_late], days[is_late])


def _first_days(reason: Reason, places: Places, days: Days) -> Iterator[Doubt]:
    """One doubt a mark, at the first of its days; places ascend, days within them."""
    marks, first = np.unique(places, return_index=True)
    for mark, day in zip(marks.tolist(), days[first].tolist(), strict=True):
        yield Doubt(reason, (mark,), day)


def batches(charts: Charts, marks: AuditMarks, on: int, since: int = NEVER) -> Iterator[Doubt]:
    """Marks of one unit that fill five or more cells for different days within one minute.

    Minutes that share a mark are one batch; its day is the earliest it speaks of that is not before
    `since`.
    """
    place, days = charts.spoken(marks, marks.is_judged, on)
    cells = charts.cells(marks.unit[place], marks.task[place], days)
    chosen = cells.is_expected
    place, days, from_days = place[chosen], days[chosen], cells.from_days[chosen]
    order = np.lexsort((marks.known_at[place], marks.unit[place]))
    place, days, from_days = place[order], days[order], from_days[order]
    for rows in _crowds(marks.unit[place], marks.known_at[place]):
        cell = list(zip(marks.task[place[rows]].tolist(), from_days[rows].tolist(), strict=True))
        at = marks.known_at[place[rows]].tolist()
        for low, high in _windows(at, days[rows].tolist(), cell):
            some = slice(rows.start + low, rows.start + high)
            keys = tuple(sorted(set(place[some].tolist())))
            if (asked := days[some][days[some] >= since]).size:
                yield Doubt(Reason.BATCH, keys, int(asked.min()))


def _crowds(unit: Places, known_at: Places) -> Iterator[slice]:
    """Rows of one unit, by instant, among which five stand within one minute."""
    most = BATCH_SECONDS * 1_000_000
    later = BATCH_CELLS - 1
    if len(unit) <= later:
        return
    is_crowded = (unit[later:] == unit[:-later]) & (known_at[later:] - known_at[:-later] <= most)
    for number in np.unique(unit[:-later][is_crowded]):
        low, high = np.searchsorted(unit, [number, number + 1]).tolist()
        yield slice(low, high)


def _windows(
    at: Sequence[int], days: Sequence[int], cells: Sequence[tuple[int, int]]
) -> Iterator[tuple[int, int]]:
    """Runs of rows, the end not included, made of minutes with enough cells and enough days."""
    low, run = 0, (0, 0)
    days_within: Counter[int] = Counter()
    cells_within: Counter[tuple[int, int]] = Counter()
    for high, moment in enumerate(at):
        days_within[days[high]] += 1
        cells_within[cells[high]] += 1
        while moment - at[low] > BATCH_SECONDS * 1_000_000:
            _take_out(days_within, days[low])
            _take_out(cells_within, cells[low])
            low += 1
        if min(len(days_within), len(cells_within)) >= BATCH_CELLS:
            if low >= run[1] and run[1]:
                yield run
                run = (low, high + 1)
            else:
                run = (run[0] if run[1] else low, high + 1)
    if run[1]:
        yield run


def _take_out(counts: Counter[_Item], item: _Item) -> None:
    counts[item] -= 1
    if not counts[item]:
        del counts[item]


def conflicts(charts: Charts, marks: AuditMarks, on: int) -> Iterator[Doubt]:
    """Days that are both done and unused, and marks of days on which there was nothing to mark.

    Judged are days in service that the record speaks of; of an anchored or fixed rule only dates
    done in an outage.
    """
    yield from _both(charts, marks, on)
    units, unit, days = charts.units, marks.unit, marks.from_days
    cells = charts.cells(unit, marks.task, days)
    starts, stops = charts.expected_within(unit, days, days)
    in_service = (units.in_service.take(unit) <= days) & (days < units.retired.take(unit))
    in_service &= days <= on
    is_out = units.after_outages(days, unit) != days
    is_told = days >= units.record_from.take(unit)
    is_one = marks.to_days <= days
    off = in_service & is_told & cells.is_cell & is_one & (stops == starts)
    out = in_service & is_out & (off | (~cells.is_cell & marks.is_done))
    for mark in np.flatnonzero(off | out).tolist():
        yield Doubt(Reason.OUT if out[mark] else Reason.CLOSED, (mark,), int(days[mark]))


def _both(charts: Charts, marks: AuditMarks, on: int) -> Iterator[Doubt]:
    chart = marks.unit * (len(charts.versions) + 1) + marks.task
    shared = np.intersect1d(chart[marks.is_unused], chart[marks.is_done])
    which = (marks.is_unused | marks.is_done) & np.isin(chart, shared)
    place, days = charts.spoken(marks, which, on)
    order = np.lexsort((place, days, chart[place]))
    place, days = place[order], days[order]
    is_cell = charts.cells(marks.unit[place], marks.task[place], days).is_cell
    place, days = place[is_cell], days[is_cell]
    new = (np.diff(chart[place]) != 0) | (np.diff(days) != 0)
    for some in np.split(np.arange(len(place)), np.flatnonzero(new) + 1):
        found = place[some]
        if marks.is_unused[found].any() and marks.is_done[found].any():
            yield Doubt(Reason.BOTH, tuple(found.tolist()), int(days[some[0]]))


def impossible(
    charts: Charts, marks: AuditMarks, on: int, since: int = NEVER, until: int | None = None
) -> Iterator[Doubt]:
    """Marks of days before service, after retirement, or still to come when they were recorded.

    A date done before service is possible for an anchored or fixed rule (design 4.3 step 1). A
    span lies before service or after retirement only where all of it does; one that runs ahead is
    doubted at the first day ahead that is not before `since`. What was ahead is doubted up to
    `until` (None: `on`), all else up to `on`.
    """
    unit, days = marks.unit, marks.from_days
    cells = charts.cells(unit, marks.task, days)
    before = marks.to_days < charts.units.in_service.take(unit)
    before &= (cells.is_cell | ~marks.is_done) & (days <= on)
    retired = (days >= charts.units.retired.take(unit)) & (days <= on)
    for mark in np.flatnonzero(before | retired).tolist():
        reason = Reason.BEFORE if before[mark] else Reason.RETIRED
        yield Doubt(reason, (mark,), int(days[mark]))
    may_be_ahead = (marks.to_days > marks.known_days) & ~before & ~retired
    yield from _ahead(charts, marks, may_be_ahead, since, on if until is None else until)


def _ahead(
    charts: Charts, marks: AuditMarks, which: Mask, since: int, until: int
) -> Iterator[Doubt]:
    """Marks at their first day that was still to come, from one day to another, both included.

    Of a span that runs on beyond the charts' last day, each day beyond it counts.
    """
    place, spoken = charts.spoken(marks, which, until)
    ahead = (spoken > marks.known_days[place]) & (spoken >= since)
    place, spoken = place[ahead], spoken[ahead]
    yield from _first_days(Reason.FUTURE, place, spoken)
    beyond = np.maximum(np.maximum(marks.from_days, marks.known_days + 1), since)
    beyond = np.maximum(beyond, charts.last_day + 1)
    is_beyond = which & (beyond <= np.minimum(marks.to_days, until))
    is_beyond &= marks.to_days > marks.from_days
    is_beyond[place] = False
    for mark in np.flatnonzero(is_beyond).tolist():
        yield Doubt(Reason.FUTURE, (mark,), int(beyond[mark]))
