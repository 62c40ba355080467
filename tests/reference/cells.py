"""Which cells are expected of a unit, which are filled, and which are gaps (design 4.5)?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from itertools import groupby

from tests.reference.dates import ONE_DAY, days_between, period_label
from tests.reference.records import RefRule
from tests.reference.units import UnitOfFleet

__all__ = ["RefCell", "cell_of_day", "expected_cells", "gap_run"]


@dataclass(frozen=True, kw_only=True)
class RefCell:
    """One expected cell; period and cell ends included; `is_filled` as of the day asked."""

    rule: RefRule
    period_from: dt.date
    period_to: dt.date
    opens: dt.date
    closes: dt.date
    is_filled: bool

    def is_gap(self, on: dt.date) -> bool:
        """Say whether the cell closed before the day without its marks."""
        return not self.is_filled and self.closes < on


def expected_cells(of: UnitOfFleet, task: str, on: dt.date) -> list[RefCell]:
    """The expected cells of all versions, to the period of the day, by closing day.

    Of two that close on one day the one whose period began later comes later.
    """
    kinds_of_period = dict.fromkeys(r.each for r in of.rules if r.task == task and r.each)
    cells = [
        cell
        for each in kinds_of_period
        if each is not None
        for period in _periods(each, of.start_on, on)
        if (cell := _cell(of, task, each, period, on)) is not None
    ]
    return sorted(cells, key=lambda cell: (cell.closes, cell.period_from))


def cell_of_day(
    of: UnitOfFleet, rule: RefRule, cells: list[RefCell], on: dt.date
) -> RefCell | None:
    """The cell of the day's own period; `rule` is the version in force on the day.

    Where that version began after its period did, the cell of an earlier version that holds the
    day, of several the one that began last.
    """
    assert rule.each is not None
    first_on = _period_around(rule.each, on)[0]
    holding = [cell for cell in cells if cell.period_from <= on <= cell.period_to]
    if of.version_on(rule.task, first_on) == rule:
        holding = [cell for cell in holding if cell.rule == rule and cell.period_from == first_on]
    return max(holding, key=lambda cell: cell.period_from) if holding else None


def gap_run(cells: list[RefCell], on: dt.date) -> int:
    """How many cells in a row, back from the latest that closed before the day, are gaps."""
    run = 0
    for cell in reversed([cell for cell in cells if cell.closes < on]):
        if not cell.is_gap(on):
            break
        run += 1
    return run


def _cell(
    of: UnitOfFleet, task: str, each: str, period: list[dt.date], on: dt.date
) -> RefCell | None:
    rule = of.version_on(task, period[0])
    if rule is None or rule.each != each:
        return None
    expected = [day for day in period if of.is_expected(day)]
    if not expected:
        return None
    marks = sum(of.marks_on(task, day) for day in period if day <= on)
    return RefCell(
        rule=rule,
        period_from=period[0],
        period_to=period[-1],
        opens=expected[0],
        closes=expected[-1],
        is_filled=marks >= rule.times,
    )


def _periods(each: str, from_on: dt.date, to_on: dt.date) -> list[list[dt.date]]:
    """The whole periods, as lists of days, from the one of the first day to that of the last."""
    days = days_between(_period_around(each, from_on)[0], _period_around(each, to_on)[-1])
    return [list(period) for _, period in groupby(days, key=lambda day: period_label(day, each))]


def _period_around(each: str, day: dt.date) -> list[dt.date]:
    """All days of the day's period, found by walking until the label changes."""
    first_on = last_on = day
    while period_label(first_on - ONE_DAY, each) == period_label(day, each):
        first_on -= ONE_DAY
    while period_label(last_on + ONE_DAY, each) == period_label(day, each):
        last_on += ONE_DAY
    return days_between(first_on, last_on)
