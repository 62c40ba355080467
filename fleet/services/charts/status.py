"""Which units have no current chart in hand, and why?

A unit is asked about where it wants a chart (`wanted`) and a cell is left that is expected of it
at the site: one that has not closed before the day asked about.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from enum import StrEnum
from functools import cached_property
from itertools import chain
from typing import NamedTuple

import numpy as np

from fleet.domain.prints import Print
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.calendars import CalendarMaker
from fleet.services.charts.asked_cells import AskedCells, AskedRow
from fleet.services.charts.days import Cause, ChartDays, Reason
from fleet.services.charts.differences import DayWhy, cells_asked, differences_from
from fleet.services.charts.facts import NOT_ASKED, OPEN, SIGN_OF_CAUSE
from fleet.services.charts.frozen import FrozenRow, cells_of, frozen_row, row_key, rows_of
from fleet.services.charts.periods import paper_span
from fleet.services.charts.prints import ChartKey, current_prints
from fleet.services.charts.row_differences import row_differences
from fleet.services.charts.rows import row_plans
from fleet.services.charts.wanted import WantedChart, wanted_charts
from fleet.services.columns import FleetColumns, book_of, fleet_columns
from fleet.services.narrow import units_let_through
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from fleet.services.standing import day_at
from schedules.dates import Mask, day_of
from schedules.rules import RuleBook

__all__ = ["Missing", "MissingChart", "missing_charts"]

_MOST_CELLS = 366
"""A row has no more of them."""
_CROSSED = tuple(SIGN_OF_CAUSE.values())
"""Where no version of the rule asks for a cell, only a change of the rule makes it asked for."""
Sort = tuple[str, str, int]
"""Kind, model and year: what the rows of a chart depend on."""


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
    """A cell is crossed out on the chart, and expected now."""


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
    charts of this year alone. Raises BadInput for a year that is over at every site.
    """
    register = record.register(question.known_at)
    book = book_of(register)
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    fleet = fleet_columns(register, book, calendars, units_let_through(register, question.narrow))
    if year is not None:
        _refuse_past(register, question, year)
    seen = _Seen(register, book, fleet, question)
    wanted = wanted_charts(register, book, fleet, question, year)
    found = [row for want in wanted if (row := seen.row(want)) is not None]
    return sorted(found, key=lambda row: (row.site, row.property_number, row.year))


def _refuse_past(register: Register, question: Question, year: int) -> None:
    sites = register.sites.values()
    today = min((question.on or day_at(one, question.now) for one in sites), default=None)
    if today is not None and paper_span(year)[1] < today:
        mend = f"its charts are history: dueward chart --year {year} prints them"
        raise BadInput([Fault("--year", None, None, f"the year {year} is over", mend)])


class _Seen:
    """What the question sees of the register."""

    def __init__(
        self, register: Register, book: RuleBook, fleet: FleetColumns, question: Question
    ) -> None:
        self._register, self._book = register, book
        self._fleet, self._question = fleet, question
        self._cells: dict[int, AskedCells] = {}
        self._asked: dict[Sort, list[AskedRow]] = {}
        self._rows: dict[Sort, tuple[FrozenRow, ...]] = {}
        self._is_same: dict[tuple[str, Sort], bool] = {}
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

    @cached_property
    def _places(self) -> Mapping[tuple[str, str], Mapping[int, int]]:
        """The units of each kind and model: their places in the fleet, and among each other."""
        found: dict[tuple[str, str], dict[int, int]] = defaultdict(dict)
        for place, unit in enumerate(self._fleet.units):
            own = found[unit.kind, unit.model]
            own[place] = len(own)
        return found

    def row(self, want: WantedChart) -> MissingChart | None:
        """Why a wanted chart is missing; None where it is in hand, or nothing is left to mark."""
        if want.year not in self._cells:
            self._cells[want.year] = AskedCells(self._fleet, want.year)
        here = self._cells[want.year].here(want.spans)
        left = self._left(want, here)
        if not any(is_left.any() for _, is_left in left):
            return None
        unit = self._fleet.units[want.place]
        current = self._current.get((unit.property_number, want.site.site, want.year))
        if current is None:
            return _row(want, unit, self._never_printed(unit, want.year), None, "")
        crossed: list[str] = []
        if self._is_changed(unit, current):
            reason = Missing.CHANGED_RULE
        elif crossed := list(_crossed(current, left)):
            reason = Missing.CHANGED_DAYS
        else:
            return None
        days = self._cells[want.year].open_days(want.place, here)
        signs = "".join(np.where(days, OPEN, NOT_ASKED).tolist())
        rows = self._rows_now(unit, want.year)
        told = differences_from(current, signs, self._why(want), rows, crossed)
        return _row(want, unit, reason, current, "; ".join(told))

    def _left(self, want: WantedChart, here: Mask) -> list[tuple[AskedRow, Mask]]:
        """Of each row the cells that are still asked for."""
        unit, asked = self._fleet.units[want.place], self._cells[want.year]
        sort, places = (unit.kind, unit.model, want.year), self._places[unit.kind, unit.model]
        if sort not in self._asked:
            kind = self._book.kinds[unit.kind]
            plans = row_plans(kind, unit.model, want.year).rows
            self._asked[sort] = asked.rows(list(places), plans, kind.tasks(unit.model))
        place, on = places[want.place], day_of(want.on)
        return [(row, row.left(place, here, asked.first_day, on)) for row in self._asked[sort]]

    def _never_printed(self, unit: Unit, year: int) -> Missing:
        years = {one.year for one in self._prints.get(unit.property_number, ())}
        if year in years:
            return Missing.MOVED
        return Missing.NEW_YEAR if years else Missing.NEW_UNIT

    def _is_changed(self, unit: Unit, current: Print) -> bool:
        """Say whether the rule book asks for something else than a print does."""
        sort = (unit.kind, unit.model, current.year)
        if (current.rows, sort) not in self._is_same:
            now = self._rows_now(unit, current.year)
            changed = row_differences(rows_of(current), now, current.year)
            self._is_same[current.rows, sort] = not changed
        return not self._is_same[current.rows, sort]

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
            words = reason.words
            if reason.cause is Cause.ELSEWHERE:
                words = self._register.sites[(words,)].name
            return SIGN_OF_CAUSE[reason.cause], words

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


def _crossed(current: Print, left: Iterable[tuple[AskedRow, Mask]]) -> Iterator[str]:
    """A sentence for each row with cells, of those left, that are crossed out on a print."""
    keys = map(row_key, rows_of(current))
    signs = dict(zip(keys, cells_of(current), strict=False))
    for row, is_left in left:
        printed = np.array(list(signs.get(row.key, "").ljust(_MOST_CELLS)))
        told = is_left & np.isin(printed, _CROSSED)[row.slots]
        if told.any():
            yield cells_asked(row.title, row.spans(told))


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
