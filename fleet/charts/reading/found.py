"""Which chart pages lie in a picture, and where are the corners of each?

The four tags in a page's corners tell the page and which way up it lies (`fleet.charts.tags`). They
are looked for in the picture made small first, which is quick and takes the noise away, then in
other sizes until all four of a page are there.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache

import cv2
import numpy as np

from fleet.charts.geometry import TAG, TAG_CORNERS
from fleet.charts.reading.arrays import Grey, Points
from fleet.charts.tags import page_and_corner

__all__ = ["FoundPage", "found_pages"]

_SIZES = ((1000, 1.0), (1700, 1.0), (1700, 2.0), (2600, 1.0), (3400, 1.0), (2600, 2.0))
"""The long side the picture is brought to, in pixels, and how much more it is stretched upwards: a
fax of 98 lines an inch has half as many pixels up as across."""
_FEWEST, _ENOUGH = 2, 3
"""So many tags a page must have, and with so many no more are looked for."""
_MOST_MISFIT = 0.02
"""Of a page's width: how far a tag may lie from where the others say."""


@dataclass(frozen=True, slots=True)
class FoundPage:
    """One page in a picture."""

    page: int
    """Of the chart, from 1."""
    corners: tuple[int, ...]
    """Which of its tags were found: 0 top left, then clockwise."""
    here: Points
    """Points of the form in mm, n x 2."""
    there: Points
    """The same points in pixels of the picture, counted from the corner of its first pixel."""


def found_pages(picture: Grey) -> list[FoundPage]:
    """The pages of which at least two tags were found, from top to bottom of the picture.

    picture: uint8, height x width, 255 white.
    """
    tags: dict[int, list[Points]] = defaultdict(list)
    for turn, (size, stretch) in enumerate(_SIZES):
        new = 0
        for tag, corners in _tags(picture, size, stretch):
            if all(_far(corners, other) for other in tags[tag]):
                tags[tag].append(corners)
                new += 1
        pages = list(_pages(tags))
        is_enough = all(len(one.corners) >= _ENOUGH for one in pages)
        if pages and (is_enough or (turn and not new)):
            break
    return sorted(_pages(tags), key=lambda one: float(one.there[:, 1].mean()))


@lru_cache(maxsize=1)
def _detector() -> cv2.aruco.ArucoDetector:
    parameters = cv2.aruco.DetectorParameters()
    parameters.adaptiveThreshWinSizeMin = 11
    parameters.adaptiveThreshWinSizeMax = 31
    parameters.adaptiveThreshWinSizeStep = 20
    parameters.minMarkerPerimeterRate = 0.02
    parameters.maxMarkerPerimeterRate = 0.6
    parameters.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    dictionary = cv2.aruco.getPredefinedDictionary(cv2.aruco.DICT_4X4_100)
    return cv2.aruco.ArucoDetector(dictionary, parameters)


def _tags(picture: Grey, size: int, stretch: float) -> Iterator[tuple[int, Points]]:
    """The tags found at a size, each with its corners in pixels of the picture."""
    high, wide = picture.shape
    scale = size / max(high, wide)
    x, y = scale, scale * stretch
    way = cv2.INTER_AREA if scale < 1 else cv2.INTER_LINEAR
    shown = cv2.resize(picture, None, fx=x, fy=y, interpolation=way)
    if stretch == 1.0 and scale > 0.9:
        shown = cv2.GaussianBlur(shown, (0, 0), 0.8)
    corners, ids, _ = _detector().detectMarkers(shown)
    for tag, one in zip([] if ids is None else ids.ravel().tolist(), corners, strict=True):
        # The detector counts from the middle of the first pixel.
        yield int(tag), ((one.reshape(4, 2) + 0.5) / [x, y]).astype(np.float64)


def _far(corners: Points, other: Points) -> bool:
    side = np.linalg.norm(other[0] - other[2])
    return bool(np.linalg.norm(corners.mean(axis=0) - other.mean(axis=0)) > side)


def _pages(tags: dict[int, list[Points]]) -> Iterator[FoundPage]:
    """Tags put together: those of one page whose places agree."""
    of_page: dict[int, list[tuple[int, Points]]] = defaultdict(list)
    for tag, places in tags.items():
        told = page_and_corner(tag)
        for corners in places if told else ():
            assert told is not None  # noqa: S101 - asked above
            of_page[told[0]].append((told[1], corners))
    for page, found in sorted(of_page.items()):
        left = list(found)
        while left:
            own = _agreeing(left)
            left = [one for one in left if not any(one[1] is other[1] for other in own)]
            if len(own) >= _FEWEST:
                yield _found(page, own)


def _agreeing(found: list[tuple[int, Points]]) -> list[tuple[int, Points]]:
    """The most tags, one a corner, that lie as on one page; the first of them alone if none do."""
    best: list[tuple[int, Points]] = [found[0]]
    for first in range(len(found)):
        own = [found[first]]
        for other in found:
            if all(other[0] != one[0] for one in own) and _is_page([*own, other]):
                own.append(other)
        if len(own) > len(best):
            best = own
    return best


def _is_page(own: list[tuple[int, Points]]) -> bool:
    here, there = _points(own)
    homography, _ = cv2.findHomography(here, there)
    if homography is None:
        return False
    misfit = np.abs(cv2.perspectiveTransform(here[None], homography)[0] - there).max()
    spread = np.linalg.norm(there.max(axis=0) - there.min(axis=0))
    side = np.mean([np.linalg.norm(one[0] - one[1]) for _, one in own])
    if len(own) == _FEWEST:
        apart = np.linalg.norm(here.max(axis=0) - here.min(axis=0))
        return bool(0.5 < (spread / side) / (apart / TAG) < 2.0 and misfit < side)
    return bool(misfit < max(_MOST_MISFIT * spread, 2.0))


def _points(own: list[tuple[int, Points]]) -> tuple[Points, Points]:
    square = np.array([(0, 0), (TAG, 0), (TAG, TAG), (0, TAG)], np.float64)
    here = np.concatenate([square + TAG_CORNERS[corner] for corner, _ in own])
    return here, np.concatenate([corners for _, corners in own])


def _found(page: int, own: list[tuple[int, Points]]) -> FoundPage:
    ordered = sorted(own, key=lambda one: one[0])
    here, there = _points(ordered)
    return FoundPage(page, tuple(corner for corner, _ in ordered), here, there)
