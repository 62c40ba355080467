"""Which periods has a year, and in which of its months does each stand on a chart?

A week belongs to the year of its Thursday (ISO 8601), and stands in the month of its Thursday; a
month or a longer period stands in the month in which it ends.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator

from schedules.rules import Each

__all__ = [
    "MONTHS_OF_EACH",
    "days_of_month",
    "end_month",
    "first_monday",
    "is_end_month",
    "paper_span",
    "periods_of_year",
    "spans_of_year",
    "thursdays",
    "week_span",
    "weeks_of_year",
]

MONTHS_OF_EACH = {Each.MONTH: 1, Each.QUARTER: 3, Each.HALF_YEAR: 6, Each.YEAR: 12}
"""How many months a period has; of those that have whole ones."""
_ONE_WEEK = dt.timedelta(days=7)


def days_of_month(year: int, month: int) -> int:
    """How many days the month has."""
    return calendar.monthrange(year, month)[1]


def first_monday(year: int) -> dt.date:
    """The first day of the year's first week, that of the year's first Thursday (ISO 8601)."""
    return dt.date.fromisocalendar(year, 1, 1)


def weeks_of_year(year: int) -> int:
    """How many weeks the year has, 52 or 53."""
    return (first_monday(year + 1) - first_monday(year)) // _ONE_WEEK


def paper_span(year: int) -> tuple[dt.date, dt.date]:
    """The first and the last day of which a cell stands on the year's charts: of its days and of
    its weeks, which may begin before it or end after it.
    """
    last_sunday = first_monday(year + 1) - dt.timedelta(days=1)
    first_on, last_on = dt.date(year, 1, 1), dt.date(year, 12, 31)
    return min(first_on, first_monday(year)), max(last_on, last_sunday)


def thursdays(year: int) -> Iterator[dt.date]:
    """The Thursday of each of the year's weeks, in order."""
    on = dt.date.fromisocalendar(year, 1, 4)
    while on.year == year:
        yield on
        on += _ONE_WEEK


def week_span(thursday: dt.date) -> tuple[int, int]:
    """First and last day of the week, as days of the Thursday's month."""
    count = days_of_month(thursday.year, thursday.month)
    return max(1, thursday.day - 3), min(count, thursday.day + 3)


def periods_of_year(each: Each) -> int:
    """How many periods of whole months a year has."""
    return 12 // MONTHS_OF_EACH[each]


def spans_of_year(each: Each, year: int) -> Iterator[tuple[dt.date, dt.date]]:
    """First and last day of each of the year's weeks, or of its periods of whole months."""
    if each is Each.WEEK:
        for on in thursdays(year):
            yield on - dt.timedelta(days=3), on + dt.timedelta(days=3)
        return
    for turn in range(periods_of_year(each)):
        last = end_month(each, turn)
        first_on = dt.date(year, last - MONTHS_OF_EACH[each] + 1, 1)
        yield first_on, dt.date(year, last, days_of_month(year, last))


def end_month(each: Each, turn: int) -> int:
    """The month in which a period of the year ends; turn: of the period, from 0."""
    return (turn + 1) * MONTHS_OF_EACH[each]


def is_end_month(each: Each, month: int) -> bool:
    """Say whether a period ends with the month."""
    return month % MONTHS_OF_EACH[each] == 0
