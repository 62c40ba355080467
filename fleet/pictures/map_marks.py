"""How is a state drawn with some of a plan's trips? Sites, depots, lines and numbers in a frame.

A trip is an arc for every leg, bent to the right of the way it is driven, so that the way out and
the way back do not hide each other; roads are not shown. What is drawn last lies on top: lines,
then places with their names where there is room, then the numbers of the trips.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from fleet.pictures.drawing import Box, Dot, Group, Mark, Path, Point, Rect, Stroke, Words
from fleet.pictures.labels import Room
from fleet.pictures.letters import fit, width
from fleet.pictures.palette import FAINT, SOFT
from fleet.pictures.phrases import long_day
from fleet.pictures.plan_words import Numbered, PlanWords
from fleet.pictures.projection import Projection, projection, scale_miles
from notifications.digests.words import counted
from schedules.visits.model import Order

__all__ = ["FURNITURE", "MapView", "map_marks"]

FURNITURE = 8.0
"""How high the strip with the scale bar under a map is."""
_DOT, _SQUARE = 0.75, 1.5
_STEPS = 8
_NUMBER, _NAME, _DEPOT, _SMALL = 6.5, 5.0, 7.0, 6.5
_MOST_NAME = 26.0
_INSET = 7.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MapView:
    """What is drawn: trips of an order's plan, each with its stroke."""

    order: Order
    words: PlanWords
    trips: Sequence[Numbered]
    strokes: Mapping[int, Stroke]
    """By the trip's number."""


def map_marks(view: MapView, frame: Rect) -> tuple[Mark, ...]:
    """The marks of a map within a frame, its scale bar and signs at the lower edge."""
    area = Rect(frame.left, frame.top, frame.right, frame.bottom - FURNITURE)
    inner = Rect(area.left + _INSET, area.top + 5, area.right - _INSET, area.bottom - 5)
    fitted = projection(view.order, inner)
    points = _points(view.order, fitted)
    room = Room(area)
    for place, point in points.items():
        size = _SQUARE if place in _depots(view.order) else _DOT
        room.take(Rect(point.x - size, point.y - size, point.x + size, point.y + size))
    ways = [_way(trip, points) for trip in view.trips]
    for way in ways:
        room.cross(way)
    lines = [_line(view, *pair) for pair in zip(view.trips, ways, strict=True)]
    depots = list(_depot_marks(view, points, room))
    numbers = [_number(view, trip, points, room) for trip in view.trips]
    return (
        Box(area, None, Stroke(colour=FAINT, width=0.2)),
        *lines,
        *_sites(view, points),
        *depots,
        *_site_names(view, points, room),
        *numbers,
        *_furniture(frame, fitted),
    )


def _points(order: Order, fitted: Projection) -> dict[str, Point]:
    stands = {one.site: fitted.point(one.latitude, one.longitude) for one in order.stands}
    depots = {one.depot: fitted.point(one.latitude, one.longitude) for one in order.depots}
    return stands | depots


def _depots(order: Order) -> set[str]:
    return {one.depot for one in order.depots}


def _way(one: Numbered, points: Mapping[str, Point]) -> tuple[Point, ...]:
    """The points of a trip's line, from its depot and back."""
    trip = one.trip
    places = [trip.depot, *(visit.site for visit in trip.visits), trip.depot]
    bend = 0.04 + 0.025 * (one.number % 4)
    made = [points[trip.depot]]
    for here, there in pairwise(places):
        made += _arc(points[here], points[there], bend)
    return tuple(made)


def _line(view: MapView, one: Numbered, way: tuple[Point, ...]) -> Group:
    trip = one.trip
    told = (
        f"Trip {one.number}, {trip.technician}, from {long_day(trip.starts_on)}: "
        f"{counted(len(trip.visits), 'visit')}, {counted(one.services, 'service')}"
    )
    return Group("trip", told, (Path(way, view.strokes[one.number]),))


def _arc(here: Point, there: Point, bend: float) -> Iterator[Point]:
    """Points of an arc without its first, as far to the right as `bend` of its length."""
    across, down = there.x - here.x, there.y - here.y
    for step in range(1, _STEPS + 1):
        share = step / _STEPS
        off = 4 * bend * share * (1 - share)
        yield Point(here.x + share * across - off * down, here.y + share * down + off * across)


def _sites(view: MapView, points: Mapping[str, Point]) -> Iterator[Group]:
    visited = {visit.site for one in view.trips for visit in one.trip.visits}
    for stand in view.order.stands:
        is_visited = stand.site in visited
        dot = Dot(
            points[stand.site],
            _DOT,
            "#000000" if is_visited else "#ffffff",
            None if is_visited else Stroke(width=0.22),
        )
        yield Group(
            "site visited" if is_visited else "site", view.words.name_of(stand.site), (dot,)
        )


def _depot_marks(view: MapView, points: Mapping[str, Point], room: Room) -> Iterator[Group]:
    for depot in view.order.depots:
        at, half = points[depot.depot], _SQUARE
        square = Box(Rect(at.x - half, at.y - half, at.x + half, at.y + half), "#000000")
        text = fit(depot.depot, _MOST_NAME, _DEPOT, is_bold=True)
        wide = width(text, _DEPOT, is_bold=True)
        place = room.insist(at, wide, 2.9, (2.2, 3.5, 5))
        name = Words(
            x=place.left, y=place.bottom - 0.7, text=text, size=_DEPOT, is_bold=True, is_clear=True
        )
        yield Group("depot", depot.depot, (square, name))


def _number(view: MapView, one: Numbered, points: Mapping[str, Point], room: Room) -> Group:
    """The trip's number in a frame of its colour, beside the stop that is farthest out."""
    home, stroke = points[one.trip.depot], view.strokes[one.number]
    stops = [points[visit.site] for visit in one.trip.visits] or [home]
    at = max(stops, key=lambda stop: math.dist(stop, home))
    text = str(one.number)
    wide = width(text, _NUMBER, is_bold=True) + 1.2
    place = room.insist(at, wide, 3.1, (1.4, 2.6, 4.2, 6.0, 8.0, 11.0, 14.0))
    box = Box(place, "#ffffff", Stroke(colour=stroke.colour, width=0.45))
    leader = Path((at, place.middle), Stroke(colour=stroke.colour, width=0.15))
    label = Words(
        x=place.middle.x,
        y=place.bottom - 0.65,
        text=text,
        size=_NUMBER,
        is_bold=True,
        align="middle",
    )
    return Group("number", "", (leader, box, label))


def _site_names(view: MapView, points: Mapping[str, Point], room: Room) -> Iterator[Mark]:
    for stand in view.order.stands:
        text = _short_name(view.words.name_of(stand.site), stand.site)
        place = room.find(points[stand.site], width(text, _NAME), 2.1, (1.2,))
        if place is not None:
            yield Words(
                x=place.middle.x,
                y=place.bottom - 0.5,
                text=text,
                size=_NAME,
                colour=SOFT,
                align="middle",
                is_clear=True,
            )


def _short_name(name: str, site: str) -> str:
    """The name where it is short, else the site's short name, cut if that is long too."""
    return name if width(name, _NAME) <= _MOST_NAME else fit(site, _MOST_NAME, _NAME)


def _furniture(frame: Rect, fitted: Projection) -> Iterator[Mark]:
    """Scale bar, north, and what the signs say, under the map."""
    y = frame.bottom - FURNITURE / 2
    miles = scale_miles(fitted.mile, frame.width / 5)
    left, right = frame.left + 1, frame.left + 1 + miles * fitted.mile
    bar = Stroke(width=0.35)
    ends = [Path((Point(x, y - 1), Point(x, y + 1)), bar) for x in (left, right)]
    told = Words(x=right + 1.5, y=y + 0.8, text=f"{miles} miles", size=_SMALL)
    yield Group("scale", "", (Path((Point(left, y), Point(right, y)), bar), *ends, told))
    x = right + 1.5 + width(told.text, _SMALL) + 5
    tip = Point(x, y - 2.4)
    arrow = [Point(x, y + 2.4), tip, Point(x - 0.9, y - 0.9), tip, Point(x + 0.9, y - 0.9)]
    north = Words(x=x + 1.6, y=y + 0.8, text="N", size=_SMALL, is_bold=True)
    yield Group("north", "North is up", (Path(tuple(arrow), bar), north))
    yield from _signs(x + 8, y)


def _signs(x: float, y: float) -> Iterator[Mark]:
    hollow = Stroke(width=0.22)
    signs: tuple[tuple[Mark, str], ...] = (
        (Box(Rect(x, y - 1.2, x + 2.4, y + 1.2), "#000000"), "depot"),
        (Dot(Point(x + 14 + 1, y), _DOT), "visited"),
        (Dot(Point(x + 29 + 1, y), _DOT, "#ffffff", hollow), "not visited"),
    )
    for sign, (mark, text) in enumerate(signs):
        yield mark
        yield Words(x=x + (3.4, 17, 32)[sign], y=y + 0.8, text=text, size=_SMALL)
