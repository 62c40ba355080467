"""How would the empty page look, drawn by lines alone? What the picture is laid over.

Only what is known from the print is drawn: edges of months and cells, strokes through what was
struck out, crosses, tags. Words are left out; they only add noise to the comparison.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache

import cv2
import numpy as np

from fleet.charts.geometry import (
    BOX_HEIGHT,
    DAY_ROW,
    DAY_WIDTH,
    FORM_WIDTH,
    LABEL,
    TAG_CORNERS,
    TAG_MODULE,
    Division,
    read_geometry,
)
from fleet.charts.places import Place, places
from fleet.charts.reading.arrays import Grey, Ink, pixels, size_of
from fleet.charts.tags import modules_of
from fleet.domain.prints import Print
from fleet.services.charts.frozen import cells_of
from fleet.services.charts.periods import days_of_month

__all__ = ["STRUCK", "drawn_page", "page_places"]

_FINE, _SHIFT = 16.0, 4
"""Pixels a millimetre the lines are drawn on; the parts of a pixel ends lie on, as a power of 2."""
_EDGE, _CELL, _STRIKE, _INSET = 0.35, 0.2, 0.25, 1.0
STRUCK = frozenset("WHCONRBEX")
"""The signs of cells that were crossed out."""
_Line = tuple[float, float, float, float, float]
"""x, y, x, y and the width, in mm."""


@lru_cache(maxsize=4)
def drawn_page(print_: Print, page: int, scales: tuple[float, ...]) -> Mapping[float, Ink]:
    """The page as its lines, by scale: float32 of the size of a flat page of so many pixels a
    millimetre. It is drawn once, finely; each scale must go into _FINE without a rest.
    """
    wide, high = size_of(_FINE)
    canvas = np.zeros((high, wide), np.uint8)
    parts = read_geometry(print_.geometry)
    for line in (*_frames(parts, print_.year, page), *_cells(print_, page)):
        _draw(canvas, line)
    _tags(canvas, page)
    return {
        scale: cv2.resize(canvas, size_of(scale), interpolation=cv2.INTER_AREA).astype(np.float32)
        / np.float32(255)
        for scale in scales
    }


def page_places(print_: Print, page: int) -> Sequence[Place]:
    """The cells of a page's months and head."""
    return [one for one in places(print_.geometry, print_.year) if one.page == page]


def _draw(canvas: Grey, line: _Line) -> None:
    x, y, to_x, to_y = (round((pixels(v, _FINE) - 0.5) * 2**_SHIFT) for v in line[:4])
    thick = max(1, round(line[4] * _FINE))
    cv2.line(canvas, (x, y), (to_x, to_y), 255, thick, cv2.LINE_8, _SHIFT)


def _frames(parts: Division, year: int, page: int) -> Iterator[_Line]:
    """Edges of the months and their rows, and of the days, and the crosses where there is none."""
    for month in parts.months_of(page):
        top, bottom = parts.month_top(month), parts.month_top(month) + parts.month_height
        yield from _box(0, top, FORM_WIDTH, bottom - top, _EDGE)
        yield (LABEL, top, LABEL, bottom, _EDGE)
        if not parts.grid_rows:
            continue
        start = top + DAY_ROW
        yield (0, start, FORM_WIDTH, start, _EDGE)
        boxes = bottom - parts.box_rows * BOX_HEIGHT
        yield (0, boxes, FORM_WIDTH, boxes, _EDGE)
        for day in range(1, 31):
            yield (LABEL + day * DAY_WIDTH, top, LABEL + day * DAY_WIDTH, start, _CELL)
        for row in range(1, parts.grid_rows):
            yield (0, start + row * parts.row, FORM_WIDTH, start + row * parts.row, _CELL)
        yield from _crosses(parts, month, days_of_month(year, month))


def _crosses(parts: Division, month: int, count: int) -> Iterator[_Line]:
    for row in range(parts.grid_rows):
        y = parts.month_top(month) + DAY_ROW + row * parts.row
        for day in range(count, 31):
            x, to_x = LABEL + day * DAY_WIDTH + _INSET, LABEL + (day + 1) * DAY_WIDTH - _INSET
            low, up = y + parts.row - _INSET, y + _INSET
            yield (x, low, to_x, up, _STRIKE)
            yield (x, up, to_x, low, _STRIKE)


def _cells(print_: Print, page: int) -> Iterator[_Line]:
    """Edges of cells, and the strokes through those that were struck out."""
    signs = cells_of(print_)
    for one in page_places(print_, page):
        if not one.first:
            yield from _box(one.x, one.y, one.w, one.h, _EDGE)
        else:
            yield (one.x, one.y, one.x, one.y + one.h, _CELL)
            yield (one.x + one.w, one.y, one.x + one.w, one.y + one.h, _CELL)
        row = signs[one.row] if one.row < len(signs) else ""
        if one.slot < len(row) and row[one.slot] in STRUCK:
            right, low = one.x + one.w - _INSET, one.y + one.h - _INSET
            yield (one.x + _INSET, low, right, one.y + _INSET, _STRIKE)


def _box(x: float, y: float, w: float, h: float, width: float) -> Iterator[_Line]:
    yield (x, y, x + w, y, width)
    yield (x, y + h, x + w, y + h, width)
    yield (x, y, x, y + h, width)
    yield (x + w, y, x + w, y + h, width)


def _tags(canvas: Grey, page: int) -> None:
    for corner, (left, top) in enumerate(TAG_CORNERS):
        for row, modules in enumerate(modules_of(page, corner)):
            for column, is_black in enumerate(modules):
                x, y = left + column * TAG_MODULE, top + row * TAG_MODULE
                x0, y0 = round(pixels(x, _FINE)), round(pixels(y, _FINE))
                x1, y1 = round(pixels(x + TAG_MODULE, _FINE)), round(pixels(y + TAG_MODULE, _FINE))
                canvas[y0:y1, x0:x1] = 255 * is_black
