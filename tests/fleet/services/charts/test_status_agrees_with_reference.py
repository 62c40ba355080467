"""Are exactly the charts wanted that have a cell left, by the literal reference, and no others?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from typing import cast

from hypothesis import event, given
from hypothesis import strategies as st

from fleet.domain.register import Register
from fleet.services.charts.facts import RowRole, YearChart
from fleet.services.charts.prints import prints_of
from fleet.services.charts.status import MissingChart, missing_charts
from fleet.services.ports import Record
from fleet.services.questions import Question
from tests.fleet.services.charts.print_fleet import OnePage
from tests.fleet.services.charts.test_years_agree_with_reference import (
    NOON,
    Units,
    all_of,
    charts_of,
    drawn,
)
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.reference.dates import days_between
from tests.reference.premarks import sign_of_day
from tests.strategies import Case, cases


class PrintedRecord(BridgedRecord):
    """A record of the reference that knows of printed charts."""

    charts: tuple[YearChart, ...] = ()

    def register(self, known_at: dt.datetime | None = None) -> Register:
        numbers = iter(f"PRINT{number:03}" for number in range(999))
        made = prints_of(self.charts, (), OnePage(), numbers.__next__, "letter", None, NOON)
        prints = (replace(one.print, printed_on=one.chart.on) for one in made)
        return replace(super().register(known_at), prints={one.key: one for one in prints})


def missing(case: Case, charts: list[YearChart], year: int) -> list[MissingChart]:
    record = PrintedRecord(case.fleet)
    record.charts = tuple(charts)
    question = Question(now=NOON, on=case.on, known_at=case.known_at)
    return missing_charts(cast("Record", record), NoPublicHolidays(), question, year)


def left(case: Case, charts: list[YearChart], units: Units) -> Iterator[tuple[str, str]]:
    """Unit and site of each cell of the year that has not closed before the day."""
    year = charts[0].year
    charted = {chart.unit.property_number for chart in charts}
    for of, cell in all_of(units, year):
        if cell.closes >= case.on and of.unit.property_number in charted:
            yield of.unit.property_number, of.calendar_on(cell.closes).site.site
    for chart in charts:
        of, site = units[chart.unit.property_number], chart.site.site
        for row in (row for row in chart.rows if row.role is RowRole.ON_DAY):
            own = {(rule.task, rule.from_on) for rule in row.versions}
            for day in days_between(max(case.on, dt.date(year, 1, 1)), dt.date(year, 12, 31)):
                rule = of.version_on(row.task, day)
                is_asked = rule is not None and (rule.task, rule.from_on) in own
                if is_asked and sign_of_day(of, day, site) == ".":
                    yield of.unit.property_number, site


@drawn
@given(case=cases(), later=st.integers(0, 1))
def test_a_chart_is_wanted_while_a_cell_is_left_and_not_once_it_is_printed(
    case: Case, later: int
) -> None:
    year = case.on.year + later
    charts, units = charts_of(case, year)
    wanted = (
        {pair for pair in left(case, charts, units) if case.on >= units[pair[0]].unit.in_service_on}
        if charts
        else set()
    )
    event("wanted" if wanted else "none wanted")

    told = missing(case, [], year)

    assert {(row.property_number, row.site) for row in told} == wanted
    assert {row.reason for row in told} <= {"new unit"}
    assert missing(case, charts, year) == []
