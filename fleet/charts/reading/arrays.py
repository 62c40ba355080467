"""Which arrays does the reader of charts hand on, and how is the flat page measured?

OpenCV's types do not tell what is in an array, so each name here does.

The *flat* page is the form's box and a margin round it at so many pixels a millimetre, upright.
"""

from __future__ import annotations

from typing import Any

from numpy.typing import NDArray

from fleet.charts.geometry import FORM_HEIGHT, FORM_WIDTH

__all__ = ["MARGIN", "Field", "Grey", "Ink", "Points", "pixels", "size_of"]

Grey = NDArray[Any]
"""uint8: a picture, height x width, 255 white."""
Ink = NDArray[Any]
"""float32: a picture of ink, height x width: 0 paper, 1 as black as the print."""
Points = NDArray[Any]
"""float64, n x 2: x and y."""
Field = NDArray[Any]
"""float32, height x width x 2: for each place of the flat page where it lies in the picture."""
MARGIN = 4.0
"""White kept round the form's box, in mm."""


def pixels(mm: float, scale: float) -> float:
    """Where a millimetre of the form lies on a flat page of so many pixels a millimetre."""
    return (mm + MARGIN) * scale


def size_of(scale: float) -> tuple[int, int]:
    """Width and height of a flat page in pixels."""
    return round((FORM_WIDTH + 2 * MARGIN) * scale), round((FORM_HEIGHT + 2 * MARGIN) * scale)
