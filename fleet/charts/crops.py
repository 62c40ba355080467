"""Which part of a scanned page shows some cells, and what is a picture of several such parts?

Parts are cut from the page laid flat (8 pixels a millimetre, the form's box and 4 mm round it) and
stand one below the other in one picture, so that a page of questions asks for one file. Where they
stand follows from their sizes alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from io import BytesIO
from typing import NamedTuple

from fleet.charts.geometry import FORM_HEIGHT, FORM_WIDTH
from fleet.charts.places import places

__all__ = ["Crop", "Strip", "crop_of", "strip_of", "strip_picture"]

FLAT_SCALE, FLAT_MARGIN = 8, 4.0
"""Pixels a millimetre, and millimetres round the form's box, of a page laid flat."""
AROUND = 6.0
"""Millimetres that are shown round the cells."""
SCALE = 5
"""Pixels a millimetre of what is shown."""
MOST_BYTES = 16_000
"""A page that asks for it weighs 30 kB with all it needs."""
_QUALITIES = (60, 40, 25, 12, 4, 1)


class Box(NamedTuple):
    """A rectangle: where it begins, and its sizes."""

    x: float
    y: float
    w: float
    h: float


@dataclass(frozen=True, slots=True)
class Crop:
    """A part of a page, and the cells in it that are meant; millimetres in the form's box."""

    part: Box
    cells: Sequence[Box]


@dataclass(frozen=True, slots=True)
class Strip:
    """Where parts stand in their picture, in its pixels; frames: of the cells, part by part."""

    width: int
    height: int
    parts: Sequence[Box]
    frames: Sequence[Sequence[Box]]


def crop_of(geometry: str, year: int, row: int, slots: Iterable[int]) -> Crop:
    """The part of a page that shows some cells of one row and month.

    UnknownLayout for a geometry of another layout; ValueError where the row has no such slot.
    """
    wanted = set(slots)
    cells = [
        Box(one.x, one.y, one.w, one.h)
        for one in places(geometry, year)
        if one.row == row and one.slot in wanted
    ]
    left = max(-FLAT_MARGIN, min(cell.x for cell in cells) - AROUND)
    top = max(-FLAT_MARGIN, min(cell.y for cell in cells) - AROUND)
    right = min(FORM_WIDTH + FLAT_MARGIN, max(cell.x + cell.w for cell in cells) + AROUND)
    bottom = min(FORM_HEIGHT + FLAT_MARGIN, max(cell.y + cell.h for cell in cells) + AROUND)
    return Crop(Box(left, top, right - left, bottom - top), cells)


def strip_of(crops: Sequence[Crop]) -> Strip:
    """Where parts stand in the picture of all of them."""
    parts: list[Box] = []
    frames: list[list[Box]] = []
    top = 0
    for crop in crops:
        width, height = round(crop.part.w * SCALE), round(crop.part.h * SCALE)
        parts.append(Box(0, top, width, height))
        frames.append([_framed(cell, crop.part, top) for cell in crop.cells])
        top += height
    return Strip(max((int(part.w) for part in parts), default=0), top, parts, frames)


def _framed(cell: Box, part: Box, top: int) -> Box:
    x, y = (cell.x - part.x) * SCALE, (cell.y - part.y) * SCALE + top
    return Box(round(x, 1), round(y, 1), round(cell.w * SCALE, 1), round(cell.h * SCALE, 1))


def strip_picture(flat: bytes, crops: Sequence[Crop]) -> bytes:
    """The picture as WebP, of at most 16,000 bytes where any quality reaches that.

    flat: a JPEG of the page laid flat. OSError for what is no picture.
    """
    from PIL import Image

    strip = strip_of(crops)
    made = Image.new("L", (max(1, strip.width), max(1, strip.height)), 255)
    with Image.open(BytesIO(flat)) as page:
        grey = page.convert("L")
    for crop, place in zip(crops, strip.parts, strict=True):
        x, y = (crop.part.x + FLAT_MARGIN) * FLAT_SCALE, (crop.part.y + FLAT_MARGIN) * FLAT_SCALE
        box = (x, y, x + crop.part.w * FLAT_SCALE, y + crop.part.h * FLAT_SCALE)
        sizes = (int(place.w), int(place.h))
        part = grey.transform(sizes, Image.Transform.EXTENT, box, Image.Resampling.BICUBIC)
        made.paste(part, (0, int(place.y)))
    content = b""
    for quality in _QUALITIES:
        out = BytesIO()
        made.save(out, "WEBP", quality=quality, method=4)
        content = out.getvalue()
        if len(content) <= MOST_BYTES:
            break
    return content
