"""Which way do the trips go? A map of the state with a line for each, as SVG.

Up to 28 lines can be told apart on one map; a plan of more trips is drawn as a map for every month.
`month` asks for the trips of one month alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fleet.pictures.drawing import Group, Mark, Picture, Rect, Words
from fleet.pictures.letters import fit
from fleet.pictures.map_key import KEY_WIDTH, ROW, key_height, key_marks, strokes_of
from fleet.pictures.map_marks import FURNITURE, MapView, map_marks
from fleet.pictures.palette import SOFT
from fleet.pictures.phrases import month_text, whole_miles
from fleet.pictures.plan_words import Numbered, PlanWords, numbered
from fleet.pictures.projection import aspect
from fleet.pictures.svg import svg
from notifications.digests.words import counted
from schedules.visits.model import Order
from schedules.visits.told import ToldPlan

__all__ = [
    "MOST_LINES",
    "map_picture",
    "month_cell",
    "month_maps",
    "months_of",
    "route_map",
    "trips_of",
]

MOST_LINES = 28
"""So many trips can be told apart on one map."""
_WIDTH, _MARGIN, _HEAD, _GAP = 260.0, 6.0, 16.0, 5.0
_LEAST, _MOST = 80.0, 230.0
_CELL_HEAD = 5.0


def route_map(
    order: Order, told: ToldPlan, words: PlanWords, *, month: dt.date | None = None
) -> str:
    """The map of a plan's trips as SVG; month: only of those that start in this day's month."""
    trips = trips_of(numbered(told), month)
    if month is None and len(trips) > MOST_LINES:
        return month_maps(order, told, words)
    room = _WIDTH - 2 * _MARGIN
    high = min(_MOST, max(_LEAST, room * aspect(order) + FURNITURE + 10))
    size = (_WIDTH, _HEAD + high + key_height(len(trips), room) + _MARGIN)
    title = f"{words.title}, {month_text(month)}" if month else words.title
    return svg(map_picture(order, trips, words, title, size))


def map_picture(
    order: Order,
    trips: Sequence[Numbered],
    words: PlanWords,
    title: str,
    size: tuple[float, float],
) -> Picture:
    """One map of some trips on a sheet of a width and height in millimetres."""
    summary = _summary(trips)
    frame = Rect(_MARGIN, _HEAD, size[0] - _MARGIN, size[1] - _MARGIN / 2)
    return Picture(
        *size,
        f"Route map, {title}",
        f"A map with {summary}.",
        (
            _title(title, frame.width),
            Words(x=_MARGIN, y=13.6, text=fit(summary, frame.width, 8), size=8, colour=SOFT),
            *_map_and_key(order, words, trips, frame),
        ),
    )


def month_maps(order: Order, told: ToldPlan, words: PlanWords, *, columns: int = 2) -> str:
    """A small map for every month in which a trip starts, as SVG."""
    trips = numbered(told)
    wide = (_WIDTH - 2 * _MARGIN - (columns - 1) * _GAP) / columns
    high = wide * min(1.2, aspect(order)) + FURNITURE + _CELL_HEAD + 10
    months = months_of(trips)
    top, marks = _HEAD, list[Mark]()
    for begin in range(0, len(months), columns):
        row = [trips_of(trips, month) for month in months[begin : begin + columns]]
        bottom = top + high + key_height(max(map(len, row)), wide)
        for across, some in enumerate(row):
            left = _MARGIN + across * (wide + _GAP)
            cell = Rect(left, top, left + wide, bottom - key_height(max(map(len, row)), wide))
            cell = cell._replace(bottom=cell.bottom + key_height(len(some), wide))
            marks.append(month_cell(order, words, some, cell))
        top = bottom + _GAP
    title = f"Route maps by month, {words.title}"
    said = f"A map for each of {counted(len(months), 'month')}: {_summary(trips)}."
    head = _title(f"{words.title}: {_summary(trips)}", _WIDTH - 2 * _MARGIN)
    return svg(Picture(_WIDTH, top + _MARGIN, title, said, (head, *marks)))


def month_cell(
    order: Order,
    words: PlanWords,
    trips: Sequence[Numbered],
    cell: Rect,
    *,
    is_beside: bool = False,
) -> Group:
    """The map of one month's trips, at least one, under the month's name.

    is_beside: its key stands to the right, not under it.
    """
    name = f"{month_text(trips[0].month)}: {_summary(trips)}"
    text = fit(name, cell.width, 8, is_bold=True)
    head = Words(x=cell.left, y=cell.top + 3.4, text=text, size=8, is_bold=True)
    frame = cell._replace(top=cell.top + _CELL_HEAD)
    drawn = _map_and_key(order, words, trips, frame, is_beside=is_beside)
    return Group("month", name, (head, *drawn))


def trips_of(trips: Sequence[Numbered], month: dt.date | None) -> list[Numbered]:
    """The trips that start in a day's month; None: all."""
    return [one for one in trips if month is None or one.month == month.replace(day=1)]


def months_of(trips: Sequence[Numbered]) -> list[dt.date]:
    """The firsts of the months in which trips start."""
    return sorted({one.month for one in trips})


def _map_and_key(
    order: Order,
    words: PlanWords,
    trips: Sequence[Numbered],
    frame: Rect,
    *,
    is_beside: bool = False,
) -> tuple[Mark, ...]:
    """A map and its key under it, or beside it where that is asked and high enough."""
    strokes = strokes_of(trips)
    view = MapView(order=order, words=words, trips=trips, strokes=strokes)
    if is_beside and len(trips) * ROW <= frame.height:
        split = frame.right - KEY_WIDTH
        drawn = map_marks(view, frame._replace(right=split - 3))
        return *drawn, *key_marks(trips, strokes, frame._replace(left=split))
    split = frame.bottom - key_height(len(trips), frame.width) - 0.5
    drawn = map_marks(view, frame._replace(bottom=split))
    return *drawn, *key_marks(trips, strokes, frame._replace(top=split))


def _title(text: str, room: float) -> Words:
    size = 12
    return Words(x=_MARGIN, y=9, text=fit(text, room, size, is_bold=True), size=size, is_bold=True)


def _summary(trips: Sequence[Numbered]) -> str:
    return (
        f"{counted(len(trips), 'trip')}, "
        f"{counted(sum(len(one.trip.visits) for one in trips), 'visit')}, "
        f"{counted(sum(one.services for one in trips), 'service')}, "
        f"{whole_miles(sum(one.trip.miles for one in trips))}"
    )
