"""How are dates, money, miles and hours said in a picture?"""

from __future__ import annotations

import datetime as dt

__all__ = [
    "day_text",
    "dollars",
    "hours_text",
    "long_day",
    "miles_text",
    "month_text",
    "span_text",
    "weekday",
    "whole_miles",
]

_MONTHS = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
]
_WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]


def month_text(on: dt.date) -> str:
    """'March 2027'."""
    return f"{_MONTHS[on.month - 1]} {on.year}"


def weekday(on: dt.date) -> str:
    """'Monday'."""
    return _WEEKDAYS[on.weekday()]


def day_text(on: dt.date) -> str:
    """'Mon 1 Mar'."""
    return f"{weekday(on)[:3]} {on.day} {_MONTHS[on.month - 1][:3]}"


def long_day(on: dt.date) -> str:
    """'Monday 1 March 2027'."""
    return f"{weekday(on)} {on.day} {month_text(on)}"


def span_text(from_on: dt.date, to_on: dt.date) -> str:
    """'1 Mar', '1–3 Mar' or '30 Mar – 1 Apr'."""
    last = f"{to_on.day} {_MONTHS[to_on.month - 1][:3]}"
    if from_on == to_on:
        return last
    if (from_on.year, from_on.month) == (to_on.year, to_on.month):
        return f"{from_on.day}–{last}"
    return f"{from_on.day} {_MONTHS[from_on.month - 1][:3]} – {last}"


def dollars(cents: int) -> str:
    """Whole dollars, half a dollar up: '$1,234'."""
    sign = "-" if cents < 0 else ""
    return f"{sign}${(abs(cents) + 50) // 100:,}"


def miles_text(hundredths: int) -> str:
    """Miles to a tenth: '93.2 miles'."""
    tenths = (hundredths + 5) // 10
    return f"{tenths // 10:,}.{tenths % 10} miles"


def whole_miles(hundredths: int) -> str:
    """'1,234 miles'."""
    return f"{(hundredths + 50) // 100:,} miles"


def hours_text(minutes: int) -> str:
    """'45 min', '2 h', '2 h 5 min'."""
    hours, rest = divmod(minutes, 60)
    if not hours:
        return f"{rest} min"
    return f"{hours:,} h {rest} min" if rest else f"{hours:,} h"
