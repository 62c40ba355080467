"""When is an anchored or a fixed rule due, for the whole fleet at once (design 4.3, 4.4)?

A row is a unit × rule, and rows stand in the order of their rules: a long run of one rule is
worked with that rule's numbers as scalars, many short runs with the numbers gathered a row. Both
ways are the same lines. One row is a fleet of one.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

import numpy as np
import numpy.typing as npt

from schedules.calendars import SEARCHED_DAYS, UNREACHED, CalendarIndex
from schedules.dates import FAR, NEVER, Counts, Days, date_of
from schedules.errors import NoOpenDay, OutsideCalendar, ScheduleError
from schedules.intervals import Terms, first_reaching, step
from schedules.rules import Roll, Rule
from schedules.units import Places, UnitColumns

__all__ = ["DueColumns", "DueRows", "due", "nominals"]

_BLOCK = 65_536
_LONG_RUN = 16_384
"""A run of one rule of at least so many rows is worked with scalars."""


@dataclass(frozen=True, slots=True)
class DueRows:
    """The rows to answer, all columns of one length.

    rule: places in the list of rules, ascending; unit: places in the UnitColumns; base and steps
    as in `Folded` (of no meaning for fixed rules); last: the latest done date of the unit's
    service not after the day asked for, or NEVER; event: the latest event that the rule names in
    `due_after`, or NEVER.
    """

    rule: npt.NDArray[np.int32]
    unit: Places
    base: Days
    steps: Counts
    last: Days
    event: Days

    def __len__(self) -> int:
        return len(self.rule)

    def part(self, rows: slice) -> DueRows:
        """Some of the rows, without a copy."""
        return DueRows(
            self.rule[rows],
            self.unit[rows],
            self.base[rows],
            self.steps[rows],
            self.last[rows],
            self.event[rows],
        )


@dataclass(frozen=True, slots=True)
class DueColumns:
    """The answers: state int8 (codes of `schedules.units`), days int32 (FAR where empty), counts.

    Counts are int32; missed is of meaning for fixed rules only. failures: what kept a row
    from its answer, by row.
    """

    state: npt.NDArray[np.int8]
    nominal: Days
    opens: Days
    due: Days
    limit: Days
    days_past_due: Counts
    open_days_past_due: Counts
    missed: Counts
    failures: dict[int, ScheduleError] = field(default_factory=dict)

    @classmethod
    def empty(cls, rows: int) -> DueColumns:
        """Room for so many rows; nothing is missed."""
        nominal, opens, due_days, limit = np.empty((4, rows), dtype=np.int32)
        late, open_late = np.empty((2, rows), dtype=np.int32)
        missed = np.zeros(rows, dtype=np.int32)
        state = np.empty(rows, dtype=np.int8)
        return cls(state, nominal, opens, due_days, limit, late, open_late, missed)

    def part(self, rows: slice) -> DueColumns:
        """Some of the rows, without a copy; failures are those of all."""
        return DueColumns(
            self.state[rows],
            self.nominal[rows],
            self.opens[rows],
            self.due[rows],
            self.limit[rows],
            self.days_past_due[rows],
            self.open_days_past_due[rows],
            self.missed[rows],
            self.failures,
        )


def _anchored_nominal(rows: DueRows, terms: Terms) -> Days:
    """Steps 1 to 3 of design 4.3."""
    nominal = step(terms, rows.base, rows.steps)
    undone = np.flatnonzero(rows.last < rows.event)
    nominal[undone] = np.minimum(nominal[undone], rows.event[undone])
    return nominal


def _first_unsettled(rows: DueRows, terms: Terms, units: UnitColumns) -> Counts:
    """Which occurrence of each fixed rule is the earliest unsettled one (design 4.4)."""
    since = np.maximum(units.in_service, units.record_from).take(rows.unit)
    settled = np.where(rows.last == NEVER, np.int32(NEVER), rows.last + terms.early + np.int32(1))
    return first_reaching(terms, np.maximum(since, settled))


def _blocks(
    rule: npt.NDArray[np.int32], rules: int, anchored_rules: int
) -> Iterator[tuple[slice, bool]]:
    """Cut rows into blocks of one long run (True) or of many short ones, never across the bases."""
    edges = np.searchsorted(rule, np.arange(rules + 1, dtype=np.int32))
    split = int(edges[anchored_rules])
    runs = np.unique(edges).tolist()
    start = 0
    for left, right in pairwise(runs):
        is_long = right - left >= _LONG_RUN
        if start < left and (is_long or left == split or right - start > _BLOCK):
            yield slice(start, left), False
            start = left
        if is_long:
            for place in range(left, right, _BLOCK):
                yield slice(place, min(place + _BLOCK, right)), True
            start = right
    if start < len(rule):
        yield slice(start, len(rule)), False


def _worked(
    rules: Sequence[Rule], rows: DueRows, units: UnitColumns, rolls: Sequence[Roll] = ()
) -> Iterator[tuple[slice, DueRows, Terms, Days, Counts | None]]:
    """Block by block: where, rows, terms, nominal before outages, occurrence (fixed rules)."""
    anchored_rules = sum(rule.anchor_on is None for rule in rules)
    terms = Terms.of(rules, rolls)
    for where, is_one_rule in _blocks(rows.rule, len(rules), anchored_rules):
        part = rows.part(where)
        numbers = terms.at(int(part.rule[0])) if is_one_rule else terms.spread(part.rule)
        if part.rule[0] < anchored_rules:
            yield where, part, numbers, _anchored_nominal(part, numbers), None
        else:
            occurrence = _first_unsettled(part, numbers, units)
            yield where, part, numbers, step(numbers, numbers.anchor, occurrence), occurrence


def nominals(rules: Sequence[Rule], rows: DueRows, units: UnitColumns) -> Days:
    """The nominal date of each row before any calendar speaks (design 4.3 steps 1 to 4).

    rules: anchored ones first, then fixed ones. Result: int32, FAR where an outage has no end.
    """
    found = np.empty(len(rows), dtype=np.int32)
    for where, part, _, nominal, _ in _worked(rules, rows, units):
        found[where] = units.after_outages(nominal, part.unit)
    return found


def due(
    rules: Sequence[Rule], rows: DueRows, units: UnitColumns, index: CalendarIndex, on: int
) -> DueColumns:
    """Answer every row on one day (design 4.3, 4.4).

    rules: anchored ones first, then fixed ones; rows in the order of their rules. A row that
    cannot be answered (beyond its calendar, no open day near) is in `failures`, alone.
    """
    rolls = sorted({rule.roll for rule in rules})
    day = _Day(units, index, on, rolls)
    answers = DueColumns.empty(len(rows))
    for where, part, terms, nominal, occurrence in _worked(rules, rows, units, rolls):
        _answer(day, part, terms, nominal, occurrence, where, answers)
    return answers


class _Day:
    """What depends on the day alone, a place a unit or a calendar."""

    def __init__(
        self, units: UnitColumns, index: CalendarIndex, on: int, rolls: Sequence[Roll]
    ) -> None:
        self.units, self.index, self.on, self.rolls = units, index, on, tuple(rolls)
        self.standing = units.standing(on)
        self.calendar = units.calendars_on(on)
        self.start = index.starts.take(self.calendar)
        self.open_until = index.open_before.take(self.start + (on + 1))
        self.beyond_yesterday = np.concatenate(
            [index.first_rolling_beyond(roll, on - 1) for roll in rolls]
        )

    def offsets(self, terms: Terms, start: Places, days: Days) -> npt.NDArray[np.int16]:
        """By how many days each row's roll moves its day."""
        if terms.is_of_one_rule:
            return self.index.offsets(self.rolls[int(terms.roll)]).take(start + days)
        address = terms.roll * np.int64(self.index.is_open.size)
        address += start
        address += days
        return self.index.offsets_of(self.rolls).take(address)


def _answer(
    day: _Day,
    rows: DueRows,
    terms: Terms,
    nominal: Days,
    occurrence: Counts | None,
    where: slice,
    answers: DueColumns,
) -> None:
    """Steps 4 and 5, state and counts of one block, written into the answers."""
    into, on = answers.part(where), np.int32(day.on)
    start = day.start.take(rows.unit)
    standing = day.standing.take(rows.unit)
    into.nominal[:] = day.units.after_outages(nominal, rows.unit)
    empty = np.flatnonzero((standing != 0) | (into.nominal == FAR))
    into.nominal[empty] = on
    _roll(day, rows, terms, start, empty, where.start, into)
    np.maximum(on - into.due, np.int32(0), out=into.days_past_due)
    np.maximum(into.due, into.nominal + terms.grace, out=into.limit)
    np.minimum(into.due, into.nominal - terms.early, out=into.opens)
    np.add((into.opens <= on).view(np.int8), into.limit < on, out=into.state)
    since = start + np.minimum(into.due, on) + 1
    open_since = day.index.open_before.take(since)
    np.subtract(day.open_until.take(rows.unit), open_since, out=into.open_days_past_due)
    if occurrence is not None:
        into.missed[:] = _missed(day, rows, terms, occurrence, where.start, answers)
    into.state[empty] = standing[empty]
    for column in (into.nominal, into.due, into.limit, into.opens):
        column[empty] = FAR
    for column in (into.days_past_due, into.open_days_past_due):
        column[empty] = 0


def _roll(
    day: _Day,
    rows: DueRows,
    terms: Terms,
    start: Places,
    empty: Places,
    first_row: int,
    into: DueColumns,
) -> None:
    """Write the due dates: nominal dates rolled; rows that cannot be rolled are failures.

    A row without a date, or beyond its calendar, is worked as if its date were the day.
    """
    index, nominal = day.index, into.nominal
    stuck = np.zeros(0, dtype=np.int64)
    if nominal.min() < index.first_day or nominal.max() > index.last_day:
        stuck = np.flatnonzero((nominal < index.first_day) | (nominal > index.last_day))
        _refuse(day, rows, stuck, first_row, into)
        nominal[stuck] = day.on
    offset = day.offsets(terms, start, nominal)
    if offset.max() == UNREACHED:
        unreached = np.setdiff1d(
            np.flatnonzero(offset == UNREACHED), np.concatenate([empty, stuck])
        )
        _refuse(day, rows, unreached, first_row, into)
        offset[offset == UNREACHED] = 0
    np.add(nominal, offset, out=into.due)


def _refuse(day: _Day, rows: DueRows, refused: Places, first_row: int, into: DueColumns) -> None:
    for row in refused.tolist():
        calendar, nominal = int(day.calendar[rows.unit[row]]), int(into.nominal[row])
        into.failures[first_row + row] = _refusal(day.index, calendar, nominal)


def _refusal(index: CalendarIndex, calendar: int, day: int) -> ScheduleError:
    site = index.sites[calendar]
    if index.first_day <= day <= index.last_day:
        return NoOpenDay(site, date_of(day), SEARCHED_DAYS)
    bounds = date_of(index.first_day), date_of(index.last_day)
    return OutsideCalendar(site, date_of(day), *bounds)


def _missed(
    day: _Day,
    rows: DueRows,
    terms: Terms,
    occurrence: Counts,
    first_row: int,
    answers: DueColumns,
) -> Counts:
    """How many occurrences, from the one that is due on, have passed their limit (design 4.4).

    limit < on  <=>  rolled(m) < on and m + grace < on  <=>  m < beyond, m the occurrence after
    outages; and m < beyond  <=>  the occurrence itself < before_outages(beyond).
    """
    calendar = day.calendar.take(rows.unit)
    place = terms.roll * np.int64(len(day.index.sites)) + calendar
    beyond = np.minimum(day.beyond_yesterday.take(place), day.on - terms.grace).astype(np.int32)
    since = day.units.before_outages(beyond, rows.unit)
    missed: Counts = np.maximum(first_reaching(terms, since) - occurrence, 0)
    missed[day.standing.take(rows.unit) != 0] = 0
    for row in np.flatnonzero(day.index.has_unreached.take(calendar)):
        if day.standing[rows.unit[row]] == 0:
            one = terms.row(int(row), len(rows))
            _check_passed(day, rows, one, int(occurrence[row]), int(row), first_row, answers)
    return missed


def _check_passed(
    day: _Day,
    rows: DueRows,
    terms: Terms,
    occurrence: int,
    row: int,
    first_row: int,
    answers: DueColumns,
) -> None:
    """Note a failure if an unsettled occurrence before the day has no open day to roll to.

    What comes after an occurrence whose limit is not yet passed is not asked (design 4.4).
    """
    unit = rows.unit[row : row + 1]
    calendar = int(day.calendar[unit[0]])
    until = np.array([day.on], dtype=np.int32)
    last = int(first_reaching(terms, until)[0])
    turns = np.arange(occurrence, last, dtype=np.int32)
    days = step(terms, terms.anchor, turns) if turns.size else turns
    days = day.units.after_outages(days, np.broadcast_to(unit, days.shape))
    days = days[(days < day.on) & (days >= day.index.first_day)]
    address = day.index.starts[calendar] + days + int(terms.roll[0]) * day.index.is_open.size  # type: ignore[index]
    offsets = day.index.offsets_of(day.rolls).take(address)
    stuck = np.flatnonzero(offsets == UNREACHED)
    before = days[: stuck[0]] if stuck.size else days
    limit = np.maximum(before + offsets[: len(before)], before + terms.grace)
    if stuck.size and (limit < day.on).all():
        answers.failures[first_row + row] = _refusal(day.index, calendar, int(days[stuck[0]]))
