"""Pictures of printed pages, and where their tags say that the paper lies; for tests only."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import cv2
import numpy as np
import pypdfium2

from fleet.charts.tags import page_and_corner

Picture = Any
"""An array of uint8, height x width, 255 white."""
PIXELS = 10
"""A millimetre of a flattened picture."""
MARGIN = 2
FORM_WIDTH, FORM_HEIGHT, TAG = 259.0, 190.0, 9.0
TAG_CORNERS = ((0.0, 0.0), (250.0, 0.0), (250.0, 181.0), (0.0, 181.0))
"""Sizes of layout 1 in mm, and the top left corners of its tags, clockwise from the top left. They
are numbers of their own, not the program's: who reads a paper has nothing else either."""
_DETECTOR = cv2.aruco.ArucoDetector(
    cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100), cv2.aruco.DetectorParameters()
)


@lru_cache(maxsize=32)
def picture(pdf: bytes, page: int, dpi: int) -> Picture:
    """A page (from 1), rendered by PDFium."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return document[page - 1].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    finally:
        document.close()


def tags_of(shown: Picture) -> dict[int, Picture]:
    """The ids found, with four corners each in pixels."""
    corners, ids, _ = _DETECTOR.detectMarkers(shown)
    found = [] if ids is None else ids.ravel().tolist()
    return {int(tag): one.reshape(4, 2) for tag, one in zip(found, corners, strict=True)}


def flattened(shown: Picture) -> Picture:
    """The box and 2 mm round it, upright, at ten pixels a millimetre."""
    there, here = [], []
    for tag, corners in tags_of(shown).items():
        told = page_and_corner(tag)
        assert told is not None
        x, y = TAG_CORNERS[told[1]]
        here += [(x, y), (x + TAG, y), (x + TAG, y + TAG), (x, y + TAG)]
        there += corners.tolist()
    # The detector counts from the middle of the first pixel.
    at = (np.array(here) + MARGIN) * PIXELS - 0.5
    homography, _ = cv2.findHomography(np.array(there), at)
    size = int((FORM_WIDTH + 2 * MARGIN) * PIXELS), int((FORM_HEIGHT + 2 * MARGIN) * PIXELS)
    return cv2.warpPerspective(shown, homography, size, borderValue=255)


def line_near(flat: Picture, x: float, y: float, *, upright: bool, reach: float = 1.0) -> float:
    """How far in mm the middle of the darkest line within a reach lies from a point in mm."""
    near = round(reach * PIXELS)
    column, row = round((x + MARGIN) * PIXELS), round((y + MARGIN) * PIXELS)
    half = 3
    if upright:
        part = flat[row - half : row + half, column - near : column + near].mean(axis=0)
    else:
        part = flat[row - near : row + near, column - half : column + half].mean(axis=1)
    ink = np.clip(255.0 - part - 60, 0, None)
    assert ink.max() > 60, f"no line near {x}, {y}"
    place = (np.arange(len(ink)) + 0.5 - near) / PIXELS
    return float((ink * place).sum() / ink.sum())
