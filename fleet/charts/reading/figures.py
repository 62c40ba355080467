"""What of a cell is measured: figures for one judge, a small picture for the other?

The first judge is given areas, pieces and neighbours as figures; the second sees the ink in and
round the cell, the lines that were printed there, and which part is the cell's own. A cell wider
than a day is looked at through several windows.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import cv2
import numpy as np
from numpy.typing import NDArray

from fleet.charts.places import Place
from fleet.charts.reading.arrays import Ink, pixels
from fleet.charts.reading.ink import SCALE

__all__ = ["FIGURES", "WINDOW", "WINDOW_SCALE", "Seen", "seen"]

FIGURES = (
    "pale area",
    "grey area",
    "dark area",
    "black area",
    "ink",
    "ink nearer the edge",
    "darkest spot",
    "darkest half millimetre",
    "darkest millimetre",
    "largest piece",
    "its width",
    "its height",
    "it touches the edge",
    "its ink outside the middle",
    "pieces",
    "ink left of it",
    "ink right of it",
    "ink above it",
    "ink below it",
    "ink on its edges",
    "broad ink",
    "steepest edge",
    "noise of the page",
    "width",
    "height",
)
"""What each figure is; areas in mm2, sizes in mm, ink from 0 to 1 or times mm2."""
WINDOW, WINDOW_SCALE = 40, SCALE / 3
"""Side of a window in pixels, and how many of them a millimetre has: 15 mm, so that of what hangs
over from a neighbour the most is seen."""
_CORE, _EDGE = 0.75, 0.4
"""So far inside its edges, in mm, a cell's middle and its whole inside begin."""
_LEVELS = (0.12, 0.25, 0.45, 0.7)
_PIECE_LEVEL = 0.22
_BROAD = 5
"""So many pixels at 2 a millimetre: 2.5 mm."""
_OWN, _STEP = 7.0, 5.0
"""Of a wide cell, in mm: from its edge to the middle of the first window twice, and from window to
window."""


class Seen(NamedTuple):
    """What was measured of some cells."""

    figures: NDArray[Any]
    """A row a cell, a column a figure of FIGURES."""
    windows: NDArray[Any]
    """Number of windows x 4 x WINDOW x WINDOW: ink, darkest ink, printed lines, own part."""
    cell_of_window: NDArray[Any]


def seen(ink: Ink, drawn: Ink, cells: Sequence[Place]) -> Seen:
    """Measure cells on the ink of a flat page of 8 pixels a millimetre.

    drawn: the printed lines at WINDOW_SCALE pixels a millimetre.
    """
    floor, noise = _floor(ink, cells)
    clean = np.clip(ink - floor, 0, None)
    windows, cell_of_window = _windows(clean, drawn, cells)
    return Seen(_figures(clean, noise, cells), windows, cell_of_window)


_Box = tuple[int, int, int, int]


def _box(one: Place, inset: float) -> _Box:
    """Left, top, right, bottom in pixels, so far inside the cell in mm (or outside)."""
    left, top = pixels(one.x + inset, SCALE), pixels(one.y + inset, SCALE)
    right, bottom = pixels(one.x + one.w - inset, SCALE), pixels(one.y + one.h - inset, SCALE)
    return round(left), round(top), round(right), round(bottom)


def _floor(ink: Ink, cells: Sequence[Place]) -> tuple[float, float]:
    """What bare paper has of ink, and how much it varies; also where hardly a cell is bare.

    From the lower part of all values inside cells: even a filled cell is mostly paper.
    """
    parts = []
    for one in cells:
        x0, y0, x1, y1 = _box(one, _CORE)
        parts.append(ink[y0:y1:3, x0:x1:3].ravel())
    values = np.concatenate(parts)
    low, middle = np.quantile(values, (0.1, 0.4))
    return float(middle), float(middle - low)


def _figures(clean: Ink, noise: float, cells: Sequence[Place]) -> NDArray[Any]:
    found = np.zeros((len(cells), len(FIGURES)), np.float32)
    cores = np.array([_box(one, _CORE) for one in cells])
    insides = np.array([_box(one, _EDGE) for one in cells])
    mm2 = SCALE**2
    for turn, level in enumerate(_LEVELS):
        found[:, turn] = _sums((clean > level).astype(np.uint8), cores) / mm2
    table = cv2.integral(clean)
    found[:, 4] = _rects(table, cores) / mm2
    found[:, 5] = _rects(table, insides) / mm2 - found[:, 4]
    blurred = (cv2.blur(clean, (4, 4)), cv2.blur(clean, (8, 8)))
    for row, (x0, y0, x1, y1) in enumerate(cores):
        found[row, 6] = clean[y0:y1, x0:x1].max()
        found[row, 7] = blurred[0][y0:y1, x0:x1].max()
        found[row, 8] = blurred[1][y0:y1, x0:x1].max()
    found[:, 9:15] = _pieces(clean, insides, cores)
    found[:, 15:19] = _beside(table, cells) / mm2
    outer = np.array([_box(one, -0.3) for one in cells])
    found[:, 19] = (_rects(table, outer) - _rects(table, insides)) / mm2
    found[:, 20] = _rects(cv2.integral(_broad(clean)), cores // 4) / (mm2 / 16)
    steep = cv2.morphologyEx(clean, cv2.MORPH_GRADIENT, np.ones((3, 3), np.uint8))
    found[:, 21] = [steep[y0:y1, x0:x1].max() for x0, y0, x1, y1 in cores]
    found[:, 22] = noise
    found[:, 23:25] = [(one.w, one.h) for one in cells]
    return found


def _broad(clean: Ink) -> Ink:
    """Ink that is broader than a pen draws, as stains are, at 2 pixels a millimetre."""
    small = cv2.resize(clean, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    return cv2.morphologyEx(small, cv2.MORPH_OPEN, np.ones((_BROAD, _BROAD), np.uint8))


def _sums(mask: NDArray[Any], boxes: NDArray[Any]) -> NDArray[Any]:
    return _rects(cv2.integral(mask), boxes)


def _rects(table: NDArray[Any], boxes: NDArray[Any]) -> NDArray[Any]:
    high, wide = table.shape[0] - 1, table.shape[1] - 1
    x0, x1 = np.clip(boxes[:, 0], 0, wide), np.clip(boxes[:, 2], 0, wide)
    y0, y1 = np.clip(boxes[:, 1], 0, high), np.clip(boxes[:, 3], 0, high)
    sums = table[y1, x1].astype(float) - table[y0, x1] - table[y1, x0] + table[y0, x0]
    return np.asarray(sums)


def _beside(table: NDArray[Any], cells: Sequence[Place]) -> NDArray[Any]:
    """The ink of strips of 2.5 mm left, right, above and below, without the lines between."""
    strips = []
    for one in cells:
        x0, y0, x1, y1 = _box(one, _EDGE)
        far, near = round(2.9 * SCALE), round(2 * _EDGE * SCALE)
        strips.append(
            (
                (x0 - far, y0, x0 - near, y1),
                (x1 + near, y0, x1 + far, y1),
                (x0, y0 - far, x1, y0 - near),
                (x0, y1 + near, x1, y1 + far),
            )
        )
    boxes = np.array(strips)
    return np.stack([_rects(table, boxes[:, side]) for side in range(4)], axis=-1)


def _pieces(clean: Ink, insides: NDArray[Any], cores: NDArray[Any]) -> NDArray[Any]:
    """Of each cell's pieces of ink the largest: area, width, height, whether it touches the edge of
    the inside, how much of it lies outside the middle; and how many pieces there are.
    """
    mask = (clean > _PIECE_LEVEL).astype(np.uint8)
    owner = np.zeros(clean.shape, np.int32)
    for turn, (x0, y0, x1, y1) in enumerate(insides):
        owner[y0:y1, x0:x1] = turn + 1
    mask[owner == 0] = 0
    _, labels, stats, middles = cv2.connectedComponentsWithStats(mask, connectivity=8)
    found = np.zeros((len(insides), 6))
    at = middles[1:].round().astype(int)
    # The middle of a ring is no part of it, but lies in the same cell.
    owners = owner[at[:, 1], at[:, 0]] - 1
    order = np.argsort(stats[1:, cv2.CC_STAT_AREA])
    for one in order:
        cell, (x, y, w, h, area) = owners[one], stats[one + 1]
        if cell < 0 or area < 3:
            continue
        x0, y0, x1, y1 = insides[cell]
        touches = x <= x0 or y <= y0 or x + w >= x1 or y + h >= y1
        found[cell, :4] = area / SCALE**2, w / SCALE, h / SCALE, touches
        cx0, cy0, cx1, cy1 = cores[cell]
        inner = labels[max(y, cy0) : min(y + h, cy1), max(x, cx0) : min(x + w, cx1)] == one + 1
        found[cell, 4] = (area - inner.sum()) / SCALE**2
        found[cell, 5] += 1
    return found


def _windows(clean: Ink, drawn: Ink, cells: Sequence[Place]) -> tuple[NDArray[Any], NDArray[Any]]:
    small = cv2.resize(clean, drawn.shape[::-1], interpolation=cv2.INTER_AREA)
    darkest = cv2.dilate(clean, np.ones((3, 3)))[1::3, 1::3]
    side = WINDOW
    layers = [
        cv2.copyMakeBorder(one, side, side, side, side, cv2.BORDER_CONSTANT)
        for one in (small, darkest, drawn)
    ]
    looked = [
        (turn, pixels(x, WINDOW_SCALE), pixels(one.y + one.h / 2, WINDOW_SCALE))
        for turn, one in enumerate(cells)
        for x in _looked_at(one)
    ]
    found = np.zeros((len(looked), 4, side, side), np.float32)
    for turn, (cell, x, y) in enumerate(looked):
        left, top = round(x - side / 2), round(y - side / 2)
        for channel, layer in enumerate(layers):
            found[turn, channel] = layer[top + side : top + 2 * side, left + side : left + 2 * side]
        x0, y0, x1, y1 = (v / 3 for v in _box(cells[cell], 0))
        rows = slice(max(0, round(y0 - top)), round(y1 - top))
        found[turn, 3, rows, max(0, round(x0 - left)) : round(x1 - left)] = 1
    return found, np.array([cell for cell, _, _ in looked])


def _looked_at(one: Place) -> Sequence[float]:
    """Where the middles of a cell's windows lie across."""
    if one.w < 9:
        return (one.x + one.w / 2,)
    half = _OWN / 2
    return tuple(np.linspace(one.x + half, one.x + one.w - half, max(2, int(one.w / _STEP))))
