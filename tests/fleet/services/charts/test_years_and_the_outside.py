"""Do the days, weeks and holidays of charts agree with what others say of the calendar?"""

from __future__ import annotations

import calendar
import datetime as dt
from collections import defaultdict
from dataclasses import replace

import holidays
import pytest

from fleet.domain.records import Closure
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.charts.facts import YearChart
from tests import outside
from tests.fleet.services.charts.year_fleet import (
    ALDER,
    DAILY,
    MONTHLY,
    WEEKLY,
    a_fleet,
    a_unit,
    chart_of,
    day,
    signs,
)

OLD = a_unit(in_service_on=day("2000-01-01"))


def nebraska(year: int) -> YearChart:
    """The chart of a site in Nebraska, open Monday to Friday, with the holidays of the program."""
    return chart_of(a_fleet(DAILY, units=[OLD]), year, holidays=PublicHolidayCalendar())


def days_with(chart: YearChart, sign: str) -> set[dt.date]:
    first_on = dt.date(chart.year, 1, 1)
    return {first_on + dt.timedelta(turn) for turn, own in enumerate(chart.days) if own == sign}


@pytest.mark.parametrize("year", [2023, 2024, 2026, 2027, 2028, 2099])
def test_closed_weekdays_are_those_of_the_python_calendar(year: int) -> None:
    chart = chart_of(a_fleet(DAILY, units=[OLD]), year)

    weekends = {
        dt.date(year, month, on)
        for month in range(1, 13)
        for week in calendar.monthcalendar(year, month)
        for on in week[5:]
        if on
    }
    assert days_with(chart, "W") == weekends
    assert len(chart.days) == 365 + calendar.isleap(year)
    assert signs(chart, "wipe").replace(",", ".") == chart.days


def test_weeks_have_the_places_of_iso_8601() -> None:
    """The standard library's date.isocalendar; check value B-24 names the years of 53 weeks."""
    record = a_fleet(WEEKLY, units=[OLD])
    found = {year: len(signs(chart_of(record, year), "scrub")) for year in range(2019, 2041)}

    # 28 December always lies in the last week of its year (ISO 8601).
    assert found == {year: dt.date(year, 12, 28).isocalendar().week for year in found}
    assert [year for year, weeks in found.items() if weeks == 53] == [2020, 2026, 2032, 2037]


def test_a_day_lies_in_the_cell_of_its_iso_week() -> None:
    """tests/vectors/iso_week_dates.csv: the site is open on the days of the table alone."""
    table = outside.rows("iso_week_dates")
    records = [
        Closure(site="alder", from_on=on, to_on=on, reason="", open=True)
        for on in (outside.day(row["date"]) for row in table)
    ]
    record = a_fleet(WEEKLY, records=records, units=[OLD], sites=[replace(ALDER, open_days="")])
    wanted: dict[int, set[int]] = defaultdict(set)
    for row in table:
        wanted[int(row["iso_year"])].add(int(row["iso_week"]))

    for year, weeks in wanted.items():
        faces = signs(chart_of(record, year), "scrub")
        assert {turn for turn, sign in enumerate(faces, 1) if sign != "W"} == weeks


@pytest.mark.parametrize("year", [2025, 2026, 2027, 2028])
def test_holidays_are_those_of_the_statute(year: int) -> None:
    """Neb. Rev. Stat. 62-301(1), 25-2221: tests/vectors/nebraska_holidays.csv, read in full."""
    table = outside.rows("nebraska_holidays")
    legal = {outside.day(row[name]) for row in table for name in ("legal_date", "observed_date")}
    named = {
        dt.date(year, month, on)
        for month, notes in enumerate(nebraska(year).notes, 1)
        for note in notes
        for on in range(note.first, note.last + 1)
    }

    # A holiday of 2029 that is kept in December 2028 would stand in the table of 2029.
    assert named == {on for on in legal if on.year == year}
    assert days_with(nebraska(year), "H") == named


def test_holidays_bear_the_names_of_the_library() -> None:
    """holidays, category public, subdivision NE; it lacks the day after Thanksgiving (C-21)."""
    names = holidays.country_holidays("US", subdiv="NE", years=2026)
    told = {
        dt.date(2026, month, note.first): note.words
        for month, notes in enumerate(nebraska(2026).notes, 1)
        for note in notes
    }

    assert told == {**names, dt.date(2026, 11, 27): "Day after Thanksgiving"}


@pytest.mark.parametrize("year", [2025, 2026, 2027, 2028])
def test_open_days_of_each_month_are_as_many_as_the_table_has(year: int) -> None:
    """tests/vectors/working_days_per_month.csv, worked out from the two lists of holidays."""
    opened = days_with(nebraska(year), ".")

    for row in outside.rows("working_days_per_month"):
        if int(row["year"]) == year:
            count = sum(on.month == int(row["month"]) for on in opened)
            assert count == int(row["working_days_nebraska"])


def test_a_month_a_quarter_and_a_year_end_where_the_calendar_does() -> None:
    """Open on the last day of each month alone (calendar.monthrange), boxes stay open till then."""
    ends = [dt.date(2028, m, calendar.monthrange(2028, m)[1]) for m in range(1, 13)]
    records = [Closure(site="alder", from_on=on, to_on=on, reason="", open=True) for on in ends]
    record = a_fleet(MONTHLY, records=records, sites=[replace(ALDER, open_days="")])

    for month, on in enumerate(ends):
        asked = signs(chart_of(record, 2028, on=on.isoformat()), "grease")
        assert asked == "," * month + "." * (12 - month)
