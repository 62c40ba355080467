"""How far is it between two places, and how long does the drive take?

Legs are given in the order of the places, as `Order` wants them: hundredths of a mile and whole
minutes, square, 0 from a place to itself.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Final, NamedTuple

__all__ = ["Legs", "great_circle_legs", "great_circle_miles", "table_legs", "unknown_legs"]

EARTH_MILES: Final = 3958.8
"""The radius of the sphere that legs are measured on: the Earth's mean radius, 6371.0 km."""

Leg = tuple[str, str]
"""From one place to another, by their names."""


class Legs(NamedTuple):
    """Miles in hundredths and whole minutes, a row a place."""

    miles: tuple[tuple[int, ...], ...]
    minutes: tuple[tuple[int, ...], ...]


def great_circle_legs(
    points: Sequence[tuple[float, float]], road_factor: float, miles_an_hour: float
) -> Legs:
    """Legs as the great circle times a factor, at one speed; points: latitude, longitude, degrees.

    Miles are rounded half up to a hundredth; minutes, of the unrounded miles, up to a whole one.
    """
    miles = [[road_factor * great_circle_miles(a, b) for b in points] for a in points]
    return Legs(
        tuple(tuple(math.floor(leg * 100 + 0.5) for leg in row) for row in miles),
        tuple(tuple(math.ceil(leg / miles_an_hour * 60) for leg in row) for row in miles),
    )


def great_circle_miles(a: tuple[float, float], b: tuple[float, float]) -> float:
    """The shortest way over the sphere between two points in degrees (haversine formula)."""
    north, east = math.radians(b[0] - a[0]), math.radians(b[1] - a[1])
    narrowing = math.cos(math.radians(a[0])) * math.cos(math.radians(b[0]))
    square = math.sin(north / 2) ** 2 + narrowing * math.sin(east / 2) ** 2
    return 2 * EARTH_MILES * math.asin(math.sqrt(min(1.0, square)))


def unknown_legs(places: Sequence[str], table: Mapping[Leg, object]) -> Iterator[Leg]:
    """The legs between places that a table does not have, in the order of the places."""
    for a in places:
        for b in places:
            if a != b and (a, b) not in table:
                yield a, b


def table_legs(places: Sequence[str], miles: Mapping[Leg, int], minutes: Mapping[Leg, int]) -> Legs:
    """Legs as tables give them, each from one place to another; KeyError for one they lack."""
    return Legs(
        tuple(tuple(0 if a == b else miles[a, b] for b in places) for a in places),
        tuple(tuple(0 if a == b else minutes[a, b] for b in places) for a in places),
    )
