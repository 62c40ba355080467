"""Do the cells of charts agree, cell by cell and day by day, with the literal reference?"""

from __future__ import annotations

import datetime as dt
from typing import cast

from hypothesis import HealthCheck, event, given, settings

from fleet.services.charts.cells import CellState, ChartCell, UnitCharts, unit_charts
from fleet.services.charts.days import Cause, Reason
from fleet.services.due import sheets
from fleet.services.kept import rebuild
from fleet.services.ports import Record
from fleet.services.questions import Question
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.reference.calendars import WEEKDAYS, RefCalendar
from tests.reference.cells import RefCell, expected_cells
from tests.reference.dates import days_between
from tests.reference.units import UnitOfFleet
from tests.strategies import Case, cases

NOON = dt.datetime(2028, 1, 2, 12, tzinfo=dt.UTC)
drawn = settings(max_examples=30, deadline=None, suppress_health_check=list(HealthCheck))
Told = tuple[dt.date, dt.date, dt.date, dt.date, bool, bool]


def charts_of(
    case: Case, known_at: dt.datetime | None = None, site: str | None = None
) -> list[tuple[UnitCharts, UnitOfFleet]]:
    """Each unit's charts of the case's span, beside the unit of the reference."""
    bridged = BridgedRecord(case.fleet)
    record = cast("Record", bridged)
    rebuild(record, list(bridged.unit_ids().values()), NoPublicHolidays())
    question = Question(now=NOON, on=case.on, known_at=known_at)
    (sheet,) = sheets(record, NoPublicHolidays(), question)
    span = case.gaps_from, case.gaps_to
    outages = record.register().outages.values()
    found = unit_charts(sheet, outages, record.entries(), *span, site)
    calendars = {one.site: RefCalendar(case.fleet, one) for one in case.fleet.sites}
    units = {
        unit.property_number: UnitOfFleet(case.fleet, unit, calendars, known_at)
        for unit in case.fleet.units
    }
    return [(charts, units[charts.unit.property_number]) for charts in found]


def told(cell: ChartCell) -> Told:
    assert cell.opens_on is not None
    assert cell.closes_on is not None
    is_filled = cell.state not in (CellState.GAP, CellState.OPEN)
    is_gap = cell.state is CellState.GAP
    return cell.from_on, cell.to_on, cell.opens_on, cell.closes_on, is_filled, is_gap


def expected(cell: RefCell, on: dt.date) -> Told:
    gap = cell.is_gap(on)
    return cell.period_from, cell.period_to, cell.opens, cell.closes, cell.is_filled, gap


def assert_cells_agree(case: Case, known_at: dt.datetime | None) -> None:
    for charts, of in charts_of(case, known_at):
        for chart in charts.charts:
            made = [
                told(cell)
                for cell in chart.cells
                if cell.state is not CellState.PRE_MARKED and cell.from_on <= case.on
            ]
            wanted = [
                expected(cell, case.on)
                for cell in expected_cells(of, chart.task, case.on)
                if cell.period_to >= case.gaps_from and cell.period_from <= case.gaps_to
                if cell.period_from <= case.on
            ]
            event("gaps" if any(cell[5] for cell in wanted) else "no gap")
            assert sorted(made) == sorted(wanted)


@drawn
@given(case=cases())
def test_expected_cells_and_their_fill_agree_with_the_reference(case: Case) -> None:
    assert_cells_agree(case, None)


@drawn
@given(case=cases())
def test_cells_as_known_at_an_instant_agree_with_the_reference(case: Case) -> None:
    assert_cells_agree(case, case.known_at)


def literal_reasons(of: UnitOfFleet, day: dt.date) -> list[Reason | None]:
    """Why no mark is expected; several where closures overlap, of which design 4.2 names none."""
    reason = _literal_reason(of, day)
    if reason is None or reason.cause is not Cause.CLOSURE:
        return [reason]
    closures = of.calendar_on(day)._closures
    return [Reason(Cause.CLOSURE, c.reason) for c in closures if c.from_on <= day <= c.to_on]


def _literal_reason(of: UnitOfFleet, day: dt.date) -> Reason | None:
    """Asked of the reference one cause after another."""
    record_from_on = of.unit.record_from_on
    if of.is_retired(day):
        return Reason(Cause.RETIRED, "")
    if day < of.unit.in_service_on:
        return Reason(Cause.NOT_YET, "")
    if record_from_on is not None and day < record_from_on:
        return Reason(Cause.BEFORE, "")
    if outage := of.outage_on(day):
        return Reason(Cause.OUT, outage.reason)
    calendar = of.calendar_on(day)
    words = calendar.why_closed(day)
    if words is None:
        return None
    if any(c.from_on <= day <= c.to_on for c in calendar._closures):
        return Reason(Cause.CLOSURE, words)
    return Reason(Cause.WEEKDAY if words in WEEKDAYS else Cause.HOLIDAY, words)


@drawn
@given(case=cases())
def test_each_day_is_pre_marked_with_the_reason_of_the_reference(case: Case) -> None:
    for charts, of in charts_of(case):
        days = days_between(case.gaps_from, case.gaps_to)
        assert len(charts.reasons) == len(days)
        for day, reason in zip(days, charts.reasons, strict=True):
            assert reason in literal_reasons(of, day)


@drawn
@given(case=cases())
def test_a_day_bears_the_marks_that_speak_of_it(case: Case) -> None:
    for charts, of in charts_of(case):
        for chart in charts.charts:
            for cell in chart.cells:
                if cell.from_on == cell.to_on:
                    day = cell.from_on
                    marks = of.marks_on(chart.task, day) if day <= case.on else 0
                    assert len(cell.marks) == marks


@drawn
@given(case=cases())
def test_a_cell_is_of_the_site_where_the_unit_stood_on_its_last_day(case: Case) -> None:
    """Over all sites each expected cell is told once, and pre-marked at every other site."""
    whole = {
        (charts.unit.property_number, chart.task, cell.from_on, cell.rule): of
        for charts, of in charts_of(case)
        for chart in charts.charts
        for cell in chart.cells
        if cell.state is not CellState.PRE_MARKED
    }
    for site in case.fleet.sites:
        for charts, of in charts_of(case, site=site.site):
            for chart in charts.charts:
                for cell in chart.cells:
                    key = charts.unit.property_number, chart.task, cell.from_on, cell.rule
                    if cell.closes_on is not None:
                        assert of.calendar_on(cell.closes_on).site.site == site.site
                        del whole[key]
                    else:
                        assert cell.state is CellState.PRE_MARKED
                        assert cell.reason is not None
    assert not whole
