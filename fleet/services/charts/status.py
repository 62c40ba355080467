"""Which units have no current chart in hand, and why?

A unit is asked about where it wants a chart (`wanted`) and a day is left on which anything is
expected of it at the site.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from enum import StrEnum
from functools import cached_property
from itertools import chain
from typing import NamedTuple

import numpy as np

from fleet.domain.prints import Print
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker
from fleet.services.charts.days import ChartDays, Reason
from fleet.services.charts.differences import DayWhy, differences_from
from fleet.services.charts.facts import NOT_ASKED, OPEN, SIGN_OF_CAUSE
from fleet.services.charts.frozen import FrozenRow, frozen_row, rows_of
from fleet.services.charts.prints import ChartKey, current_prints
from fleet.services.charts.row_differences import row_differences
from fleet.services.charts.rows import row_plans
from fleet.services.charts.wanted import WantedChart, wanted_charts
from fleet.services.columns import FleetColumns, book_of, fleet_columns
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Narrow, Question
from schedules.dates import Mask, day_of
from schedules.rules import RuleBook

__all__ = ["Missing", "MissingChart", "missing_charts"]


class Missing(StrEnum):
    """Why a unit has no current chart."""

    NEW_UNIT = "new unit"
    """Nothing was ever printed for it."""
    NEW_YEAR = "new year"
    """Charts of other years were."""
    MOVED = "moved"
    """A chart of the year was, for another site."""
    CHANGED_RULE = "changed rule"
    """The chart asks for something else than the rule book does now."""
    CHANGED_DAYS = "changed days"
    """A day ahead is crossed out on the chart and expected now."""


class MissingChart(NamedTuple):
    """One unit × site × year without a current chart; the fields, in order, are the columns."""

    site: str
    county: str
    region: str
    property_number: str
    kind: str
    year: int
    reason: str
    print: str | None
    """The number of the print that is out of date; None where there is none."""
    printed_on: dt.date | None
    differs: str | None
    """In what that print differs from the record, sentences joined by '; '."""


def missing_charts(
    record: Record, public_holidays: PublicHolidays, question: Question, year: int | None = None
) -> list[MissingChart]:
    """The charts that are to be printed, in the order of site, unit and year.

    question: of its day, what was printed later is not seen; tasks and states do not narrow. year:
    charts of this year alone; of a year that is over there are none to print.
    """
    register = record.register(question.known_at)
    book = book_of(register)
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    fleet = fleet_columns(register, book, calendars, _units(register, question.narrow))
    seen = _Seen(register, book, fleet, question)
    wanted = wanted_charts(register, book, fleet, question, year)
    found = [row for want in wanted if (row := seen.row(want)) is not None]
    return sorted(found, key=lambda row: (row.site, row.property_number, row.year))


def _units(register: Register, narrow: Narrow) -> list[Unit]:
    kinds = {kind.casefold() for kind in narrow.kinds}
    return [one for one in register.units.values() if not kinds or one.kind.casefold() in kinds]


class _Seen:
    """What the question sees of the register."""

    def __init__(
        self, register: Register, book: RuleBook, fleet: FleetColumns, question: Question
    ) -> None:
        self._register, self._book = register, book
        self._fleet, self._question = fleet, question
        self._expected: dict[int, Mask] = {}
        self._rows: dict[tuple[str, str, int], tuple[FrozenRow, ...]] = {}
        self._is_same: dict[tuple[str, tuple[str, str, int]], bool] = {}
        self._days: dict[tuple[int, str | None], ChartDays] = {}

    @cached_property
    def _prints(self) -> Mapping[str, Sequence[Print]]:
        """The charts of each unit that were printed by the day asked about, if one is named."""
        found: dict[str, list[Print]] = defaultdict(list)
        for one in self._register.prints.values():
            is_seen = self._question.on is None or one.printed_on <= self._question.on
            if is_seen and not one.known_at:
                found[one.property_number].append(one)
        return found

    @cached_property
    def _current(self) -> Mapping[ChartKey, Print]:
        return current_prints(chain.from_iterable(self._prints.values()))

    def row(self, want: WantedChart) -> MissingChart | None:
        """Why a wanted chart is missing; None where it is in hand, or nothing is left to mark."""
        days, today = self._open_days(want), (want.on - dt.date(want.year, 1, 1)).days
        if not days[max(0, today) :].any():
            return None
        unit = self._fleet.units[want.place]
        current = self._current.get((unit.property_number, want.site.site, want.year))
        if current is None:
            return _row(want, unit, self._never_printed(unit, want.year), None, "")
        reason = self._out_of_date(want, unit, current, days)
        if reason is None:
            return None
        signs = "".join(np.where(days, OPEN, NOT_ASKED).tolist())
        rows = self._rows_now(unit, want.year)
        told = differences_from(current, signs, self._why(want), rows)
        return _row(want, unit, reason, current, "; ".join(told))

    def _open_days(self, want: WantedChart) -> Mask:
        """The days of the year that are expected of a unit at the site; bool."""
        first_on, last_on = dt.date(want.year, 1, 1), dt.date(want.year, 12, 31)
        first, count = day_of(first_on), (last_on - first_on).days + 1
        if want.year not in self._expected:
            index, units = self._fleet.index(first_on, last_on), np.arange(len(self._fleet.units))
            columns = self._fleet.columns
            self._expected[want.year] = columns.expected(index, units, first, count)
        is_here = np.zeros(count, dtype=np.bool_)
        for from_on, to_on in want.spans:
            is_here[day_of(from_on) - first : day_of(to_on) - first + 1] = True
        is_open: Mask = self._expected[want.year][want.place] & is_here
        return is_open

    def _never_printed(self, unit: Unit, year: int) -> Missing:
        years = {one.year for one in self._prints.get(unit.property_number, ())}
        if year in years:
            return Missing.MOVED
        return Missing.NEW_YEAR if years else Missing.NEW_UNIT

    def _out_of_date(
        self, want: WantedChart, unit: Unit, current: Print, days: Mask
    ) -> Missing | None:
        sort = (unit.kind, unit.model, want.year)
        if (current.rows, sort) not in self._is_same:
            now = self._rows_now(unit, want.year)
            changed = row_differences(rows_of(current), now, want.year)
            self._is_same[current.rows, sort] = not changed
        if not self._is_same[current.rows, sort]:
            return Missing.CHANGED_RULE
        ahead = max(0, (want.on - dt.date(want.year, 1, 1)).days + 1)
        is_crossed = np.array(list(current.days)) != OPEN
        return Missing.CHANGED_DAYS if (is_crossed & days)[ahead:].any() else None

    def _rows_now(self, unit: Unit, year: int) -> tuple[FrozenRow, ...]:
        sort = (unit.kind, unit.model, year)
        if sort not in self._rows:
            plans = row_plans(self._book.kinds[unit.kind], unit.model, year)
            self._rows[sort] = tuple(frozen_row(plan) for plan in plans.rows)
        return self._rows[sort]

    def _why(self, want: WantedChart) -> DayWhy:
        """Why a day of the year is closed; worked out only if it is asked for."""
        reasons: list[Reason | None] = []

        def why(turn: int) -> tuple[str, str]:
            if not reasons:
                reasons.extend(self._chart_days(want).of_span(want.place))
            reason = reasons[turn]
            assert reason is not None  # noqa: S101 - the engine says so
            return SIGN_OF_CAUSE[reason.cause], reason.words

        return why

    def _chart_days(self, want: WantedChart) -> ChartDays:
        anywhere, here = (want.year, None), (want.year, want.site.site)
        if anywhere not in self._days:
            span = dt.date(want.year, 1, 1), dt.date(want.year, 12, 31)
            outages = self._register.outages.values()
            self._days[anywhere] = ChartDays(self._fleet, outages, *span, None)
        if here not in self._days:
            self._days[here] = self._days[anywhere].at(want.site.site)
        return self._days[here]


def _row(
    want: WantedChart, unit: Unit, reason: Missing, old: Print | None, differs: str
) -> MissingChart:
    site = want.site
    return MissingChart(
        site=site.site,
        county=site.county,
        region=site.region,
        property_number=unit.property_number,
        kind=unit.kind,
        year=want.year,
        reason=reason.value,
        print=old.number if old else None,
        printed_on=old.printed_on if old else None,
        differs=differs or None,
    )
