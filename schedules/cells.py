"""Which cells of a chart are expected, which are filled, and which are gaps (design 4.5)?

Rows that share a task's versions are worked together: their periods are the columns, and what each
unit's own days make of them stands in tables of shape (rows, periods).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from schedules.calendars import CalendarIndex
from schedules.dates import (
    FAR,
    NEVER,
    Counts,
    Days,
    Mask,
    date_of,
    day_of,
    period_first_day,
    period_number,
)
from schedules.marks import Bits, MarkedYears
from schedules.rules import Each, Rule
from schedules.units import DONE, DUE, OVERDUE, UPCOMING, Places, UnitColumns

__all__ = ["CellColumns", "Cells", "Gaps", "Periods", "cell_states", "cells", "gaps", "in_force"]

_BLOCK = 2_048
_DAYS_BEFORE = 400
"""A span that begins so far before a unit's first day holds its first period whole."""
_LOOK_BACK = {
    Each.OPEN_DAY: 70,
    Each.WEEK: 210,
    Each.MONTH: 430,
    Each.QUARTER: 800,
    Each.HALF_YEAR: 1_200,
    Each.YEAR: 1_500,
}
"""Days before the day asked for that hold the run of gaps of all but the most abandoned charts."""


def in_force(versions: Sequence[Rule], day: int) -> Rule | None:
    """The version that speaks on a day; versions stand in the order of `Kind.tasks`."""
    on = date_of(day)
    return next((rule for rule in versions if rule.speaks_on(on)), None)


@dataclass(frozen=True, slots=True)
class Periods:
    """The periods of a task within a span of whole days, in the order of their first days.

    from_days and to_days: int32, both included; rules: the version each belongs to.
    """

    from_days: Days
    to_days: Days
    rules: tuple[Rule, ...]

    @classmethod
    def within(cls, versions: Sequence[Rule], first_day: int, last_day: int) -> Periods:
        """All periods that lie whole within the span, each of the version of its first day."""
        starts, ends, places = [], [], []
        for place, rule in enumerate(versions):
            if rule.each is not None:
                first, last = _whole_periods(rule.each, first_day, last_day)
                own = _speaks_on(rule, first)
                for better in versions[:place]:
                    own &= ~_speaks_on(better, first)
                starts.append(first[own])
                ends.append(last[own])
                places += [place] * len(starts[-1])
        from_days, to_days = np.concatenate(starts), np.concatenate(ends)
        order = np.lexsort((to_days, from_days))
        rules = tuple(versions[places[turn]] for turn in order.tolist())
        return cls(from_days[order], to_days[order], rules)

    def containing(self, versions: Sequence[Rule], day: int) -> int | None:
        """The place of the period a day belongs to: of the version in force, or else the latest."""
        inside = np.flatnonzero((self.from_days <= day) & (day <= self.to_days)).tolist()
        speaking = in_force(versions, day)
        own = [place for place in inside if self.rules[place] is speaking]
        return next(iter(own + inside[::-1]), None)


def _speaks_on(rule: Rule, days: Days) -> Mask:
    """Whether each day lies within a version's `from` and `until`."""
    first = NEVER if rule.from_on is None else day_of(rule.from_on)
    last = FAR if rule.until_on is None else day_of(rule.until_on)
    return (first <= days) & (days <= last)


def _whole_periods(each: Each, first_day: int, last_day: int) -> tuple[Days, Days]:
    span = np.array([first_day, last_day], dtype=np.int32)
    low, high = period_number(span, each).tolist()
    edges = period_first_day(np.arange(low, high + 2, dtype=np.int32), each)
    whole = (edges[:-1] >= first_day) & (edges[1:] - 1 <= last_day)
    return edges[:-1][whole], edges[1:][whole] - 1


@dataclass(frozen=True, slots=True)
class Cells:
    """The cells of some rows; tables of shape (rows, periods).

    opens and closes: first and last expected day, int32, of no meaning where not expected; of
    shape (1, periods) where they are the same for all rows.
    """

    periods: Periods
    expected: Mask
    opens: Days
    closes: Days
    filled: Mask


def cells(periods: Periods, expected_days: Mask, counts: Bits, first_day: int) -> Cells:
    """Gather days into cells.

    expected_days bool and counts uint8: (rows, days), day d at place d - first_day.
    """
    starts, stops = periods.from_days - first_day, periods.to_days - first_day + 1
    times = np.array([rule.times for rule in periods.rules], dtype=np.int32)
    if all(rule.each is Each.OPEN_DAY for rule in periods.rules):
        columns = _span(starts)
        expected, marks = expected_days[:, columns], counts[:, columns]
        days = periods.from_days[None, :]
        is_alike = times.size and times.min() == times.max()
        filled = marks >= int(times[0]) if is_alike else marks >= times
        return Cells(periods, expected, days, days, filled)
    until, marked = _running(expected_days), _running(counts)
    from_turn, to_turn = until[:, starts], until[:, stops]
    places = np.concatenate([np.flatnonzero(expected_days), [0]])
    before_row = (np.cumsum(until[:, -1]) - until[:, -1])[:, None]
    row_begins = np.arange(len(until))[:, None] * expected_days.shape[1] - first_day
    return Cells(
        periods,
        to_turn > from_turn,
        (places.take(before_row + from_turn) - row_begins).astype(np.int32),
        (places.take(before_row + to_turn - 1, mode="clip") - row_begins).astype(np.int32),
        marked[:, stops] - marked[:, starts] >= times,
    )


def _span(places: Counts) -> slice | Counts:
    """The same places, as a slice where they follow each other."""
    if places.size and int(places[-1] - places[0]) == len(places) - 1:
        return slice(int(places[0]), int(places[-1]) + 1)
    return places


def _running(numbers: npt.NDArray[np.bool_] | Bits) -> Counts:
    """Sums of the first 0, 1, 2, … places of each row; int32 (rows, days + 1)."""
    sums = np.zeros((numbers.shape[0], numbers.shape[1] + 1), dtype=np.int32)
    np.cumsum(numbers, axis=1, dtype=np.int32, out=sums[:, 1:])
    return sums


@dataclass(frozen=True, slots=True)
class CellColumns:
    """The answers: state int8; opens and limit of the day's own cell, int32, FAR where it has none;
    missed int32.
    """

    state: npt.NDArray[np.int8]
    opens: Days
    limit: Days
    missed: Counts

    @classmethod
    def empty(cls, rows: int) -> CellColumns:
        """Room for so many rows."""
        numbers = [np.empty(rows, dtype=np.int32) for _ in range(3)]
        return cls(np.empty(rows, dtype=np.int8), *numbers)


@dataclass(frozen=True, slots=True)
class _Group:
    """Rows first_row … of one task's versions, with what they are judged by."""

    versions: Sequence[Rule]
    units: UnitColumns
    unit_of_row: Places
    index: CalendarIndex
    marks: MarkedYears
    first_row: int
    on: int

    def cells(self, rows: Places, first_day: int, last_day: int) -> Cells:
        """The cells of some rows of the group whose periods lie within the span."""
        first_day = max(first_day, self.index.first_day)
        days = last_day - first_day + 1
        units = self.unit_of_row[rows]
        expected = self.units.expected(self.index, units, first_day, days)
        counts = self.marks.counts_of(self.first_row + rows, first_day, days, self.on)
        return cells(
            Periods.within(self.versions, first_day, last_day), expected, counts, first_day
        )

    def eaches(self) -> list[Each]:
        return [rule.each for rule in self.versions if rule.each is not None]

    def first_day(self, day: int) -> int:
        """The first day of the longest period around a day."""
        one = np.array([day], dtype=np.int32)
        return min(int(period_first_day(period_number(one, e), e)[0]) for e in self.eaches())

    def last_day(self, day: int) -> int:
        """The last day of the longest period around a day."""
        one = np.array([day], dtype=np.int32)
        return (
            max(int(period_first_day(period_number(one, e) + 1, e)[0]) for e in self.eaches()) - 1
        )


def cell_states(
    versions: Sequence[Rule],
    units: UnitColumns,
    unit_of_row: Places,
    index: CalendarIndex,
    marks: MarkedYears,
    first_row: int,
    on: int,
) -> CellColumns:
    """State, own cell and run of gaps on one day, for rows of one task's versions (design 4.5).

    unit_of_row: places in the UnitColumns; the rows' marks stand in `marks` from `first_row` on.
    """
    group = _Group(versions, units, unit_of_row, index, marks, first_row, on)
    answers = CellColumns.empty(len(unit_of_row))
    back = on - max(_LOOK_BACK[each] for each in group.eaches())
    begins = np.maximum(units.in_service, units.record_from).take(unit_of_row)
    for low in range(0, len(unit_of_row), _BLOCK):
        rows = np.arange(low, min(low + _BLOCK, len(unit_of_row)))
        runs_on = _answer(group, rows, back, answers) & (begins[rows] <= group.last_day(back))
        if runs_on.any():
            rest = rows[runs_on]
            _answer(group, rest, int(begins[rest].min()) - _DAYS_BEFORE, answers)
    standing = units.standing(on).take(unit_of_row)
    silent = np.flatnonzero(standing)
    answers.state[silent] = standing[silent]
    answers.opens[silent], answers.limit[silent], answers.missed[silent] = FAR, FAR, 0
    return answers


def _answer(group: _Group, rows: Places, back: int, answers: CellColumns) -> Mask:
    """Answer some rows from the cells since `back`; True where no closed one of them is filled."""
    found = group.cells(rows, back, group.last_day(group.on))
    missed, runs_on = _run_of_gaps(found, group.on)
    state = np.where(missed > 0, np.int8(OVERDUE), np.int8(UPCOMING))
    own = found.periods.containing(group.versions, group.on)
    answers.opens[rows], answers.limit[rows] = FAR, FAR
    if own is not None:
        expected, filled = found.expected[:, own], found.filled[:, own]
        opens, closes = found.opens[:, own], found.closes[:, own]
        is_open = expected & (opens <= group.on) & (group.on <= closes)
        state[is_open & (missed == 0)] = DUE
        state[expected & filled] = DONE
        answers.opens[rows] = np.where(expected, opens, np.int32(FAR))
        answers.limit[rows] = np.where(expected, closes, np.int32(FAR))
    answers.state[rows] = state
    answers.missed[rows] = np.where(state == OVERDUE, missed, 0)
    return runs_on


def _run_of_gaps(found: Cells, on: int) -> tuple[Counts, Mask]:
    """How many of the last cells closed before `on` are gaps, and whether none before is filled."""
    closed, filled = found.expected & (found.closes < on), found.filled
    if len({rule.each for rule in found.periods.rules}) > 1:
        order = np.argsort(np.where(closed, found.closes, NEVER), axis=1, kind="stable")
        closed = np.take_along_axis(closed, order, axis=1)
        filled = np.take_along_axis(filled, order, axis=1)
    columns = closed.shape[1]
    settled = closed & filled
    if not columns:
        return np.zeros(len(closed), dtype=np.int32), np.ones(len(closed), dtype=np.bool_)
    has_settled: Mask = np.any(settled, axis=1)
    after_last = np.where(has_settled, columns - np.argmax(settled[:, ::-1], axis=1), 0)
    sums = _running(closed)
    missed = sums[:, -1] - np.take_along_axis(sums, after_last[:, None], axis=1)[:, 0]
    return missed.astype(np.int32), ~has_settled


@dataclass(frozen=True, slots=True)
class Gaps:
    """Unfilled cells, a place a gap: the row, counted from 0, and its cell's days (int32)."""

    rows: Places
    from_days: Days
    to_days: Days
    opens: Days
    closes: Days


def gaps(
    versions: Sequence[Rule],
    units: UnitColumns,
    unit_of_row: Places,
    index: CalendarIndex,
    marks: MarkedYears,
    first_row: int,
    first_day: int,
    last_day: int,
    on: int,
) -> Iterator[Gaps]:
    """The gaps, as known on a day, whose cells closed within first_day … last_day (both included).

    Arguments as for `cell_states`; a cell is a gap only if it closed before `on`. A cell that
    would be a gap on `on` for a unit not in service then is still listed: the record is judged.
    """
    group = _Group(versions, units, unit_of_row, index, marks, first_row, on)
    until = min(last_day, on - 1)
    if until < first_day:
        return
    for low in range(0, len(unit_of_row), _BLOCK):
        rows = np.arange(low, min(low + _BLOCK, len(unit_of_row)))
        found = group.cells(rows, group.first_day(first_day), group.last_day(until))
        is_gap = found.expected > found.filled
        is_gap &= (found.closes >= first_day) & (found.closes <= until)
        row, column = np.divmod(np.flatnonzero(is_gap), max(1, is_gap.shape[1]))
        yield Gaps(
            row + low,
            found.periods.from_days[column],
            found.periods.to_days[column],
            np.broadcast_to(found.opens, is_gap.shape)[row, column],
            np.broadcast_to(found.closes, is_gap.shape)[row, column],
        )
