"""What stands in each cell of the charts of some units, day by day (design 4.5)?

A *chart* is one unit's cells of one cell rule over a span of days. Whether a cell is expected and
filled is answered by the engine; here each is laid beside the marks that speak of it, or beside the
reason it is pre-marked with. Charts are those of one site: of a unit's days elsewhere only that is
told.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from fleet.domain.records import Mark, Outage, StoredEntry, Unit
from fleet.services.charts.days import Cause, ChartDays, Reason
from fleet.services.due import Sheet
from schedules.cells import Cells, Periods, cells
from schedules.dates import day_of
from schedules.rules import Rule

__all__ = [
    "CellState",
    "Chart",
    "ChartCell",
    "ChartMaker",
    "Marks",
    "UnitCharts",
    "live_entries",
    "marks_of",
    "unit_charts",
]


class CellState(StrEnum):
    """What a cell says; of several marks the first of these that one of them says."""

    DONE = "done"
    UNUSED = "unused"
    EXPLAINED = "explained"
    FILLED = "filled"
    GAP = "gap"
    """Expected, closed before the day asked for, and not filled."""
    OPEN = "open"
    """Expected, not filled, and not closed yet."""
    PRE_MARKED = "pre-marked"
    """Not expected: the chart says why."""


_TURN = {cause: turn for turn, cause in enumerate(Cause)}
Marks = Mapping[tuple[str, str], Mapping[int, Sequence[StoredEntry]]]
"""By property number and task, then by turn: live entries that speak of the day, in the order of
the unit's chain.
"""


class ChartCell(NamedTuple):
    """One cell: its period (both ends included), its state, the marks that speak of its days.

    A mark of several days stands once, or, in a cell that asks for several, once for each day.

    opens_on and closes_on are its first and last expected day, None where it is pre-marked; then
    `reason` says why. A pre-marked cell may bear marks all the same.
    """

    from_on: dt.date
    to_on: dt.date
    opens_on: dt.date | None
    closes_on: dt.date | None
    state: CellState
    marks: Sequence[StoredEntry]
    reason: Reason | None
    rule: Rule


@dataclass(frozen=True, slots=True)
class Chart:
    """The cells of one unit and task whose periods share a day with the span, by first day."""

    task: str
    cells: Sequence[ChartCell]


@dataclass(frozen=True, slots=True)
class UnitCharts:
    """A unit's charts in the order of the rule book; reasons: a day each of the span, None where
    marks are expected of the unit at the site.
    """

    unit: Unit
    reasons: Sequence[Reason | None]
    charts: Sequence[Chart]


def unit_charts(
    sheet: Sheet,
    outages: Iterable[Outage],
    entries: Iterable[StoredEntry],
    from_on: dt.date,
    to_on: dt.date,
    site: str | None = None,
) -> list[UnitCharts]:
    """The charts of a sheet's units from one day to another, both included, as on the sheet's day.

    outages: the register's, for their reasons. entries: of these units, in chain order, struck ones
    and corrections too; those not known at the sheet's instant are left out. site: the charts are
    this site's; a cell belongs to the site where the unit stood on its last expected day. None: to
    whatever site that was.
    """
    days = ChartDays(sheet.fleet, outages, from_on, to_on, site)
    marks, maker = marks_of(sheet, days, entries), ChartMaker(sheet)
    return [maker.charts(days, place, marks) for place in range(len(sheet.fleet.units))]


def live_entries(entries: Iterable[StoredEntry], known_at: dt.datetime | None) -> list[StoredEntry]:
    """The entries that count: known, with a mark, not struck."""
    known = [line for line in entries if known_at is None or line.known_at <= known_at]
    struck = {line.entry.strikes for line in known if line.entry.strikes}
    return [line for line in known if line.entry.mark and line.entry.key not in struck]


def marks_of(sheet: Sheet, days: ChartDays, entries: Iterable[StoredEntry]) -> Marks:
    """Spread entries over the days they speak of: of a span the expected ones (design 7).

    entries: as for `unit_charts`; those of other units, and of days after the sheet's, are left
    out.
    """
    place_of = {unit.property_number: n for n, unit in enumerate(sheet.fleet.units)}
    found: dict[tuple[str, str], dict[int, list[StoredEntry]]] = defaultdict(
        lambda: defaultdict(list)
    )
    last_on = min(sheet.on, days.dates[-1])
    for line in live_entries(entries, sheet.known_at):
        entry = line.entry
        if entry.property_number not in place_of or entry.on > last_on:
            continue
        chart = found[entry.property_number, entry.task]
        if entry.to_on in (None, entry.on):
            chart[days.turn_of(entry.on)].append(line)
            continue
        to_on = min(entry.to_on or entry.on, last_on)
        for turn in days.expected_within(place_of[entry.property_number], entry.on, to_on):
            chart[turn].append(line)
    return found


class ChartMaker:
    """Makes the charts of a sheet's units, one unit after another."""

    def __init__(self, sheet: Sheet) -> None:
        self._sheet = sheet
        self._periods: dict[tuple[int, int, int], Periods] = {}
        duties = sheet.fleet.duties
        self._rows: dict[int, list[tuple[int, int]]] = defaultdict(list)
        for number, versions in enumerate(duties.versions):
            if any(rule.each for rule in versions):
                rows = duties.rows(number)
                for row, place in enumerate(duties.unit[rows].tolist(), rows.start):
                    self._rows[place].append((number, row))

    def charts(self, days: ChartDays, place: int, marks: Marks) -> UnitCharts:
        """A unit's charts over the days, in the order of its kind's rules."""
        unit = self._sheet.fleet.units[place]
        charts = [
            self._chart(days, place, number, row, marks)
            for number, row in self._rows.get(place, ())
        ]
        return UnitCharts(unit, days.of_span(place), charts)

    def _chart(self, days: ChartDays, place: int, number: int, row: int, marks: Marks) -> Chart:
        sheet, task = self._sheet, self._sheet.fleet.tasks[number]
        counts = sheet.marks.counts(row, 1, days.first_day, days.count, day_of(sheet.on))
        found = cells(
            self._within(days, number), days.expected[place : place + 1], counts, days.first_day
        )
        own = marks.get((sheet.fleet.units[place].property_number, task), {})
        return Chart(task, list(_Row(sheet, days, place, own).cells(found)))

    def _within(self, days: ChartDays, number: int) -> Periods:
        """The periods of a task that share a day with the span."""
        span = number, day_of(days.from_on), day_of(days.to_on)
        if span not in self._periods:
            first, versions = days.first_day, self._sheet.fleet.duties.versions[number]
            found = Periods.within(versions, first, first + days.count - 1)
            wanted = (found.to_days >= span[1]) & (found.from_days <= span[2])
            places = np.flatnonzero(wanted)
            self._periods[span] = Periods(
                found.from_days[places],
                found.to_days[places],
                tuple(found.rules[turn] for turn in places.tolist()),
            )
        return self._periods[span]


@dataclass(frozen=True, slots=True)
class _Row:
    """One unit × task: the unit's place, and the marks of each turn."""

    sheet: Sheet
    days: ChartDays
    place: int
    marks: Mapping[int, Sequence[StoredEntry]]

    def cells(self, found: Cells) -> Iterator[ChartCell]:
        first, dates, reasons = self.days.first_day, self.days.dates, self.days.reasons(self.place)
        periods, on = found.periods, self.sheet.on
        lows, highs = (periods.from_days - first).tolist(), (periods.to_days - first).tolist()
        opens, closes = (found.opens[0] - first).tolist(), (found.closes[0] - first).tolist()
        is_expected, is_filled = found.expected[0].tolist(), found.filled[0].tolist()
        stays = self.days.turns_here(self.place)
        for column, (low, high, rule) in enumerate(zip(lows, highs, periods.rules, strict=True)):
            own = self._own(low, high, rule) if self.marks else ()
            end = closes[column]
            if is_expected[column] and any(start <= end < stop for start, stop in stays):
                closes_on = dates[end]
                state = _state(own) if is_filled[column] else _unfilled(closes_on, on)
                days = dates[low], dates[high], dates[opens[column]], closes_on
                yield ChartCell(*days, state, own, None, rule)
            else:
                reason = reasons[low] if low == high else _gravest(reasons[low : high + 1])
                pre_marked = CellState.PRE_MARKED
                yield ChartCell(dates[low], dates[high], None, None, pre_marked, own, reason, rule)

    def _own(self, low: int, high: int, rule: Rule) -> Sequence[StoredEntry]:
        """The marks that speak of the days."""
        if low == high:
            return self.marks.get(low, ())
        own = [line for turn in range(low, high + 1) for line in self.marks.get(turn, ())]
        return own if rule.times > 1 else list({line.entry.key: line for line in own}.values())


def _gravest(reasons: Iterable[Reason | None]) -> Reason | None:
    """Of the reasons of a period's days the one that tells most of the cell."""
    some = (reason for reason in reasons if reason)
    return min(some, key=lambda one: _TURN[one.cause], default=None)


def _unfilled(closes_on: dt.date, on: dt.date) -> CellState:
    return CellState.GAP if closes_on < on else CellState.OPEN


def _state(own: Iterable[StoredEntry]) -> CellState:
    said = {line.entry.mark for line in own}
    for mark in (Mark.DONE, Mark.UNUSED, Mark.EXPLAINED):
        if mark in said:
            return CellState(mark.value)
    return CellState.FILLED
