"""What stands on the charts of a year?

Site by site, so that of a state with many units only what a site needs is in memory at once.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby

from fleet.domain.records import Mark, StoredEntry
from fleet.domain.register import Register
from fleet.errors import BadInput
from fleet.services.charts.cautions import cautions_of
from fleet.services.charts.cells import ChartMaker, Marks, UnitCharts, marks_of
from fleet.services.charts.chosen import AskedChart, ChartQuestion, asked_charts
from fleet.services.charts.dated import dated_duties
from fleet.services.charts.days import ChartDays
from fleet.services.charts.faces import YearRows
from fleet.services.charts.facts import YearChart
from fleet.services.charts.notes import day_signs, month_notes
from fleet.services.charts.periods import paper_span
from fleet.services.columns import book_of
from fleet.services.due import Sheet, answer_sheet, sheets
from fleet.services.narrow import check_names
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question

__all__ = ["ChartQuestion", "ChartsAnswer", "year_charts"]

_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class ChartsAnswer:
    """The charts by county, site and property number.

    passed_over: sentences about units that have no chart. failures: duties whose dates cannot be
    told, each with the reason; their units have charts all the same.
    """

    charts: Sequence[YearChart]
    passed_over: Sequence[str]
    failures: Sequence[str]


def year_charts(
    record: Record,
    public_holidays: PublicHolidays,
    asked: ChartQuestion,
    step: Callable[[int], None] = lambda _: None,
) -> ChartsAnswer:
    """The charts of a year, a chart a unit and site where it may be marked in that year.

    The record is looked at on the day asked for, but no later than when the year and its last week
    are over; duties due by date, and cautions, no later than on 31 December. `step` is told how
    many charts more are made. Raises BadInput for names, numbers and years there
    are none of, and where no chart is left.
    """
    check_names(record, asked.narrow)
    register = record.register(asked.known_at)
    chosen = asked_charts(register, book_of(register), asked)
    units = {one.unit.property_number: one.unit for one in chosen.charts}
    seen_at = min(asked.now, asked.known_at) if asked.known_at else asked.now
    question = Question(now=seen_at, on=asked.on, known_at=asked.known_at)
    charts: list[YearChart] = []
    failures: list[str] = []
    for sheet in sheets(record, public_holidays, question, units.values()):
        maker = _Maker(record, register, sheet, asked.year)
        failures += maker.failures
        for chart in maker.charts(chosen.charts):
            charts.append(chart)
            step(1)
    if not charts:
        raise BadInput(chosen.nothing_left)
    charts.sort(key=lambda one: (one.site.county, one.site.site, one.unit.property_number))
    return ChartsAnswer(charts, chosen.passed_over, failures)


class _Maker:
    """Makes the charts of the units of one sheet."""

    def __init__(self, record: Record, register: Register, sheet: Sheet, year: int) -> None:
        self._record, self._register, self._year = record, register, year
        self._paper = paper_span(year)
        self._sheet = replace(sheet, on=min(sheet.on, self._paper[1] + _ONE_DAY))
        self._places = {unit.property_number: n for n, unit in enumerate(sheet.fleet.units)}
        self._span = dt.date(year, 1, 1), dt.date(year, 12, 31)
        self._names = {site.site: site.name for site in register.sites.values()}
        self._ids = record.unit_ids()
        self._head_on = min(sheet.on, self._span[1])
        rows, failed = answer_sheet(replace(sheet, on=self._head_on))
        self._rows = {(row.property_number, row.task): row for row in rows.values()}
        self.failures = list(failed.values())

    def charts(self, asked: Iterable[AskedChart]) -> Iterator[YearChart]:
        """Those of the sheet's units, in the order they are asked for."""
        own = (one for one in asked if one.unit.property_number in self._places)
        maker, outages = ChartMaker(self._sheet), self._register.outages.values()
        days = ChartDays(self._sheet.fleet, outages, *self._span, None)
        for site, group in groupby(own, key=lambda one: one.site):
            yield from self._of_site(list(group), days.at(site.site), maker)

    def _of_site(
        self, asked: Sequence[AskedChart], days: ChartDays, maker: ChartMaker
    ) -> Iterator[YearChart]:
        numbers = [one.unit.property_number for one in asked]
        marks = marks_of(self._sheet, days, self._entries(numbers))
        for one in asked:
            charts = maker.charts(days, self._places[one.unit.property_number], marks)
            if not one.is_of_weeks or _has_cell(charts):
                yield self._chart(one, charts, days, marks)

    def _entries(self, numbers: Iterable[str]) -> Iterator[StoredEntry]:
        """The units' entries that may speak of the year's days and weeks, and those that strike
        others.

        Of a year that begins after the sheet's day there are none to be read.
        """
        first_on, on = self._paper[0], self._sheet.on
        if on < first_on:
            return
        for line in self._record.entries([self._ids[number] for number in numbers]):
            entry = line.entry
            speaks = entry.on <= on and first_on <= (entry.to_on or entry.on)
            if speaks or entry.strikes:
                yield line

    def _chart(
        self, one: AskedChart, charts: UnitCharts, days: ChartDays, marks: Marks
    ) -> YearChart:
        unit, on, number = one.unit, self._sheet.on, one.unit.property_number
        signs, first = day_signs(charts.reasons), days.turn_of(self._span[0])

        def done(task: str) -> Mapping[int, Sequence[StoredEntry]]:
            return _done(marks.get((number, task), {}), first)

        tasks, reports = one.kind.tasks(unit.model), self._register.reports
        rows = YearRows(self._year, on, tasks, charts.charts, signs, done).rows(one.plans.rows)
        head_on, answers = self._head_on, self._rows
        dated = dated_duties(one.kind, unit.model, one.plans, number, head_on, answers, reports)
        return YearChart(
            unit=unit,
            kind=one.kind,
            site=one.site,
            year=self._year,
            on=on,
            days=signs,
            rows=rows,
            dated=tuple(dated),
            notes=month_notes(self._year, charts.reasons, self._names),
            cautions=cautions_of(one.kind, unit.model, one.plans, head_on),
        )


def _has_cell(charts: UnitCharts) -> bool:
    return any(cell.closes_on is not None for chart in charts.charts for cell in chart.cells)


def _done(
    marks: Mapping[int, Sequence[StoredEntry]], first: int
) -> Mapping[int, Sequence[StoredEntry]]:
    """The lines that say done, by day of the year; first: the turn of its first day."""
    found: dict[int, list[StoredEntry]] = defaultdict(list)
    for turn, lines in marks.items():
        for line in lines:
            if line.entry.mark is Mark.DONE:
                found[turn - first].append(line)
    return found
