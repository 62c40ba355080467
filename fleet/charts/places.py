"""Where does every cell of a chart lie? By its geometry and the year alone.

Printer and reader both ask here. Week cells stand in the month of their Thursday, over those of
their days that lie in it (ISO 8601: the week belongs to the year of its Thursday). Box cells stand
in the month in which their period ends, in the order of the rows. The box of a dated duty stands in
the header of each page.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from functools import lru_cache
from typing import NamedTuple

from fleet.charts.geometry import (
    BOX_HEIGHT,
    BOX_WIDTH,
    DATED_BETWEEN,
    DATED_LEFT,
    DATED_TOP,
    DATED_WIDTH,
    DAY_ROW,
    DAY_WIDTH,
    LABEL,
    Division,
    read_geometry,
)
from fleet.services.charts.facts import RowRole
from fleet.services.charts.periods import (
    days_of_month,
    end_month,
    periods_of_year,
    thursdays,
    week_span,
)
from schedules.rules import Each

__all__ = ["Place", "places", "places_of_head", "places_of_page"]


class Place(NamedTuple):
    """One cell: its row and its slot in it, both from 0; month, page; its rectangle in mm.

    The slot of a day is the day of the year, of a week its turn among the year's, of a box its
    period's, of a box in the header its page's; month and page count from 1, the month of a box in
    the header is 0. first and last: its days of the month, of any box 0 and 0.
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
        elif role == RowRole.DATED:
            found += _dated(parts, row)
        elif role in tuple(RowRole):
            found += _days(parts, row, year)
        else:
            found += _boxes(parts, row, Each(role), boxes)
    return tuple(found)


@lru_cache(maxsize=256)
def places_of_page(geometry: str, year: int, page: int) -> tuple[Place, ...]:
    """The cells of a page's months."""
    return tuple(one for one in places(geometry, year) if one.page == page and one.month)


@lru_cache(maxsize=256)
def places_of_head(geometry: str, year: int, page: int) -> tuple[Place, ...]:
    """The boxes in a page's header, from top to bottom."""
    return tuple(one for one in places(geometry, year) if one.page == page and not one.month)


def _days(parts: Division, row: int, year: int) -> Iterator[Place]:
    slot = 0
    for month in range(1, 13):
        for day in range(1, days_of_month(year, month) + 1):
            yield _in_grid(parts, row, slot, month, (day, day))
            slot += 1


def _weeks(parts: Division, row: int, year: int) -> Iterator[Place]:
    for slot, thursday in enumerate(thursdays(year)):
        yield _in_grid(parts, row, slot, thursday.month, week_span(thursday))


def _in_grid(parts: Division, row: int, slot: int, month: int, span: tuple[int, int]) -> Place:
    first, last = span
    y = parts.month_top(month) + DAY_ROW + row * parts.row
    x, w = LABEL + (first - 1) * DAY_WIDTH, (last - first + 1) * DAY_WIDTH
    rectangle = (round(x, 3), round(y, 3), round(w, 3), parts.row)
    return Place(row, slot, month, parts.page_of(month), *rectangle, first, last)


def _boxes(parts: Division, row: int, each: Each, boxes: Counter[int]) -> Iterator[Place]:
    """The boxes of a row; `boxes` counts those that each month has already."""
    for slot in range(periods_of_year(each)):
        month = end_month(each, slot)
        down, across = divmod(boxes[month], parts.slots)
        boxes[month] += 1
        x = LABEL + (across + 1) * parts.slot_width - BOX_WIDTH
        y = parts.month_top(month) + DAY_ROW + parts.grid_rows * parts.row + down * BOX_HEIGHT
        rectangle = (round(x, 3), round(y, 3), BOX_WIDTH, BOX_HEIGHT)
        yield Place(row, slot, month, parts.page_of(month), *rectangle, 0, 0)


def _dated(parts: Division, row: int) -> Iterator[Place]:
    """A box on each page, below those of the dated rows before."""
    y = DATED_TOP + parts.roles[:row].count(RowRole.DATED) * parts.dated_pitch
    height = parts.dated_pitch - DATED_BETWEEN
    rectangle = (DATED_LEFT, round(y, 3), DATED_WIDTH, round(height, 3))
    for page in range(1, parts.pages + 1):
        yield Place(row, page - 1, 0, page, *rectangle, 0, 0)
