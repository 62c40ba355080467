"""Of which few kinds of choice is a drawn fleet made?"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Callable, Sequence
from functools import cache
from typing import TypeVar

from hypothesis import strategies as st

from tests.reference.records import RefEvery

__all__ = ["AWKWARD_DAYS", "LEAP_ON", "MODELS", "Pick", "days", "length"]

T = TypeVar("T")

MODELS = ("A1", "B2")
LEAP_ON = dt.date(2024, 2, 29)
AWKWARD_DAYS = tuple(
    dt.date.fromisoformat(day)
    for day in (
        "2024-02-29", "2024-02-28", "2025-02-28", "2025-03-01", "2026-01-31", "2024-12-31",
        "2026-12-31", "2027-01-01", "2025-03-31", "2025-08-31", "2026-04-30", "2027-06-30",
    )
)  # fmt: skip
DAYS_OF_LETTER = {"D": 1.0, "W": 7.0, "M": 30.4, "Y": 365.25}


class Pick:
    """The few kinds of choice a fleet is made of; every one shrinks to its first answer."""

    def __init__(self, draw: Callable[[st.SearchStrategy[int]], int]) -> None:
        self._draw = draw

    def number(self, low: int, high: int) -> int:
        """A whole number, both ends included."""
        return self._draw(_numbers(low, high))

    def one_in(self, count: int) -> bool:
        """True about once in so many times."""
        return self.number(0, count - 1) == count - 1

    def of(self, choices: Sequence[T]) -> T:
        """One of these."""
        return choices[self.number(0, len(choices) - 1)]

    def day(self, around: dt.date, before: int, after: int) -> dt.date:
        """A day at most so many days before or after; one in eight moves to its month's end."""
        day = around + days(self.number(-before, after))
        if self.one_in(8):
            return day.replace(day=calendar.monthrange(day.year, day.month)[1])
        return day


def days(count: int) -> dt.timedelta:
    """So many days."""
    return dt.timedelta(days=count)


def length(every: RefEvery) -> float:
    """About how many days an interval has."""
    return every.count * DAYS_OF_LETTER[every.letter]


@cache
def _numbers(low: int, high: int) -> st.SearchStrategy[int]:
    return st.integers(low, high)
