"""Who is out when? The months of the span with every trip as a bar over its days, as SVG."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Sequence

from fleet.pictures.drawing import Box, Group, Mark, Picture, Rect, Words
from fleet.pictures.letters import fit, width
from fleet.pictures.month_marks import (
    CalendarView,
    calendar_view,
    colour_of,
    letter_of,
    month_marks,
)
from fleet.pictures.palette import PALE, SOFT, ink_on
from fleet.pictures.plan_words import PlanWords, numbered
from fleet.pictures.svg import svg
from notifications.digests.words import counted
from schedules.visits.model import Order
from schedules.visits.told import ToldPlan

__all__ = ["months", "months_pages", "months_shown"]

_WIDTH, _MARGIN, _TITLE, _KEY, _GAP = 270.0, 6.0, 9.0, 4.6, 4.0
_COLUMNS = 3
_DAY, _LANE, _HEADS, _WEEKS = 2.6, 2.9, 8.2, 6
_HOW = "A bar is a trip: its number, its technician's letter, its visits. Grey: nobody works."


def months(order: Order, told: ToldPlan, words: PlanWords) -> str:
    """The months from the order's first day to its last on one sheet, as SVG."""
    view = calendar_view(order, words, numbered(told))
    shown = months_shown(order)
    high = _HEADS + _WEEKS * (_DAY + max(1, len(view.lanes)) * _LANE)
    rows = math.ceil(len(shown) / _COLUMNS)
    head = _head_height(view, _WIDTH)
    size = (_WIDTH, head + rows * (high + _GAP) + _MARGIN)
    return svg(_page(view, shown, size, (_COLUMNS, rows)))


def months_pages(
    order: Order, told: ToldPlan, words: PlanWords, size: tuple[float, float]
) -> list[Picture]:
    """The months on sheets of a size, as many on each as leave every lane high enough to read."""
    view = calendar_view(order, words, numbered(told))
    columns, rows = _grid(len(view.lanes))
    shown, many = months_shown(order), columns * rows
    return [
        _page(view, shown[begin : begin + many], size, (columns, rows))
        for begin in range(0, len(shown), many)
    ]


def months_shown(order: Order) -> list[dt.date]:
    """The firsts of the months of the span."""
    made = [order.from_on.replace(day=1)]
    while (after := (made[-1] + dt.timedelta(days=31)).replace(day=1)) <= order.to_on:
        made.append(after)
    return made


def _grid(lanes: int) -> tuple[int, int]:
    """Columns and rows of months on a page of paper."""
    for most, columns, rows in ((2, 4, 3), (4, 3, 2), (11, 3, 1)):
        if lanes <= most:
            return columns, rows
    return 1, 1


def _page(
    view: CalendarView,
    shown: Sequence[dt.date],
    size: tuple[float, float],
    grid: tuple[int, int],
) -> Picture:
    columns, rows = grid
    top = _head_height(view, size[0])
    wide = (size[0] - 2 * _MARGIN - (columns - 1) * _GAP) / columns
    high = (size[1] - top - _MARGIN - (rows - 1) * _GAP) / rows
    cells = []
    for turn, month in enumerate(shown):
        down, across = divmod(turn, columns)
        left, upper = _MARGIN + across * (wide + _GAP), top + down * (high + _GAP)
        cells.append(month_marks(view, month, Rect(left, upper, left + wide, upper + high)))
    title = f"{view.words.title}: months"
    told = f"A calendar of {counted(len(view.trips), 'trip')}, weeks as rows."
    return Picture(*size, title, told, (*_head(view, size[0]), *cells))


def _head(view: CalendarView, wide: float) -> Iterator[Mark]:
    """The title, how a bar is read, and the technicians with their letters."""
    room = wide - 2 * _MARGIN
    title = fit(view.words.title, room, 12, is_bold=True)
    yield Words(x=_MARGIN, y=9, text=title, size=12, is_bold=True)
    yield Words(x=_MARGIN, y=13.6, text=_HOW, size=7, colour=SOFT)
    for name, (x, y) in _places(view, wide):
        lane = view.lanes[name]
        box = Rect(x, y, x + 4.4, y + 3.2)
        colour, letter = colour_of(lane), letter_of(lane)
        swatch = Words(
            x=box.middle.x, y=box.bottom - 0.8, text=letter, size=7, is_bold=True,
            align="middle", colour=ink_on(colour),
        )  # fmt: skip
        told = Words(x=box.right + 1.2, y=box.bottom - 0.8, text=_key(view, name), size=7)
        yield Group("key", name, (Box(box, colour), swatch, told))
    if not view.trips:
        yield Box(Rect(_MARGIN, 15, wide - _MARGIN, 18.6), PALE)
        yield Words(x=_MARGIN + 1, y=17.6, text="No trip is planned.", size=7)


def _key(view: CalendarView, name: str) -> str:
    vendor = next(one.vendor for one in view.order.technicians if one.technician == name)
    return fit(f"{name}, {vendor}" if vendor else name, 62, 7)


def _places(view: CalendarView, wide: float) -> list[tuple[str, tuple[float, float]]]:
    """Where the technicians stand in the head, in lines."""
    made: list[tuple[str, tuple[float, float]]] = []
    x, y = _MARGIN, 15.4
    for name in view.lanes:
        room = 5.6 + width(_key(view, name), 7) + 5
        if x > _MARGIN and x + room > wide - _MARGIN:
            x, y = _MARGIN, y + _KEY
        made.append((name, (x, y)))
        x += room
    return made


def _head_height(view: CalendarView, wide: float) -> float:
    places = _places(view, wide)
    return (places[-1][1][1] if places else 15.4) + _KEY + 2.0
