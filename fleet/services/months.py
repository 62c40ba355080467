"""Which days has a month, and which months has a span? Months are written as 'YYYY-MM'."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator

from fleet.errors import BadInput, Fault
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = [
    "MONTHS_SHOWN",
    "first_day",
    "last_day",
    "month_of",
    "months",
    "read_month",
    "usual_span",
]

MONTHS_SHOWN = 12
"""So many months back from today are looked at unless others are asked for."""
_MONTH = re.compile(r"[0-9]{4}-(0[1-9]|1[0-2])")
_ONE_DAY = dt.timedelta(days=1)


def read_month(text: str, where: str) -> str:
    """The month that is meant; BadInput, with `where` it stood, for what is none."""
    if not _MONTH.fullmatch(text):
        raise BadInput([Fault(where, None, None, f"'{text}' is not a month", "write YYYY-MM")])
    if not FIRST_YEAR <= int(text[:4]) <= LAST_YEAR:
        mend = f"give a month from {FIRST_YEAR}-01 to {LAST_YEAR}-12"
        raise BadInput([Fault(where, None, None, f"{text} is out of reach", mend)])
    return text


def month_of(on: dt.date) -> str:
    """The month that holds a day."""
    return f"{on:%Y-%m}"


def first_day(month: str) -> dt.date:
    """The first day of a month."""
    return dt.date.fromisoformat(f"{month}-01")


def last_day(month: str) -> dt.date:
    """The last day of a month."""
    return (first_day(month) + dt.timedelta(days=31)).replace(day=1) - _ONE_DAY


def months(from_on: dt.date, to_on: dt.date) -> Iterator[str]:
    """The months of all days of a span, both ends included; none where it ends too early."""
    on = from_on
    while on <= to_on:
        yield month_of(on)
        on = last_day(month_of(on)) + _ONE_DAY


def usual_span(on: dt.date) -> tuple[str, str]:
    """The first and last of the MONTHS_SHOWN months before the one that holds a day."""
    last_on = on.replace(day=1) - _ONE_DAY
    return f"{on.year - 1}-{on.month:02d}", month_of(last_on)
