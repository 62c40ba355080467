"""Are months added as the outside adds them, and do days fall into the right periods?"""

from __future__ import annotations

import datetime as dt
import itertools

import numpy as np
import pytest
import QuantLib
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from schedules.dates import (
    FIRST_ON,
    LAST_ON,
    add_months,
    date_of,
    day_of,
    period_first_day,
    period_number,
)
from schedules.rules import Each
from tests.outside import VECTORS, day, rows, source

PERIODS = list(Each)


def moved(on: dt.date, months: int) -> dt.date:
    return date_of(add_months(np.array([day_of(on)], dtype=np.int32), months)[0])


def period_of(on: dt.date, each: Each) -> tuple[dt.date, dt.date]:
    """First and last day of the period a day falls into."""
    number = period_number(np.array([day_of(on)], dtype=np.int32), each)
    first, after = period_first_day(np.concatenate([number, number + 1]), each).tolist()
    return date_of(first), date_of(after - 1)


@pytest.mark.parametrize("name", sorted(path.stem for path in VECTORS.glob("*.csv")))
def test_every_table_says_where_it_comes_from_and_has_rows(name: str) -> None:
    assert len(source(name)) > 20
    assert rows(name)


@pytest.mark.parametrize("line", rows("month_addition"), ids=lambda line: line["id"])
def test_month_addition_matches_the_table(line: dict[str, str]) -> None:
    """Both dateutil and QuantLib agree on the clamped column (B-01)."""
    result = moved(day(line["start_date"]), int(line["months_to_add"]))

    assert result == day(line["expected_clamped"])
    if line["conventions_agree"] == "differs":
        assert result != day(line["expected_end_of_month_rule"])


def test_month_end_anchor_does_not_drift() -> None:
    anchor = dt.date(2026, 1, 31)

    assert moved(anchor, 1) == dt.date(2026, 2, 28)
    assert moved(anchor, 2) == dt.date(2026, 3, 31)
    assert moved(moved(anchor, 1), 1) == dt.date(2026, 3, 28)


@settings(deadline=None)
@given(on=st.dates(dt.date(1901, 1, 1), dt.date(2149, 12, 31)), months=st.integers(0, 600))
def test_month_addition_agrees_with_dateutil_and_quantlib(on: dt.date, months: int) -> None:
    expected = on + relativedelta(months=months)
    of_quantlib = QuantLib.NullCalendar().advance(
        QuantLib.Date(on.day, on.month, on.year),
        months,
        QuantLib.Months,
        QuantLib.Unadjusted,
        False,
    )

    assert moved(on, months) == expected
    assert of_quantlib.to_date() == expected


@settings(deadline=None)
@given(on=st.dates(dt.date(2000, 1, 1), dt.date(2149, 12, 31)), months=st.integers(-1200, -1))
def test_months_before_agree_with_dateutil(on: dt.date, months: int) -> None:
    assert moved(on, months) == on + relativedelta(months=months)


@pytest.mark.parametrize("on", [FIRST_ON, LAST_ON, dt.date(1900, 2, 28), dt.date(2100, 2, 28)])
def test_the_month_table_knows_its_first_and_last_day(on: dt.date) -> None:
    assert moved(on, 0) == on


def test_a_day_outside_the_month_table_is_refused() -> None:
    for on, months in ((FIRST_ON, -1), (LAST_ON, 1)):
        with pytest.raises(IndexError):
            moved(on, months)


@pytest.mark.parametrize("line", rows("iso_week_dates"), ids=lambda line: line["date"])
def test_weeks_are_iso_weeks(line: dict[str, str]) -> None:
    """ISO 8601, by the standard library and by arithmetic (B-23 to B-25)."""
    first_on, last_on = period_of(day(line["date"]), Each.WEEK)

    iso = int(line["iso_year"]), int(line["iso_week"])
    assert first_on.isocalendar() == (*iso, 1)
    assert last_on.isocalendar() == (*iso, 7)


def test_2026_has_53_weeks_and_january_2027_begins_in_the_last() -> None:
    """ISO 8601 (B-24): 1 to 3 January 2027 belong to 2026-W53."""
    days = np.arange(day_of(dt.date(2025, 12, 29)), day_of(dt.date(2027, 1, 3)) + 1, dtype=np.int32)

    assert len(set(period_number(days, Each.WEEK).tolist())) == 53
    last_week = dt.date(2026, 12, 28), dt.date(2027, 1, 3)
    assert period_of(dt.date(2027, 1, 3), Each.WEEK) == last_week
    assert period_of(dt.date(2027, 1, 4), Each.WEEK)[0] == dt.date(2027, 1, 4)


@pytest.mark.parametrize("year", range(2019, 2041))
def test_years_with_53_weeks_are_those_of_iso_8601(year: int) -> None:
    """ISO 8601 (B-24): 2020, 2026, 2032 and 2037."""
    thursdays = {
        int(period_number(np.array([day_of(on)], dtype=np.int32), Each.WEEK)[0])
        for on in (dt.date(year, 1, 1) + dt.timedelta(n) for n in range(366))
        if on.year == year
        if on.weekday() == 3
    }
    assert (len(thursdays) == 53) == (year in (2020, 2026, 2032, 2037))


def test_the_twentieth_mondays_of_rfc_5545_begin_their_weeks() -> None:
    """RFC 5545 3.8.5.3 p. 129: YEARLY;BYWEEKNO=20;BYDAY=MO."""
    (line,) = [line for line in rows("rfc5545_rrule") if "BYWEEKNO=20" in line["rrule"]]

    for text in line["expected_dates_space_separated"].split():
        first_on, _ = period_of(day(text) + dt.timedelta(6), Each.WEEK)
        assert (first_on, first_on.isocalendar().week) == (day(text), 20)


@pytest.mark.parametrize(
    ("each", "on", "first", "last"),
    [
        (Each.OPEN_DAY, "2026-05-31", "2026-05-31", "2026-05-31"),
        (Each.WEEK, "1969-12-31", "1969-12-29", "1970-01-04"),
        (Each.MONTH, "2024-02-29", "2024-02-01", "2024-02-29"),
        (Each.QUARTER, "2026-05-31", "2026-04-01", "2026-06-30"),
        (Each.HALF_YEAR, "2026-06-30", "2026-01-01", "2026-06-30"),
        (Each.HALF_YEAR, "2026-07-01", "2026-07-01", "2026-12-31"),
        (Each.YEAR, "2024-12-31", "2024-01-01", "2024-12-31"),
    ],
)
def test_a_period_begins_and_ends_on_its_days(each: Each, on: str, first: str, last: str) -> None:
    assert period_of(day(on), each) == (day(first), day(last))


@settings(deadline=None)
@given(on=st.dates(dt.date(1900, 2, 1), dt.date(2290, 1, 1)), each=st.sampled_from(PERIODS))
def test_periods_follow_each_other_without_a_day_between(on: dt.date, each: Each) -> None:
    first_on, last_on = period_of(on, each)

    assert first_on <= on <= last_on
    assert period_of(first_on, each) == period_of(last_on, each)
    assert period_of(last_on + dt.timedelta(1), each)[0] == last_on + dt.timedelta(1)
    number, following = period_number(
        np.array([day_of(last_on), day_of(last_on) + 1], dtype=np.int32), each
    ).tolist()
    assert following == number + 1


def test_days_are_counted_from_1970() -> None:
    assert day_of(dt.date(1970, 1, 1)) == 0
    for on in (dt.date(1969, 12, 31), dt.date(2024, 2, 29), dt.date(2299, 12, 31)):
        assert date_of(day_of(on)) == on
    pairs = itertools.pairwise(day_of(dt.date(2026, 3, 1) + dt.timedelta(n)) for n in range(40))
    assert all(after - before == 1 for before, after in pairs)
