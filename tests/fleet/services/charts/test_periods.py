"""Weeks and longer periods of a year, beside the standard library's calendar (ISO 8601)."""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.services.charts.periods import (
    days_of_month,
    end_month,
    first_monday,
    is_end_month,
    periods_of_year,
    spans_of_year,
    thursdays,
    week_span,
    weeks_of_year,
)
from schedules.rules import Each

YEARS = range(2000, 2101)


@pytest.mark.parametrize("year", YEARS)
def test_a_year_has_a_thursday_for_each_of_its_iso_weeks(year: int) -> None:
    found = list(thursdays(year))

    # 28 December always lies in the last week of its year (ISO 8601).
    assert len(found) == weeks_of_year(year) == dt.date(year, 12, 28).isocalendar().week
    assert [on.isocalendar()[:] for on in found] == [(year, n + 1, 4) for n in range(len(found))]
    assert first_monday(year) == found[0] - dt.timedelta(days=3)


@pytest.mark.parametrize("each", [each for each in Each if each is not Each.OPEN_DAY])
def test_periods_follow_each_other_through_the_year(each: Each) -> None:
    for year in YEARS:
        spans = list(spans_of_year(each, year))

        assert len(spans) == (weeks_of_year(year) if each is Each.WEEK else periods_of_year(each))
        firsts, lasts = [span[0] for span in spans], [span[1] for span in spans]
        assert [on + dt.timedelta(days=1) for on in lasts[:-1]] == firsts[1:]
        if each is Each.WEEK:
            assert {on.weekday() for on in firsts} == {0}
            assert all(on.isocalendar().year == year for on in (firsts[0], lasts[-1]))
        else:
            assert (firsts[0], lasts[-1]) == (dt.date(year, 1, 1), dt.date(year, 12, 31))


def test_a_week_s_days_are_those_in_the_month_of_its_thursday() -> None:
    for thursday in (on for year in YEARS for on in thursdays(year)):
        week = [thursday + dt.timedelta(days=n) for n in range(-3, 4)]
        days = [on.day for on in week if on.month == thursday.month]

        assert week_span(thursday) == (days[0], days[-1])


def test_months_have_their_days() -> None:
    assert [days_of_month(2027, month) for month in (1, 2, 4)] == [31, 28, 30]
    assert days_of_month(2028, 2) == 29


def test_longer_periods_end_with_these_months() -> None:
    months = {
        each: [end_month(each, turn) for turn in range(periods_of_year(each))]
        for each in (Each.MONTH, Each.QUARTER, Each.HALF_YEAR, Each.YEAR)
    }

    assert months == {
        Each.MONTH: [*range(1, 13)],
        Each.QUARTER: [3, 6, 9, 12],
        Each.HALF_YEAR: [6, 12],
        Each.YEAR: [12],
    }
    for each, ends in months.items():
        assert [month for month in range(1, 13) if is_end_month(each, month)] == ends
