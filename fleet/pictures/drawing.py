"""What is a picture made of? Lines, boxes, dots and words at places, for screens and for paper.

Lengths are millimetres from the upper left corner, sizes of letters points. The same marks become
SVG (fleet.pictures.svg) and a page of a PDF (fleet.pictures.sheet).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple, TypeAlias

__all__ = [
    "INK",
    "POINT",
    "Align",
    "Box",
    "Dot",
    "Group",
    "Mark",
    "Path",
    "Picture",
    "Point",
    "Rect",
    "Stroke",
    "Words",
    "flat",
]

POINT = 25.4 / 72
"""A point, in millimetres."""
INK = "#000000"
Align: TypeAlias = Literal["start", "middle", "end"]


class Point(NamedTuple):
    """A place: millimetres to the right, and down."""

    x: float
    y: float


class Rect(NamedTuple):
    """A rectangle by its sides."""

    left: float
    top: float
    right: float
    bottom: float

    @property
    def width(self) -> float:
        """From left to right."""
        return self.right - self.left

    @property
    def height(self) -> float:
        """From top to bottom."""
        return self.bottom - self.top

    @property
    def middle(self) -> Point:
        """Its centre."""
        return Point((self.left + self.right) / 2, (self.top + self.bottom) / 2)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stroke:
    """How a line is drawn; dashes: lengths drawn and left out by turns, none for a whole line."""

    colour: str = INK
    width: float = 0.2
    dashes: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True)
class Path:
    """A line through points."""

    points: tuple[Point, ...]
    stroke: Stroke


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle, filled with a colour or drawn with a stroke, or both."""

    place: Rect
    fill: str | None = None
    stroke: Stroke | None = None


@dataclass(frozen=True, slots=True)
class Dot:
    """A circle, filled or hollow."""

    centre: Point
    radius: float
    fill: str | None = INK
    stroke: Stroke | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Words:
    """One line of letters; y of its base line. is_clear: lines under it are kept off it."""

    x: float
    y: float
    text: str
    size: float
    is_bold: bool = False
    align: Align = "start"
    colour: str = INK
    is_clear: bool = False


@dataclass(frozen=True, slots=True)
class Group:
    """Marks that are one thing: what sort of thing, and what it is called when it is asked."""

    sort: str
    name: str
    marks: tuple[Mark, ...]


Mark: TypeAlias = Path | Box | Dot | Words | Group


@dataclass(frozen=True, slots=True)
class Picture:
    """Marks on a sheet of a size; what they show in one sentence, for one who cannot see it."""

    width: float
    height: float
    title: str
    told: str
    marks: tuple[Mark, ...]


def flat(marks: Iterable[Mark]) -> Iterator[Path | Box | Dot | Words]:
    """The marks one by one, those of groups too, in the order they are drawn."""
    for mark in marks:
        if isinstance(mark, Group):
            yield from flat(mark.marks)
        else:
            yield mark
