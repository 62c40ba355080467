"""Where on a map does a place lie, and how long is a mile there?

Equirectangular, north up: degrees east are shortened by the cosine of the mean latitude, so that
miles are the same in both directions there. Snyder, Map Projections - A Working Manual (USGS
Professional Paper 1395, 1987), section 12, with that latitude as standard parallel.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass

from fleet.pictures.drawing import Point, Rect
from schedules.visits.model import Order

__all__ = ["MILES_A_DEGREE", "Projection", "aspect", "projection", "scale_miles"]

MILES_A_DEGREE = 3958.8 * math.pi / 180
"""Of latitude, on the sphere that the planner measures roads on."""
_LEAST_DEGREES = 0.5
"""So much a map shows at least, also of one place alone."""


@dataclass(frozen=True, slots=True)
class Projection:
    """Degrees to millimetres: the middle of the map, and millimetres for a degree of latitude."""

    latitude: float
    longitude: float
    middle: Point
    scale: float

    def point(self, latitude: float, longitude: float) -> Point:
        """Where a place lies on the sheet."""
        east = _turned(longitude - self.longitude) * math.cos(math.radians(self.latitude))
        north = latitude - self.latitude
        return Point(self.middle.x + east * self.scale, self.middle.y - north * self.scale)

    @property
    def mile(self) -> float:
        """A mile in millimetres."""
        return self.scale / MILES_A_DEGREE


def projection(order: Order, frame: Rect) -> Projection:
    """The largest map of an order's sites and depots that fits in a frame."""
    latitude, longitude, north, east = _extent(order)
    scale = min(frame.height / north, frame.width / east)
    return Projection(latitude, longitude, frame.middle, scale)


def aspect(order: Order) -> float:
    """How high a map of an order is for its width."""
    _, _, north, east = _extent(order)
    return north / east


def scale_miles(mile: float, room: float) -> int:
    """How many miles a scale bar shows that is not longer than `room` millimetres."""
    most = max(1.0, room / mile)
    power: int = 10 ** int(math.log10(most))
    return max(step * power for step in (1, 2, 5) if step * power <= most)


def _extent(order: Order) -> tuple[float, float, float, float]:
    """Middle latitude and longitude; height and width in degrees of latitude."""
    places = [(one.latitude, one.longitude) for one in order.stands]
    places += [(one.latitude, one.longitude) for one in order.depots]
    latitudes = [latitude for latitude, _ in places] or [0.0]
    longitudes = _unbroken([longitude for _, longitude in places] or [0.0])
    latitude, longitude = _middle(latitudes), _middle(longitudes)
    north = max(latitudes) - min(latitudes)
    east = (max(longitudes) - min(longitudes)) * math.cos(math.radians(latitude))
    return latitude, longitude, max(north, _LEAST_DEGREES), max(east, _LEAST_DEGREES)


def _unbroken(longitudes: list[float]) -> list[float]:
    """Without the break at 180 degrees, where the places lie on both sides of it."""
    if max(longitudes) - min(longitudes) <= 180:
        return longitudes
    return [one + 360 if one < 0 else one for one in longitudes]


def _middle(degrees: Iterable[float]) -> float:
    some = list(degrees)
    return (min(some) + max(some)) / 2


def _turned(degrees: float) -> float:
    return (degrees + 180) % 360 - 180
