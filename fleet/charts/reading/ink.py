"""How much ink is where on a flat page: 0 bare paper, 1 as black as the tags were printed?

Light that falls unevenly, grey paper and pale toner are gone afterwards; noise is not.
"""

from __future__ import annotations

from collections.abc import Sequence

import cv2
import numpy as np

from fleet.charts.geometry import STROKES, TAG, TAG_CORNERS, Stroke
from fleet.charts.reading.arrays import Grey, Ink, pixels

__all__ = ["SCALE", "ink_of", "lost_strokes"]

SCALE = 8.0
"""Pixels a millimetre of the flat page that ink is judged on."""
_PAPER = 9
"""Lines and writing of up to half so many pixels at 2 a millimetre are taken off the paper."""
_LEAST_BLACK = 0.12
_MOST = 1.5
_PALE = 0.4
"""Strokes of less black are the pale ones of the strip."""
_SEEN, _GONE = 0.2, 0.05


def ink_of(flat: Grey, corners: Sequence[int]) -> Ink:
    """The ink of a flat page of 8 pixels a millimetre.

    corners: the tags in view; their border tells how black the print is.
    """
    small = cv2.resize(flat, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    paper = cv2.morphologyEx(small, cv2.MORPH_CLOSE, np.ones((_PAPER, _PAPER), np.uint8))
    paper = cv2.GaussianBlur(paper, (0, 0), 3)
    whole = cv2.resize(paper, flat.shape[::-1], interpolation=cv2.INTER_LINEAR)
    ink = 1 - flat.astype(np.float32) / np.maximum(whole, 1).astype(np.float32)
    blacks = [_black(ink, corner) for corner in corners]
    black = max(float(np.median(blacks)) if blacks else 1.0, _LEAST_BLACK)
    return np.clip(ink / np.float32(black), 0, _MOST, out=ink)


def _black(ink: Ink, corner: int) -> float:
    """How dark the upper and lower edge of a tag are."""
    x, y = TAG_CORNERS[corner]
    left, right = round(pixels(x + 1, SCALE)), round(pixels(x + TAG - 1, SCALE))
    edges = [(y + 0.4, y + 1.1), (y + TAG - 1.1, y + TAG - 0.4)]
    parts = [ink[round(pixels(a, SCALE)) : round(pixels(b, SCALE)), left:right] for a, b in edges]
    return float(np.median(np.concatenate(parts)))


def lost_strokes(ink: Ink) -> bool:
    """Say whether pale strokes of the strip in the footer are gone while the black ones are there.

    Where none can be seen the strip is out of view or covered, which says nothing.
    """
    seen = [_stroke(ink, one) for one in STROKES]
    black = [shown for shown, one in zip(seen, STROKES, strict=True) if one.black == 1]
    pale = [shown for shown, one in zip(seen, STROKES, strict=True) if one.black < _PALE]
    return min(black) > _SEEN and max(pale) < _GONE


def _stroke(ink: Ink, one: Stroke) -> float:
    """How dark a stroke is: the darkest column near its place."""
    top, bottom = round(pixels(one.y + 0.6, SCALE)), round(pixels(one.y + one.height - 0.6, SCALE))
    left, right = round(pixels(one.x - 0.5, SCALE)), round(pixels(one.x + 0.5, SCALE))
    return float(ink[top:bottom, left:right].mean(axis=0).max())
