"""Which civil date lies so many months after another, and in which period does a day fall?

A *day* is an int32: days since 1970-01-01. `NEVER` stands for no day, before all others; `FAR` for
a day that never comes, after all others. Nothing here knows a time zone, a site or today.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from functools import cache

import numpy as np
import numpy.typing as npt

from schedules.rules import Each

__all__ = [
    "FAR",
    "FIRST_ON",
    "LAST_ON",
    "NEVER",
    "Counts",
    "Days",
    "Mask",
    "MonthTable",
    "add_months",
    "date_of",
    "day_of",
    "month_table",
    "period_first_day",
    "period_number",
]

Days = npt.NDArray[np.int32]
"""Days since 1970-01-01."""
Counts = npt.NDArray[np.int32]
Mask = npt.NDArray[np.bool_]

NEVER = -(2**31)
FAR = 2**31 - 1
FIRST_ON, LAST_ON = dt.date(1900, 1, 1), dt.date(2299, 12, 31)
"""The years the month table is true for; files are held to narrower ones."""
_EPOCH = dt.date(1970, 1, 1).toordinal()


def day_of(on: dt.date) -> int:
    """The day number of a date."""
    return on.toordinal() - _EPOCH


def date_of(day: int) -> dt.date:
    """The date of a day number."""
    return dt.date.fromordinal(int(day) + _EPOCH)


@dataclass(frozen=True, slots=True)
class MonthTable:
    """Month arithmetic as look-ups (months are counted from January of `FIRST_ON`'s year).

    By day since `first_day`: month int16, day_of_month int8 counted from 0. By month: first_of
    int32, last_place int8, the month's last day counted from 0.
    """

    first_day: int
    month: npt.NDArray[np.int16]
    day_of_month: npt.NDArray[np.int8]
    first_of: Days
    last_place: npt.NDArray[np.int8]


@cache
def month_table() -> MonthTable:
    """The one month table, made at first use."""
    months = (LAST_ON.year - FIRST_ON.year + 1) * 12
    starts = np.datetime64(FIRST_ON, "M") + np.arange(months + 1)
    first_of = starts.astype("M8[D]").astype(np.int64).astype(np.int32)
    lengths = np.diff(first_of)
    return MonthTable(
        first_day=int(first_of[0]),
        month=np.repeat(np.arange(months, dtype=np.int16), lengths),
        day_of_month=(
            np.arange(int(lengths.sum())) - np.repeat(first_of[:-1] - first_of[0], lengths)
        ).astype(np.int8),
        first_of=first_of[:-1],
        last_place=(lengths - 1).astype(np.int8),
    )


def add_months(days: Days, months: Counts | int) -> Days:
    """Move each day by whole months, keeping its day of the month where it exists (design 4.1).

    days: int32; months: int32 of the same length, or one number; result: int32, same length.
    31 January + 1 month is the last day of February. Count from the anchor: adding 1 twice is not
    adding 2. A day or a result outside `FIRST_ON` to `LAST_ON` raises IndexError.
    """
    table = month_table()
    place = days - table.first_day
    target = table.month.take(place) + np.asarray(months, dtype=np.int32)
    if target.size and target.min() < 0:
        raise IndexError("a month before the month table")
    within = np.minimum(table.day_of_month.take(place), table.last_place.take(target))
    return np.add(table.first_of.take(target), within, dtype=np.int32)


_MONTHS_PER_PERIOD = {Each.MONTH: 1, Each.QUARTER: 3, Each.HALF_YEAR: 6, Each.YEAR: 12}
_THURSDAY = 3
"""1970-01-01 was a Thursday: three days after the Monday its ISO week began on."""


def period_number(days: Days, each: Each) -> Counts:
    """Number the periods so that the days of one period share a number and numbers grow by one.

    days: int32; result: int32, same length. Weeks are ISO weeks (Monday first, ISO 8601).
    """
    if each is Each.OPEN_DAY:
        return days
    if each is Each.WEEK:
        return (days + _THURSDAY) // 7
    table = month_table()
    months = table.month.take(days - table.first_day).astype(np.int32)
    return months // np.int32(_MONTHS_PER_PERIOD[each])


def period_first_day(numbers: Counts, each: Each) -> Days:
    """The first day of each numbered period; the inverse of `period_number`."""
    if each is Each.OPEN_DAY:
        return numbers
    if each is Each.WEEK:
        return (numbers * 7 - _THURSDAY).astype(np.int32)
    return month_table().first_of.take(numbers * _MONTHS_PER_PERIOD[each])
