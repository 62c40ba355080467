"""On which day a mail goes: closed days, quiet ones, taken ones, and both changes of the clock."""

from __future__ import annotations

import datetime as dt
from zoneinfo import ZoneInfo

import holidays
import pytest
from hypothesis import given
from hypothesis import strategies as st

from notifications.cadence import (
    LATE,
    NO_DAY,
    NOW,
    WAIT,
    Cadence,
    Period,
    decision,
    first_good,
    instant,
    next_instant,
    periods,
    week_period,
)
from notifications.messages import Kind

CADENCE = Cadence()
MONDAY = dt.date(2026, 11, 30)
WEEK = Period(Kind.SITE_LEAD, "2026-W49", MONDAY, dt.date(2026, 12, 6))


def day(number: int) -> dt.date:
    """A day of the week of 30 November 2026: 0 is Monday."""
    return MONDAY + dt.timedelta(days=number)


def told(kind: Kind, on: dt.date) -> list[tuple[str, str, str]]:
    return [(one.name, f"{one.nominal_on}", f"{one.last_on}") for one in periods(kind, on, CADENCE)]


def test_weeks_are_those_of_iso_8601() -> None:
    """ISO 8601: the first week has the year's first Thursday; check value B-25."""
    assert week_period(dt.date(2025, 12, 29)) == week_period(dt.date(2026, 1, 4)) == "2026-W01"
    assert week_period(dt.date(2027, 1, 3)) == "2026-W53"


def test_a_digest_is_of_its_week_gaps_of_the_month_before_charts_of_the_year_to_come() -> None:
    assert told(Kind.SITE_LEAD, day(2)) == [
        ("2026-W48", "2026-11-23", "2026-11-29"),
        ("2026-W49", "2026-11-30", "2026-12-06"),
    ]
    assert told(Kind.GAPS, dt.date(2027, 1, 2)) == [
        ("2026-11", "2026-12-01", "2026-12-31"),
        ("2026-12", "2027-01-01", "2027-01-31"),
    ]
    assert told(Kind.NEW_CHARTS, dt.date(2026, 12, 5)) == [
        ("2026", "2025-12-01", "2026-01-01"),
        ("2027", "2026-12-01", "2027-01-01"),
    ]


def decided(on: dt.date, closed: set[int], taken: set[int]) -> str:
    return decision(
        WEEK,
        on,
        lambda one: (one - MONDAY).days not in closed and one.weekday() < 5,
        lambda one: (one - MONDAY).days in taken,
        3,
    )


@pytest.mark.parametrize(
    ("on", "closed", "taken", "verdict"),
    [
        (day(-1), set(), set(), WAIT),
        (day(0), set(), set(), NOW),
        (day(0), {0}, set(), WAIT),
        (day(1), {0}, set(), NOW),
        (day(0), set(), {0}, WAIT),
        (day(1), set(), {0}, NOW),
        (day(3), set(), set(), NOW),
        (day(4), set(), set(), LATE),
        (day(4), {0}, set(), NOW),
        (day(4), {0, 1, 2, 3}, set(), NOW),
        (day(4), {0, 1, 2, 3, 4}, set(), WAIT),
        (day(6), {0, 1, 2, 3, 4}, set(), WAIT),
        (day(7), {0, 1, 2, 3, 4}, set(), NO_DAY),
        (day(7), set(), set(), LATE),
        (day(7), {0, 1, 2, 3}, set(), LATE),
    ],
)
def test_a_mail_goes_on_the_first_good_day_that_is_not_taken(
    on: dt.date, closed: set[int], taken: set[int], verdict: str
) -> None:
    assert decided(on, closed, taken) == verdict


@given(
    st.sets(st.integers(0, 364)),
    st.sets(st.integers(0, 364)),
    st.sets(st.integers(0, 364)),
)
def test_in_a_year_of_days_every_week_is_decided_once_and_on_a_good_day(
    closed: set[int], taken: set[int], off: set[int]
) -> None:
    """However the days fall, and on whichever the program was off."""
    start = dt.date(2026, 1, 5)
    number = {start + dt.timedelta(days=n): n for n in range(365)}
    seen: dict[str, str] = {}
    sent_on: set[dt.date] = set()
    for on, place in number.items():
        if place in off:
            continue
        for period in periods(Kind.SITE_LEAD, on, CADENCE):
            if period.name in seen or period.nominal_on < start:
                continue
            verdict = decision(
                period,
                on,
                lambda one: number.get(one, 0) not in closed,
                lambda one: number.get(one) in taken,
                3,
            )
            if verdict == NOW:
                assert place not in closed
                assert place not in taken
                assert period.nominal_on <= on <= period.last_on
                assert on not in sent_on
                sent_on.add(on)
            if verdict != WAIT:
                seen[period.name] = verdict
    assert set(seen.values()) <= {NOW, LATE, NO_DAY}
    if not off:
        assert len(seen) >= 51


def test_the_first_good_day_skips_the_holidays_of_an_independent_library() -> None:
    """`holidays` of Nebraska: Labor Day, 7 September 2026, is a Monday."""
    closed = holidays.country_holidays("US", subdiv="NE", years=2026)
    monday = dt.date(2026, 9, 7)
    period = Period(Kind.SITE_LEAD, "2026-W37", monday, monday + dt.timedelta(days=6))

    good_on = first_good(period, lambda on: on.weekday() < 5 and on not in closed)

    assert monday in closed
    assert good_on == dt.date(2026, 9, 8)


@pytest.mark.parametrize(
    ("zone", "on", "at", "utc"),
    [
        # IANA time zone database; US and EU changes of 2026, Auckland's of September.
        ("America/New_York", "2026-03-08", "07:00", "2026-03-08T11:00"),
        ("America/New_York", "2026-03-07", "07:00", "2026-03-07T12:00"),
        ("America/New_York", "2026-11-01", "07:00", "2026-11-01T12:00"),
        ("America/New_York", "2026-03-08", "02:30", "2026-03-08T07:30"),
        ("America/New_York", "2026-11-01", "01:30", "2026-11-01T05:30"),
        ("Europe/Berlin", "2026-03-29", "03:00", "2026-03-29T01:00"),
        ("Europe/Berlin", "2026-10-25", "03:00", "2026-10-25T02:00"),
        ("Pacific/Auckland", "2026-09-27", "23:59", "2026-09-27T10:59"),
        ("Pacific/Auckland", "2026-04-05", "23:59", "2026-04-05T11:59"),
        ("America/Phoenix", "2026-03-08", "07:00", "2026-03-08T14:00"),
    ],
)
def test_local_times_around_the_changes_of_the_clock(zone: str, on: str, at: str, utc: str) -> None:
    found = instant(dt.date.fromisoformat(on), dt.time.fromisoformat(at), ZoneInfo(zone))

    assert found == dt.datetime.fromisoformat(f"{utc}+00:00")


@pytest.mark.parametrize("zone", ["America/New_York", "Europe/Berlin", "Pacific/Auckland", "UTC"])
@pytest.mark.parametrize("at", ["03:00", "07:00", "23:59"])
def test_a_year_has_each_local_morning_once(zone: str, at: str) -> None:
    time, where = dt.time.fromisoformat(at), ZoneInfo(zone)
    now, found = dt.datetime(2026, 1, 1, tzinfo=dt.UTC), []
    while now < dt.datetime(2027, 1, 1, tzinfo=dt.UTC):
        now = next_instant(now, time, where)
        found.append(now.astimezone(where).date())

    assert found == [found[0] + dt.timedelta(days=n) for n in range(len(found))]
    assert len(found) in (365, 366)
