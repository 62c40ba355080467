"""Why are days of a year pre-marked for a unit, a sign a day, and in words by month?"""

from __future__ import annotations

import calendar
from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from fleet.services.charts.days import Cause, Reason
from fleet.services.charts.facts import OPEN, SIGN_OF_CAUSE, Note

__all__ = ["day_signs", "month_notes"]


def day_signs(reasons: Sequence[Reason | None]) -> str:
    """The sign of each day, OPEN where a mark is expected of the unit."""
    return "".join([SIGN_OF_CAUSE[reason.cause] if reason else OPEN for reason in reasons])


def month_notes(
    year: int, reasons: Sequence[Reason | None], names: Mapping[str, str]
) -> tuple[tuple[Note, ...], ...]:
    """For each month the runs of days with one reason; closed weekdays are not told.

    reasons: one for each day of the year. names: what sites are called, by their short names.
    """
    found, begin = [], 0
    for month in range(1, 13):
        end = begin + calendar.monthrange(year, month)[1]
        found.append(tuple(_notes(reasons[begin:end], names)))
        begin = end
    return tuple(found)


def _notes(reasons: Sequence[Reason | None], names: Mapping[str, str]) -> Iterator[Note]:
    day = 1
    for reason, run in groupby(reasons):
        next_day = day + len(list(run))
        if reason is not None and reason.cause is not Cause.WEEKDAY:
            words = reason.words
            if reason.cause is Cause.ELSEWHERE:
                words = names.get(words, words)
            yield Note(day, next_day - 1, SIGN_OF_CAUSE[reason.cause], words)
        day = next_day
