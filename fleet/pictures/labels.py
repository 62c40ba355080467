"""Where is there room for a label beside its place, clear of other labels and best off lines?"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from itertools import pairwise

from fleet.pictures.drawing import Point, Rect

__all__ = ["Room"]

_CELL = 0.8
"""Lines are remembered by the squares of this side that they cross, in millimetres."""


class Room:
    """What of a frame is taken already."""

    def __init__(self, frame: Rect) -> None:
        self._frame = frame
        self._taken: list[Rect] = []
        self._crossed: set[tuple[int, int]] = set()

    def take(self, place: Rect) -> None:
        """Keep others off a place."""
        self._taken.append(place)

    def cross(self, points: Iterable[Point]) -> None:
        """Remember a line: labels may stand on it, but would rather not."""
        for here, there in pairwise(points):
            steps = max(1, math.ceil(math.dist(here, there) / _CELL))
            for step in range(steps + 1):
                share = step / steps
                x = here.x + share * (there.x - here.x)
                y = here.y + share * (there.y - here.y)
                self._crossed.add((int(x // _CELL), int(y // _CELL)))

    def find(self, at: Point, width: float, height: float, gaps: Iterable[float]) -> Rect | None:
        """Take a free place of a size at the first gap from a point that has one, if one has.

        Of free places at one gap the one with least of a line.
        """
        for gap in gaps:
            free = [wish for wish in _around(at, width, height, gap) if self._overlap(wish) == 0]
            if free:
                return self._best(free)
        return None

    def insist(self, at: Point, width: float, height: float, gaps: Iterable[float]) -> Rect:
        """As find; where no place is free, take the one that covers least of what is there."""
        some = tuple(gaps)
        found = self.find(at, width, height, some)
        wishes = [wish for gap in some for wish in _around(at, width, height, gap)]
        return found or self._best([min(wishes, key=self._overlap)])

    def _best(self, wishes: list[Rect]) -> Rect:
        best = min(wishes, key=self._crossings)
        self.take(best)
        return best

    def _crossings(self, wish: Rect) -> int:
        return sum(cell in self._crossed for cell in _cells(wish))

    def _overlap(self, wish: Rect) -> float:
        """How much of a place is taken or out of the frame, in square millimetres."""
        inside = _shared(wish, self._frame)
        outside = wish.width * wish.height - inside
        return max(0.0, round(outside, 6)) + sum(_shared(wish, taken) for taken in self._taken)


def _around(at: Point, width: float, height: float, gap: float) -> list[Rect]:
    """Right, left, above, below and at the corners."""
    x, y, slant = width / 2 + gap, height / 2 + gap, 0.75
    places = []
    for across, down in (
        (x, 0.0),
        (-x, 0.0),
        (0.0, -y),
        (0.0, y),
        (x * slant, -y),
        (-x * slant, -y),
        (x * slant, y),
        (-x * slant, y),
    ):
        left, top = at.x + across - width / 2, at.y + down - height / 2
        places.append(Rect(left, top, left + width, top + height))
    return places


def _cells(place: Rect) -> Iterator[tuple[int, int]]:
    for x in range(int(place.left // _CELL), int(place.right // _CELL) + 1):
        for y in range(int(place.top // _CELL), int(place.bottom // _CELL) + 1):
            yield x, y


def _shared(one: Rect, other: Rect) -> float:
    width = min(one.right, other.right) - max(one.left, other.left)
    height = min(one.bottom, other.bottom) - max(one.top, other.top)
    return width * height if width > 0 and height > 0 else 0.0
