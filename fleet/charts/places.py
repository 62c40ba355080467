"""Where does every cell of a chart lie? By its geometry and the year alone.

Printer and reader both ask here. Week cells stand in the month of their Thursday, over those of
their days that lie in it (ISO 8601: the week belongs to the year of its Thursday). Box cells stand
in the month in which their period ends, in the order of the rows.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from fleet.charts.geometry import (
    BOX_HEIGHT,
    BOX_WIDTH,
    DAY_ROW,
    DAY_WIDTH,
    LABEL,
    MONTHS_OF_EACH,
    Division,
    read_geometry,
)
from fleet.services.charts.facts import RowRole
from schedules.rules import Each

__all__ = ["Place", "days_of_month", "places", "week_span"]

_ONE_DAY, _ONE_WEEK = dt.timedelta(days=1), dt.timedelta(days=7)


class Place(NamedTuple):
    """One cell: its row and its slot in it, both from 0; month, page; its rectangle in mm.

    The slot of a day is the day of the year, of a week its turn among the year's, of a box its
    period's; month and page count from 1. first and last: its days of the month, of a box 0 and 0.
    """

    row: int
    slot: int
    month: int
    page: int
    x: float
    y: float
    w: float
    h: float
    first: int
    last: int


@lru_cache(maxsize=64)
def places(geometry: str, year: int) -> tuple[Place, ...]:
    """Every cell of a chart, row by row, each row in the order of time."""
    parts = read_geometry(geometry)
    boxes: Counter[int] = Counter()
    found: list[Place] = []
    for row, role in enumerate(parts.roles):
        if role == RowRole.WEEK:
            found += _weeks(parts, row, year)
        elif role in tuple(RowRole):
            found += _days(parts, row, year)
        else:
            found += _boxes(parts, row, Each(role), boxes)
    return tuple(found)


def days_of_month(year: int, month: int) -> int:
    """How many days the month has."""
    return calendar.monthrange(year, month)[1]


def week_span(year: int, thursday: dt.date) -> tuple[int, int]:
    """First and last day of the week, as days of the Thursday's month."""
    count = days_of_month(year, thursday.month)
    return max(1, thursday.day - 3), min(count, thursday.day + 3)


def _days(parts: Division, row: int, year: int) -> Iterator[Place]:
    slot = 0
    for month in range(1, 13):
        for day in range(1, days_of_month(year, month) + 1):
            yield _in_grid(parts, row, slot, month, (day, day))
            slot += 1


def _weeks(parts: Division, row: int, year: int) -> Iterator[Place]:
    on = dt.date(year, 1, 1)
    on += (3 - on.weekday()) % 7 * _ONE_DAY
    slot = 0
    while on.year == year:
        yield _in_grid(parts, row, slot, on.month, week_span(year, on))
        on, slot = on + _ONE_WEEK, slot + 1


def _in_grid(parts: Division, row: int, slot: int, month: int, span: tuple[int, int]) -> Place:
    first, last = span
    y = parts.month_top(month) + DAY_ROW + row * parts.row
    x, w = LABEL + (first - 1) * DAY_WIDTH, (last - first + 1) * DAY_WIDTH
    rectangle = (round(x, 3), round(y, 3), round(w, 3), parts.row)
    return Place(row, slot, month, parts.page_of(month), *rectangle, first, last)


def _boxes(parts: Division, row: int, each: Each, boxes: Counter[int]) -> Iterator[Place]:
    """The boxes of a row; `boxes` counts those that each month has already."""
    months = MONTHS_OF_EACH[each]
    for slot in range(12 // months):
        month = (slot + 1) * months
        down, across = divmod(boxes[month], parts.slots)
        boxes[month] += 1
        x = LABEL + (across + 1) * parts.slot_width - BOX_WIDTH
        y = parts.month_top(month) + DAY_ROW + parts.grid_rows * parts.row + down * BOX_HEIGHT
        rectangle = (round(x, 3), round(y, 3), BOX_WIDTH, BOX_HEIGHT)
        yield Place(row, slot, month, parts.page_of(month), *rectangle, 0, 0)
