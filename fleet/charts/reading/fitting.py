"""Where do the printed lines of a page lie, wherever paper curled or a feeder stretched it?

The picture is laid over the lines of its print, from large pieces of the page to small ones; large
ones come first because the grid is periodic: a small one fits as well a row off. Through how far
the pieces lie off goes a smooth field, and what is left of near pieces is averaged.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fleet.charts.geometry import DAY_WIDTH, FORM_HEIGHT, FORM_WIDTH, TAG_CORNERS
from fleet.charts.reading.arrays import Field, Grey, Ink, Points, pixels
from fleet.charts.reading.flat import FEW_TAGS, Fit, flat_picture, lattice, shifts_at, starts_of
from fleet.charts.reading.found import FoundPage

__all__ = ["OFF_REACH", "SCALES", "far_off", "laid_on"]

_Floats = NDArray[Any]
"""float64."""


@dataclass(frozen=True, slots=True)
class _Stage:
    """One round of comparing: pieces of so many mm, how far each may lie off, how bendable."""

    scale: float
    """Pixels a millimetre."""
    wide: float
    high: float
    reach: float
    columns: int
    rows: int
    degree: int
    least: float
    """So alike a piece must be at least to count (a correlation)."""
    nearer: float = 0.02
    """A piece a millimetre further off must be so much more alike."""


_STAGES = (
    _Stage(2.0, 64.0, 40.0, 5.0, 5, 5, 2, 0.25),
    _Stage(2.0, 44.0, 30.0, 3.5, 7, 7, 3, 0.25),
    _Stage(4.0, 22.0, 18.0, 1.6, 11, 10, 4, 0.25),
    _Stage(4.0, 15.0, 14.0, 1.0, 17, 13, 5, 0.3),
)
SCALES = (2.0, 4.0)
"""At which scales the lines of a print are needed."""
_FEW_TAGS_DEGREE = 3
_GROWING = _Stage(2.0, 56.0, 36.0, 2.4, 9, 8, 1, 0.25)
"""Where a side's tags are missing: pieces near those there are come first, and none may jump by a
day or a row."""
_GUARD = _Stage(2.0, 56.0, 36.0, 9.0, 6, 6, 0, 0.3, nearer=0.004)
_BESIDE, _SAME_WAY, _OTHERS = 60.0, 0.6, 3
_ROW_OFF, _DAY_NEAR = 4.2, 1.2
"""A page whose small pieces fit can be off by whole rows and days alone. In between lie places that
are alike by chance: marks in the middles of cells look like upright lines."""
OFF_REACH = (_GUARD.wide / 2, _GUARD.high / 2)
_GROWN_TO = (70.0, 120.0, 180.0, 300.0)
_LINED = 6.0
"""So steep the lines of a piece must be on average, of 255, to tell where it lies."""
_FEWEST, _CLOSE, _WELL = 6, 0.4, 0.85
_PINNED = 4.0
"""How much more a tag's corner counts than a piece."""


def laid_on(picture: Grey, found: FoundPage, drawn: Mapping[float, Ink]) -> Fit:
    """Lay a picture over the lines of its print.

    drawn: the print's lines (`lines.drawn_page`) at SCALES pixels a millimetre.
    """
    fits = (_laid(picture, found, start, drawn) for start in starts_of(found))
    best = next(fits)
    while best.share < _WELL and (other := next(fits, None)):
        best = max(best, other, key=lambda one: one.share)
    return best


def _laid(picture: Grey, found: FoundPage, start: Points, drawn: Mapping[float, Ink]) -> Fit:
    shifts = np.zeros_like(lattice())
    pins = _pins(found, start)
    if len(found.corners) < len(TAG_CORNERS):
        shifts = _grown(picture, found, start, drawn[_GROWING.scale])
    fit = Fit(start, shifts, np.zeros((0, 2)), 0)
    for stage in _STAGES:
        flat = flat_picture(picture, start, stage.scale, shifts)
        middles, moves, likeness = _compared(_darkness(flat), drawn[stage.scale], stage)
        good = likeness >= stage.least
        if good.sum() < _FEWEST:
            return Fit(start, shifts, np.zeros((0, 2)), len(middles))
        degree = stage.degree
        if len(found.corners) <= FEW_TAGS:
            degree = min(degree, _FEW_TAGS_DEGREE)
        told = moves[good] + shifts_at(shifts, middles[good])
        curve, residue = _bent(middles[good], told, pins, degree)
        local = _local(middles[good], residue, stage)
        shifts = (curve + local).astype(np.float32)
        close = np.nan_to_num(np.abs(residue)).max(axis=1) < _CLOSE
        fit = Fit(start, shifts, middles[good][close], len(middles))
    return fit


def _grown(picture: Grey, found: FoundPage, start: Points, drawn: Ink) -> Field:
    """Shifts that grow evenly away from the tags there are, followed from piece to piece."""
    shifts, pins = np.zeros_like(lattice()), _pins(found, start)
    tags = found.here.reshape(-1, 4, 2).mean(axis=1)
    for limit in _GROWN_TO:
        ink = _darkness(flat_picture(picture, start, _GROWING.scale, shifts))
        middles, moves, likeness = _compared(ink, drawn, _GROWING)
        away = np.linalg.norm(middles[:, None] - tags[None], axis=2).min(axis=1)
        near = (likeness >= _GROWING.least) & (away < limit)
        if near.sum() >= _FEWEST:
            told = moves[near] + shifts_at(shifts, middles[near])
            shifts = _bent(middles[near], told, pins, _GROWING.degree)[0].astype(np.float32)
    return shifts


def far_off(picture: Grey, fit: Fit, drawn: Ink) -> tuple[Points, float]:
    """Which large pieces of a flat page lie a row or a day off: their middles, and their share.

    drawn: the print's lines at 2 pixels a millimetre. A piece reaches as far as OFF_REACH round its
    middle. Some look so by chance; the middles are of those alone beside which three others lie off
    the same way.
    """
    ink = _darkness(flat_picture(picture, fit.start, _GUARD.scale, fit.shifts))
    middles, moves, likeness = _compared(ink, drawn, _GUARD)
    good = likeness >= _GUARD.least
    across, down = np.nan_to_num(np.abs(moves)).T
    is_day_off = np.abs(across - DAY_WIDTH) < _DAY_NEAR
    off = good & (is_day_off | (down > _ROW_OFF))
    share = float(off.sum() / max(1, good.sum()))
    where, how = middles[off], np.nan_to_num(moves[off])
    near = np.linalg.norm(where[:, None] - where[None], axis=2) < _BESIDE
    alike = np.abs(how[:, None] - how[None]).max(axis=2, initial=0) < _SAME_WAY
    return where[(near & alike).sum(axis=1) > _OTHERS], share


def _pins(found: FoundPage, start: Points) -> tuple[Points, Points]:
    """Places of the tags' corners, and how far each lies from where the homography puts it, mm."""
    there = cv2.perspectiveTransform(found.there[None], np.linalg.inv(start))[0]
    return found.here, there - found.here


def _darkness(flat: Grey) -> Grey:
    """Ink as far as it is darker than the paper round it."""
    paper = cv2.morphologyEx(flat, cv2.MORPH_CLOSE, np.ones((7, 7), np.uint8))
    return cv2.subtract(paper, flat)


def _compared(ink: Grey, drawn: Ink, stage: _Stage) -> tuple[Points, Points, _Floats]:
    """Pieces of the page: their middles, how far each lies off, in mm, and how alike it is.

    Pieces without lines are left out. Where all lines of a piece run one way, how far it lies off
    along them cannot be seen and is not a number.
    """
    shown = cv2.GaussianBlur(ink, (0, 0), 0.6)
    template = cv2.GaussianBlur((drawn * 255).astype(np.uint8), (0, 0), 0.8)
    upright = cv2.integral(cv2.convertScaleAbs(cv2.Sobel(template, cv2.CV_16S, 1, 0)))
    lying = cv2.integral(cv2.convertScaleAbs(cv2.Sobel(template, cv2.CV_16S, 0, 1)))
    half_w, half_h = stage.wide / 2, stage.high / 2
    found = []
    for y in np.linspace(half_h, FORM_HEIGHT - half_h, stage.rows):
        for x in np.linspace(half_w, FORM_WIDTH - half_w, stage.columns):
            area = _area(x, y, stage)
            moves = [_sum(table, area) / _size(area) > _LINED for table in (upright, lying)]
            if any(moves):
                dx, dy, alike = _piece(shown, template, area, stage)
                found.append((x, y, dx if moves[0] else np.nan, dy if moves[1] else np.nan, alike))
    rows = np.array(found).reshape(-1, 5)
    return rows[:, :2], rows[:, 2:4], rows[:, 4]


_Area = tuple[int, int, int, int]


def _area(x: float, y: float, stage: _Stage) -> _Area:
    """Left, top, right, bottom in pixels of a piece round a place."""
    left, right = (x - stage.wide / 2, x + stage.wide / 2)
    top, bottom = (y - stage.high / 2, y + stage.high / 2)
    x0, y0, x1, y1 = (round(pixels(v, stage.scale)) for v in (left, top, right, bottom))
    return x0, y0, x1, y1


def _size(area: _Area) -> int:
    return (area[2] - area[0]) * (area[3] - area[1])


def _sum(table: NDArray[Any], area: _Area) -> float:
    x0, y0, x1, y1 = area
    return float(table[y1, x1] - table[y0, x1] - table[y1, x0] + table[y0, x0])


def _piece(shown: Grey, template: Grey, area: _Area, stage: _Stage) -> tuple[float, float, float]:
    scale, reach = stage.scale, round(stage.reach * stage.scale)
    x0, y0, x1, y1 = area
    top, left = max(0, y0 - reach), max(0, x0 - reach)
    near = shown[top : y1 + reach, left : x1 + reach]
    alike = cv2.matchTemplate(near, template[y0:y1, x0:x1], cv2.TM_CCOEFF_NORMED)
    away = _away(alike.shape[0], alike.shape[1], y0 - top, x0 - left)
    column, row = cv2.minMaxLoc(alike - stage.nearer / scale * away)[3]
    best = alike[row, column]
    dx = _between(alike[row], column) + left - x0
    dy = _between(alike[:, column], row) + top - y0
    return dx / scale, dy / scale, float(best)


@lru_cache(maxsize=64)
def _away(high: int, wide: int, row: int, column: int) -> NDArray[Any]:
    """How far each pixel lies from one of them."""
    down, across = np.ogrid[:high, :wide]
    return np.asarray(np.hypot(down - row, across - column), np.float32)


def _between(values: NDArray[Any], at: int) -> float:
    """Where the top of a parabola through a highest value and its neighbours lies."""
    if not 0 < at < len(values) - 1:
        return float(at)
    low, mid, up = (float(v) for v in values[at - 1 : at + 2])
    bend = low - 2 * mid + up
    return at + (0.5 * (low - up) / bend if bend < -1e-6 else 0.0)


def _terms(at: Points, degree: int) -> _Floats:
    x = at[..., 0] / (FORM_WIDTH / 2) - 1
    y = at[..., 1] / (FORM_HEIGHT / 2) - 1
    powers: Sequence[tuple[int, int]] = [
        (i, j) for i in range(degree + 1) for j in range(degree + 1 - i)
    ]
    return np.stack([x**i * y**j for i, j in powers], axis=-1)


def _bent(
    middles: Points, moves: Points, pins: tuple[Points, Points], degree: int
) -> tuple[_Floats, Points]:
    """A smooth field through the moves, on the lattice, and what is left of each move."""
    at = np.concatenate([middles, pins[0]])
    told = np.concatenate([moves, pins[1]])
    terms = _terms(at, degree)
    factors = [_through(terms, one, len(middles)) for one in told.T]
    left = told - terms @ np.stack(factors, axis=-1)
    return _terms(lattice().astype(np.float64), degree) @ np.stack(factors, axis=-1), left[
        : len(middles)
    ]


def _through(terms: _Floats, told: _Floats, pieces: int) -> _Floats:
    """The factors of a curve through values, the first so many of them those of pieces.

    Values far from the curve count little: weighted least squares, five times over; those that are
    not a number count nothing.
    """
    weights = np.where(np.isnan(told), 0.0, 1.0)
    weights[pieces:] = _PINNED
    own, values = weights.copy(), np.nan_to_num(told)
    factors = np.zeros(terms.shape[1])
    for _ in range(5):
        side = terms * own[:, None]
        factors = np.linalg.solve(side.T @ terms + 1e-3 * np.eye(len(factors)), side.T @ values)
        left = np.abs(values - terms @ factors)
        known = left[:pieces][weights[:pieces] > 0]
        typical = max(0.05, 1.5 * float(np.median(known))) if len(known) else 1.0
        own = weights / (1 + (left / typical) ** 2)
    return factors


def _local(middles: Points, residue: Points, stage: _Stage) -> _Floats:
    """What the smooth field leaves, averaged over near pieces that agree, on the lattice."""
    points = lattice().astype(np.float64)
    flat = points.reshape(-1, 2)
    spread = max(stage.wide, stage.high) * 0.6
    apart = ((flat[:, None] - middles[None]) ** 2).sum(axis=2)
    weights = np.exp(-apart / (2 * spread**2))
    usable = np.abs(np.nan_to_num(residue, nan=np.inf)) < 0.25 * stage.reach + 0.2
    values = np.where(usable, residue, 0.0)
    mean = (weights @ values) / (weights @ usable + 0.5)
    return np.asarray(mean.reshape(points.shape))
