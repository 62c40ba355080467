"""What stands in each cell of the charts of some units, day by day (design 4.5)?

A *chart* is one unit's cells of one cell rule over a span of days. Whether a cell is expected and
filled is answered by the engine; here each is laid beside the marks that speak of it, or beside the
reason it is pre-marked with. Charts are those of one site: of a unit's days elsewhere only that is
told.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
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

__all__ = ["CellState", "Chart", "ChartCell", "Marks", "UnitCharts", "live_entries", "unit_charts"]


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
Marks = Mapping[tuple[str, str, dt.date], Sequence[StoredEntry]]
"""Live entries that speak of a unit, a task and a day, in the order of the unit's chain."""


class ChartCell(NamedTuple):
    """One cell: its period (both ends included), its state, the marks that speak of its days.

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
    marks = _marks(sheet, days, live_entries(entries, sheet.known_at))
    return [_unit(sheet, days, place, marks) for place in range(len(sheet.fleet.units))]


def live_entries(entries: Iterable[StoredEntry], known_at: dt.datetime | None) -> list[StoredEntry]:
    """The entries that count: known, with a mark, not struck."""
    known = [line for line in entries if known_at is None or line.known_at <= known_at]
    struck = {line.entry.strikes for line in known if line.entry.strikes}
    return [line for line in known if line.entry.mark and line.entry.key not in struck]


def _marks(sheet: Sheet, days: ChartDays, live: Iterable[StoredEntry]) -> Marks:
    """Spread entries over the days they speak of: of a span the expected ones (design 7)."""
    place_of = {unit.property_number: n for n, unit in enumerate(sheet.fleet.units)}
    found: dict[tuple[str, str, dt.date], list[StoredEntry]] = defaultdict(list)
    last_on = min(sheet.on, days.dates[-1])
    for line in live:
        entry = line.entry
        if entry.property_number not in place_of or entry.on > last_on:
            continue
        chart = entry.property_number, entry.task
        if entry.to_on in (None, entry.on):
            found[*chart, entry.on].append(line)
            continue
        to_on = min(entry.to_on or entry.on, last_on)
        for on in days.expected_within(place_of[entry.property_number], entry.on, to_on):
            found[*chart, on].append(line)
    return found


def _unit(sheet: Sheet, days: ChartDays, place: int, marks: Marks) -> UnitCharts:
    """One unit's charts, in the order of its kind's rules."""
    duties, charts = sheet.fleet.duties, []
    for number, versions in enumerate(duties.versions):
        rows = duties.rows(number)
        own = np.flatnonzero(duties.unit[rows] == place)
        if own.size and any(rule.each for rule in versions):
            row = rows.start + int(own[0])
            charts.append(_Row(sheet, days, place, number, row, marks).chart())
    return UnitCharts(sheet.fleet.units[place], days.of_span(place), charts)


@dataclass(frozen=True, slots=True)
class _Row:
    """One unit × task: the unit's place, the number of the task's versions, its duty."""

    sheet: Sheet
    days: ChartDays
    place: int
    number: int
    row: int
    marks: Marks

    def chart(self) -> Chart:
        days, fleet = self.days, self.sheet.fleet
        versions, first = fleet.duties.versions[self.number], days.first_day
        periods = Periods.within(versions, first, first + days.count - 1)
        on = day_of(self.sheet.on)
        counts = self.sheet.marks.counts(self.row, 1, first, days.count, on)
        found = cells(periods, days.expected[self.place : self.place + 1], counts, first)
        wanted = (periods.to_days >= day_of(days.from_on)) & (
            periods.from_days <= day_of(days.to_on)
        )
        return Chart(
            fleet.tasks[self.number],
            [self._cell(found, column) for column in np.flatnonzero(wanted).tolist()],
        )

    def _cell(self, found: Cells, column: int) -> ChartCell:
        first, dates = self.days.first_day, self.days.dates
        low = int(found.periods.from_days[column]) - first
        high = int(found.periods.to_days[column]) - first
        rule, own = found.periods.rules[column], self._own(low, high)
        closes = int(found.closes[0, column]) - first
        if not found.expected[0, column] or not self.days.is_here(self.place, closes):
            reason = self._reason(low, high)
            period = dates[low], dates[high]
            return ChartCell(*period, None, None, CellState.PRE_MARKED, own, reason, rule)
        opens_on, closes_on = dates[int(found.opens[0, column]) - first], dates[closes]
        state = self._state(bool(found.filled[0, column]), closes_on, own)
        return ChartCell(dates[low], dates[high], opens_on, closes_on, state, own, None, rule)

    def _own(self, low: int, high: int) -> Sequence[StoredEntry]:
        """The marks that speak of the days, each once."""
        unit = self.sheet.fleet.units[self.place].property_number
        chart, dates = (unit, self.sheet.fleet.tasks[self.number]), self.days.dates
        own = [line for on in dates[low : high + 1] for line in self.marks.get((*chart, on), ())]
        return own if low == high else list({line.entry.key: line for line in own}.values())

    def _reason(self, low: int, high: int) -> Reason | None:
        """Of the reasons of a period's days the one that tells most of the cell."""
        some = (self.days.reason(self.place, turn) for turn in range(low, high + 1))
        return min(
            (reason for reason in some if reason), key=lambda one: _TURN[one.cause], default=None
        )

    def _state(self, is_filled: bool, closes_on: dt.date, own: Sequence[StoredEntry]) -> CellState:
        if not is_filled:
            return CellState.GAP if closes_on < self.sheet.on else CellState.OPEN
        said = {line.entry.mark for line in own}
        for mark in (Mark.DONE, Mark.UNUSED, Mark.EXPLAINED):
            if mark in said:
                return CellState(mark.value)
        return CellState.FILLED
