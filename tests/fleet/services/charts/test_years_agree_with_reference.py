"""Do the charts of a year agree, cell by cell, with the literal reference?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import cast

from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from fleet.errors import BadInput
from fleet.services.charts.facts import OPEN, OVER, ChartRow, RowRole, YearChart
from fleet.services.charts.years import ChartQuestion, year_charts
from fleet.services.kept import rebuild
from fleet.services.ports import Record
from schedules.rules import Each
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.reference.calendars import WEEKDAYS, RefCalendar
from tests.reference.cells import RefCell, expected_cells
from tests.reference.dates import days_between
from tests.reference.units import UnitOfFleet
from tests.strategies import Case, cases

NOON = dt.datetime(2030, 1, 2, 12, tzinfo=dt.UTC)
drawn = settings(max_examples=20, deadline=None, suppress_health_check=list(HealthCheck))
MARKED = set("dufe")
Units = Mapping[str, UnitOfFleet]


def charts_of(case: Case, year: int) -> tuple[list[YearChart], Units]:
    """The charts of a year, and the units of the reference as they are known then."""
    record = cast("Record", BridgedRecord(case.fleet))
    rebuild(record, list(record.unit_ids().values()), NoPublicHolidays())
    asked = ChartQuestion(year=year, now=NOON, on=case.on, known_at=case.known_at)
    calendars = {one.site: RefCalendar(case.fleet, one) for one in case.fleet.sites}
    units = {
        unit.property_number: UnitOfFleet(case.fleet, unit, calendars, case.known_at)
        for unit in case.fleet.units
    }
    try:
        return list(year_charts(record, NoPublicHolidays(), asked).charts), units
    except BadInput:
        return [], units


def year_of(cell: RefCell) -> int:
    """The year on whose chart a cell stands: that of its week's Thursday, or of its last day."""
    if cell.rule.each == "week":
        return (cell.period_from + dt.timedelta(days=3)).year
    return cell.period_to.year


def slot_of(cell: RefCell) -> int:
    """Where a cell stands in its row."""
    months = {"month": 1, "quarter": 3, "half-year": 6, "year": 12}
    if cell.rule.each == "open-day":
        return cell.period_from.timetuple().tm_yday - 1
    if cell.rule.each == "week":
        return cell.period_from.isocalendar().week - 1
    assert cell.rule.each is not None
    return (cell.period_from.month - 1) // months[cell.rule.each]


def expected_signs(of: UnitOfFleet, cell: RefCell, on: dt.date) -> list[str]:
    """What the cell's rows say, a mark as 'd' whatever it says."""
    days = days_between(cell.period_from, cell.period_to)
    marks = sum(of.marks_on(cell.rule.task, day) for day in days if day <= on)
    blank = OVER if cell.closes < on else OPEN
    return ["d" if turn <= marks else blank for turn in range(1, cell.rule.times + 1)]


def assert_rows_agree(chart: YearChart, of: UnitOfFleet, task: str, each: Each) -> None:
    """Every expected cell of a task stands at its site, filled or not, and no other does."""
    until = dt.date(chart.year, 12, 31) + dt.timedelta(days=6)
    rows = [row for row in chart.rows if (row.task, row.each) == (task, each)]
    assert [row.turn for row in rows] == list(range(1, len(rows) + 1))
    wanted = {
        (slot_of(cell), turn): sign
        for cell in expected_cells(of, task, until)
        if cell.rule.each == each and year_of(cell) == chart.year
        if of.calendar_on(cell.closes).site.site == chart.site.site
        for turn, sign in enumerate(expected_signs(of, cell, chart.on), 1)
    }
    assert {
        (slot, row.turn): "d" if face.sign in MARKED else face.sign
        for row in rows
        for slot, face in enumerate(row.faces)
        if face.sign in MARKED | {OPEN, OVER}
    } == wanted
    event("cells" if wanted else "no cell")


@drawn
@given(case=cases(), later=st.integers(-1, 1))
def test_cells_agree_with_the_reference(case: Case, later: int) -> None:
    charts, units = charts_of(case, case.on.year + later)
    for chart in charts:
        of = units[chart.unit.property_number]
        for task in of.tasks():
            for each in Each:
                assert_rows_agree(chart, of, task, each)


def literal_sign(of: UnitOfFleet, day: dt.date, site: str) -> str:
    """Why no mark is expected of a unit at a site, asked one cause after another."""
    record_from_on, calendar = of.unit.record_from_on, of.calendar_on(day)
    if of.is_retired(day):
        return "R"
    if day < of.unit.in_service_on:
        return "N"
    if calendar.site.site != site:
        return "E"
    if record_from_on is not None and day < record_from_on:
        return "B"
    if of.outage_on(day):
        return "O"
    words = calendar.why_closed(day)
    if words is None:
        return OPEN
    if any(one.from_on <= day <= one.to_on for one in calendar._closures):
        return "C"
    return "W" if words in WEEKDAYS else "H"


@drawn
@given(case=cases(), later=st.integers(-1, 1))
def test_days_agree_with_the_reference(case: Case, later: int) -> None:
    charts, units = charts_of(case, case.on.year + later)
    for chart in charts:
        of = units[chart.unit.property_number]
        days = days_between(dt.date(chart.year, 1, 1), dt.date(chart.year, 12, 31))
        assert chart.days == "".join(literal_sign(of, day, chart.site.site) for day in days)


@drawn
@given(case=cases(), later=st.integers(-1, 1))
def test_a_unit_has_a_chart_at_each_site_where_it_may_be_marked(case: Case, later: int) -> None:
    year = case.on.year + later
    charts, units = charts_of(case, year)
    found = {(chart.unit.property_number, chart.site.site) for chart in charts}
    assert len(found) == len(charts)
    charted = {number for number, _ in found}
    wanted = {
        (number, of.calendar_on(day).site.site)
        for number, of in units.items()
        for day in days_between(dt.date(year, 1, 1), dt.date(year, 12, 31))
        if day >= (of.unit.record_from_on or day) and day >= of.unit.in_service_on
        if not of.is_retired(day) and number in charted
    }
    assert found == wanted


def shown_done(row: ChartRow, year: int) -> set[dt.date]:
    first_on = dt.date(year, 1, 1)
    return {first_on + dt.timedelta(n) for n, face in enumerate(row.faces) if face.sign == "d"}


@drawn
@given(case=cases(), later=st.integers(-1, 1))
def test_days_on_which_dated_duties_were_done_agree_with_the_reference(
    case: Case, later: int
) -> None:
    charts, units = charts_of(case, case.on.year + later)
    for chart in charts:
        of = units[chart.unit.property_number]
        for row in (row for row in chart.rows if row.role is RowRole.ON_DAY):
            own = {(rule.task, rule.from_on) for rule in row.versions}
            assert shown_done(row, chart.year) == {
                day
                for day in of.done_dates(row.task, chart.on)
                if day.year == chart.year
                if of.calendar_on(day).site.site == chart.site.site or _is_away(of, day)
                if (rule := of.version_on(row.task, day)) and (rule.task, rule.from_on) in own
            }


def _is_away(of: UnitOfFleet, day: dt.date) -> bool:
    """Before its service and after it a unit is at no other site."""
    return day < of.unit.in_service_on or of.is_retired(day)
