"""Which cells of the charts of a year does the record ask for now, of many units at once?

Boxes of the head, and initials, are no cells here.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from fleet.services.charts.faces import asked_days
from fleet.services.charts.facts import RowRole
from fleet.services.charts.frozen import RowKey, row_key
from fleet.services.charts.periods import MONTHS_OF_EACH, first_monday, paper_span
from fleet.services.charts.rows import RowPlan
from fleet.services.columns import FleetColumns
from fleet.services.stays import Span
from schedules.cells import Periods, cells
from schedules.dates import Counts, Days, Mask, date_of, day_of
from schedules.rules import Each, Rule

__all__ = ["AskedCells", "AskedRow"]


@dataclass(frozen=True, slots=True)
class AskedRow:
    """The cells that versions of a rule have in a row, whether units are asked for them or not.

    slots: where each stands in its row, counted from 0. expected: bool (units, cells). closes: days
    (units or 1, cells), of no meaning where not expected.
    """

    key: RowKey
    title: str
    slots: Counts
    from_days: Days
    to_days: Days
    expected: Mask
    closes: Days

    def left(self, unit: int, here: Mask, first_day: int, on: int) -> Mask:
        """Whether each cell is expected of a unit at a site and has not closed before a day.

        unit: its place among the row's. here: whether it stands at the site, a day each from
        `first_day` on.
        """
        closes = self.closes[unit if len(self.closes) > 1 else 0]
        places = np.clip(closes - first_day, 0, len(here) - 1)
        is_left: Mask = self.expected[unit] & (closes >= on) & here[places]
        return is_left

    def spans(self, is_told: Mask) -> list[tuple[dt.date, dt.date]]:
        """The first and the last day of each cell that is to be told."""
        days = zip(self.from_days[is_told].tolist(), self.to_days[is_told].tolist(), strict=True)
        return [(date_of(first), date_of(last)) for first, last in days]


class AskedCells:
    """The cells of a year that are asked for of the units of a fleet."""

    def __init__(self, fleet: FleetColumns, year: int) -> None:
        self._year = year
        first_on, last_on = paper_span(year)
        self.first_day, self.last_day = day_of(first_on), day_of(last_on)
        self._new_year = day_of(dt.date(year, 1, 1))
        self._year_end = day_of(dt.date(year, 12, 31))
        index, units = fleet.index(first_on, last_on), np.arange(len(fleet.units))
        days = self.last_day - self.first_day + 1
        self._expected = fleet.columns.expected(index, units, self.first_day, days)

    def here(self, spans: Sequence[Span]) -> Mask:
        """Whether each day of the year and its weeks lies in one of some spans; bool (days,)."""
        is_here = np.zeros(self.last_day - self.first_day + 1, dtype=np.bool_)
        for from_on, to_on in spans:
            low, high = day_of(from_on) - self.first_day, day_of(to_on) - self.first_day
            is_here[max(0, low) : max(0, high + 1)] = True
        return is_here

    def open_days(self, place: int, here: Mask) -> Mask:
        """The days of the year on which a unit is expected to be marked where it is `here`."""
        is_open: Mask = self._expected[place] & here
        return is_open[self._days_of_year()]

    def _days_of_year(self) -> slice:
        return slice(self._new_year - self.first_day, self._year_end - self.first_day + 1)

    def rows(
        self,
        places: Sequence[int],
        plans: Sequence[RowPlan],
        tasks: dict[str, tuple[Rule, ...]],
    ) -> list[AskedRow]:
        """The rows of units, at these places in the fleet, whose charts have the same plans.

        Of a cell that asks for several marks the row of the first stands for all.
        """
        expected = self._expected[np.array(places, dtype=np.int64)]
        return [row for one in plans if one.turn == 1 for row in self._row(one, tasks, expected)]

    def _row(
        self, plan: RowPlan, tasks: dict[str, tuple[Rule, ...]], expected: Mask
    ) -> Iterator[AskedRow]:
        if plan.role is RowRole.ON_DAY:
            yield self._on_days(plan, tasks[plan.task], expected)
        elif plan.role in (RowRole.DAY, RowRole.WEEK, RowRole.BOX):
            yield self._cells(plan, tasks[plan.task], expected)

    def _on_days(self, plan: RowPlan, versions: tuple[Rule, ...], expected: Mask) -> AskedRow:
        is_asked = np.array(asked_days(self._year, versions, plan.versions), dtype=np.bool_)
        days = np.arange(self._new_year, self._year_end + 1, dtype=np.int32)
        is_expected = expected[:, self._days_of_year()] & is_asked
        slots = (days - self._new_year).astype(np.int32)
        return AskedRow(row_key(plan), plan.title, slots, days, days, is_expected, days[None, :])

    def _cells(self, plan: RowPlan, versions: tuple[Rule, ...], expected: Mask) -> AskedRow:
        whole = Periods.within(versions, self.first_day, self.last_day)
        own = [place for place, rule in enumerate(whole.rules) if rule.each is plan.each]
        if plan.each is Each.OPEN_DAY:
            days = whole.from_days
            own = [n for n in own if self._new_year <= days[n] <= self._year_end]
        rules = tuple(whole.rules[place] for place in own)
        periods = Periods(whole.from_days[own], whole.to_days[own], rules)
        unmarked = np.zeros(expected.shape, dtype=np.uint8)
        found = cells(periods, expected, unmarked, self.first_day)
        slots, first, last = self._slots(plan.each, periods), periods.from_days, periods.to_days
        key = row_key(plan)
        return AskedRow(key, plan.title, slots, first, last, found.expected, found.closes)

    def _slots(self, each: Each | None, periods: Periods) -> Counts:
        if each is Each.OPEN_DAY:
            return (periods.from_days - self._new_year).astype(np.int32)
        if each is Each.WEEK:
            monday = day_of(first_monday(self._year))
            return ((periods.from_days - monday) // 7).astype(np.int32)
        months = MONTHS_OF_EACH[each or Each.YEAR]
        firsts = map(date_of, periods.from_days.tolist())
        return np.array([(on.month - 1) // months for on in firsts], dtype=np.int32)
