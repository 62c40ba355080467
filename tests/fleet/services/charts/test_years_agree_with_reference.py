"""Do the charts of a year agree, cell by cell, with the literal reference?"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping
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
from tests.reference.calendars import RefCalendar
from tests.reference.cells import RefCell, expected_cells
from tests.reference.dates import days_between
from tests.reference.premarks import sign_of_day, sign_of_period
from tests.reference.records import (
    RefFleet,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
    new_years_days,
)
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


def all_of(units: Units, year: int) -> Iterator[tuple[UnitOfFleet, RefCell]]:
    """Every cell of the year that is expected of a unit."""
    until = dt.date(year, 12, 31) + dt.timedelta(days=6)
    for of in units.values():
        for task in of.tasks():
            for cell in expected_cells(of, task, until):
                if year_of(cell) == year:
                    yield of, cell


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


def period_of(year: int, each: Each, slot: int) -> list[dt.date]:
    """The days of the cell that stands in a row's place."""
    if each is Each.WEEK:
        return [dt.date.fromisocalendar(year, slot + 1, weekday) for weekday in range(1, 8)]
    days = days_between(dt.date(year, 1, 1), dt.date(year, 12, 31))
    months = {Each.MONTH: 1, Each.QUARTER: 3, Each.HALF_YEAR: 6, Each.YEAR: 12}
    if each is Each.OPEN_DAY:
        return [days[slot]]
    return [day for day in days if (day.month - 1) // months[each] == slot]


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
    for row in rows:
        for slot, face in enumerate(row.faces):
            if (slot, row.turn) not in wanted and face.sign not in MARKED:
                period = period_of(chart.year, each, slot)
                version = of.version_on(task, period[0])
                is_asked = version is not None and version.each == each
                if version is None or not is_asked or row.turn > version.times:
                    assert face.sign == "X"
                else:
                    assert face.sign == sign_of_period(of, period, chart.site.site)
                    event(f"pre-marked {each} {face.sign}")


@drawn
@given(case=cases(), later=st.integers(-1, 1))
def test_cells_agree_with_the_reference(case: Case, later: int) -> None:
    charts, units = charts_of(case, case.on.year + later)
    for chart in charts:
        of = units[chart.unit.property_number]
        for task in of.tasks():
            for each in Each:
                assert_rows_agree(chart, of, task, each)


@drawn
@given(case=cases(), later=st.integers(-1, 1))
def test_days_agree_with_the_reference(case: Case, later: int) -> None:
    charts, units = charts_of(case, case.on.year + later)
    for chart in charts:
        of = units[chart.unit.property_number]
        days = days_between(dt.date(chart.year, 1, 1), dt.date(chart.year, 12, 31))
        assert chart.days == "".join(sign_of_day(of, day, chart.site.site) for day in days)


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
    weeks = {
        (of.unit.property_number, of.calendar_on(cell.closes).site.site)
        for of, cell in all_of(units, year)
        if cell.closes.year != year
    }
    assert found == wanted | weeks


@st.composite
def at_new_year(draw: st.DrawFn) -> Case:
    """One unit that moves, begins or ends about the New Year before or after the year asked of."""
    year = draw(st.integers(2024, 2027))
    about = st.builds(
        lambda late, days: dt.date(year + late, 1, 1) + dt.timedelta(days=days),
        st.integers(0, 1),
        st.integers(-7, 7),
    )
    weeks = st.sampled_from([(0, 1, 2, 3, 4), (0, 1, 2, 3, 4, 5, 6), (2,)])
    names = ("Alder", "Birch", "Cedar")
    sites = tuple(RefSite(site=name, open_days=draw(weeks)) for name in names)
    first_on = draw(st.one_of(st.just(dt.date(2023, 5, 1)), about))
    retired_on = draw(st.one_of(st.none(), about.filter(lambda day: day > first_on)))
    moves = draw(st.sets(about.filter(lambda d: first_on < d < (retired_on or dt.date.max))))
    unit = RefUnit(
        property_number="U-1",
        kind="microscope",
        site="Alder",
        in_service_on=first_on,
        retired_on=retired_on,
    )
    fleet = RefFleet(
        sites=sites,
        units=(unit,),
        rules=tuple(
            RefRule(kind="microscope", task=each, each=each)
            for each in ("open-day", "week", "month")
        ),
        holidays=tuple(day for name in names for day in new_years_days(name)),
        placements=tuple(
            RefPlacement(property_number="U-1", site=draw(st.sampled_from(names)), from_on=day)
            for day in sorted(moves)
        ),
    )
    on = dt.date(year, 7, 1)
    return Case(fleet=fleet, on=on, known_at=None, gaps_from=on, gaps_to=on)


@settings(drawn, max_examples=60)
@given(case=at_new_year())
def test_each_expected_cell_of_a_year_stands_on_exactly_one_chart(case: Case) -> None:
    """Of a fleet with a move, a first day or a last day about New Year."""
    charts, units = charts_of(case, case.on.year)
    stands: Counter[tuple[str, str, Each | None, int]] = Counter()
    for chart in charts:
        for row in chart.rows:
            if row.role in (RowRole.DAY, RowRole.WEEK, RowRole.BOX) and row.turn == 1:
                for slot, face in enumerate(row.faces):
                    if face.sign in MARKED | {OPEN, OVER}:
                        stands[chart.unit.property_number, row.task, row.each, slot] += 1
    wanted = [
        (of.unit.property_number, cell.rule.task, Each(str(cell.rule.each)), slot_of(cell))
        for of, cell in all_of(units, case.on.year)
    ]
    assert stands == Counter(wanted)
    is_beyond = any(cell.closes.year != case.on.year for _, cell in all_of(units, case.on.year))
    event("a cell closes in another year" if is_beyond else "all cells close in the year")


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
