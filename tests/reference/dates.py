"""Which civil date lies so many days, weeks, months or years after another (design 4.1)?"""

from __future__ import annotations

import datetime as dt

from tests.reference.records import RefEvery

__all__ = ["ONE_DAY", "add", "days_between", "occurrence", "period_label"]

ONE_DAY = dt.timedelta(days=1)


def add(day: dt.date, count: int, letter: str) -> dt.date:
    """Add whole days (D), weeks (W), months (M) or years (Y), clamped to the month's last day."""
    if letter == "D":
        return day + count * ONE_DAY
    if letter == "W":
        return day + 7 * count * ONE_DAY
    if letter == "Y":
        return add(day, 12 * count, "M")
    year, month = day.year, day.month
    for _ in range(count):
        month += 1
        if month == 13:
            year, month = year + 1, 1
    day_of_month = day.day
    while True:
        try:
            return dt.date(year, month, day_of_month)
        except ValueError:
            day_of_month -= 1


def occurrence(anchor_on: dt.date, every: RefEvery, k: int) -> dt.date:
    """The k-th date after the anchor, counted from the anchor itself."""
    return add(anchor_on, k * every.count, every.letter)


def days_between(first_on: dt.date, last_on: dt.date) -> list[dt.date]:
    """Every day from the first to the last, both included; none where the last is earlier."""
    days = []
    day = first_on
    while day <= last_on:
        days.append(day)
        day += ONE_DAY
    return days


def period_label(day: dt.date, each: str) -> tuple[int, ...]:
    """What the days of one period have in common; weeks are ISO weeks (design 4.5)."""
    if each == "open-day":
        return (day.year, day.month, day.day)
    if each == "week":
        iso = day.isocalendar()
        return (iso.year, iso.week)
    months_of_period = {"month": 1, "quarter": 3, "half-year": 6, "year": 12}[each]
    return (day.year, (day.month - 1) // months_of_period)
