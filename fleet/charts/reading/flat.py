"""Where does each place of the form lie in a picture, and how does the page look laid flat?

First by the corners of its tags alone: that takes care of how it lay and was looked at. How far the
print lies from there is kept as shifts on a lattice over the page (`fleet.charts.reading.fitting`
finds them).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from fleet.charts.geometry import FORM_HEIGHT, FORM_WIDTH
from fleet.charts.places import Place
from fleet.charts.reading.arrays import MARGIN, Field, Grey, Points, size_of
from fleet.charts.reading.found import FoundPage

__all__ = ["FEW_TAGS", "Fit", "flat_picture", "in_view", "lattice", "shifts_at", "starts_of"]

FEW_TAGS = 2
"""With so many tags a perspective cannot be told."""
_RATIOS = (1.0, 204 / 98, 204 / 196)
"""How much longer across than up pixels may be: of a scan; of a fax (ITU-T T.4), which has 204 dots
an inch across and 98 or 196 lines an inch.
"""
_LATTICE = 5.0


@dataclass(frozen=True, slots=True)
class Fit:
    """Where the form lies in a picture, and where that was seen to be so."""

    start: Points
    """The 3 x 3 homography by the tags: from mm of the form to pixels."""
    shifts: NDArray[Any]
    """How far the print lies from there in mm, on a lattice of every 5 mm: float32, h x w x 2."""
    seen: Points
    """The middles of pieces that fitted, in mm, n x 2."""
    tried: int
    """How many pieces have lines at all."""

    @property
    def share(self) -> float:
        """Of the pieces that have lines, how many fitted."""
        return len(self.seen) / max(1, self.tried)


def starts_of(found: FoundPage) -> list[Points]:
    """Homographies by a page's tags, the likeliest first, each 3 x 3 from mm to pixels.

    Two tags are 9 mm wide: what they say of the other side of the page is wild. So they are first
    taken to lie on a scan, where both directions have one scale, or those of a fax (ITU-T T.4: 204
    dots an inch across, 98 or 196 lines an inch).
    """
    homography, _ = cv2.findHomography(found.here, found.there)
    whole = np.asarray(homography, np.float64)
    if len(found.corners) > FEW_TAGS:
        return [whole]
    sides = np.abs(found.there.reshape(-1, 4, 2) - np.roll(found.there.reshape(-1, 4, 2), -1, 1))
    stretch = float(sides[..., 0].max(axis=1).mean() / sides[..., 1].max(axis=1).mean())
    near = sorted(_RATIOS, key=lambda one: abs(np.log(one / stretch)))
    return [*(_alike(found, one) for one in near[:2]), whole]


def _alike(found: FoundPage, ratio: float) -> Points:
    """Turned, moved and made larger only, where need be as a fax is stretched."""
    there = found.there * [1.0, ratio]
    x, y = found.here.T
    one, none = np.ones_like(x), np.zeros_like(x)
    known = np.concatenate([np.c_[x, -y, one, none], np.c_[y, x, none, one]])
    (a, b, right, down), *_ = np.linalg.lstsq(known, there.T.ravel(), rcond=None)
    turned = np.array([[a, -b, right], [b, a, down], [0, 0, 1]])
    return np.asarray(np.diag([1, 1 / ratio, 1]) @ turned)


def flat_picture(picture: Grey, start: Points, scale: float, shifts: Field | None = None) -> Grey:
    """The flat page, cut out of a picture by a homography and shifts of a lattice."""
    wide, high = size_of(scale)
    if shifts is None:
        to_mm = np.array([[1 / scale, 0, -MARGIN], [0, 1 / scale, -MARGIN], [0, 0, 1]])
        half = np.array([[1, 0, 0.5], [0, 1, 0.5], [0, 0, 1]])
        back = np.array([[1, 0, -0.5], [0, 1, -0.5], [0, 0, 1]])
        whole = back @ start @ to_mm @ half
        how = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
        return cv2.warpPerspective(picture, whole, (wide, high), flags=how, borderValue=255)
    at = lattice() + shifts
    there = cv2.perspectiveTransform(at.reshape(1, -1, 2).astype(np.float64), start)
    field = (there.reshape(*at.shape) - 0.5).astype(np.float32)
    whole_field = _spread(field, wide, high, scale)
    # Both maps are in one; OpenCV's types do not know that the other may be missing then.
    none: Any = None
    return cv2.remap(picture, whole_field, none, cv2.INTER_LINEAR, borderValue=255)


def in_view(fit: Fit, cells: Sequence[Place], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """Which cells lie whole within a picture of a height and width."""
    corners = np.array(
        [(x, y) for one in cells for x, y in ((one.x, one.y), (one.x + one.w, one.y + one.h))]
    )
    at = corners + shifts_at(fit.shifts, corners)
    there = cv2.perspectiveTransform(at[None], fit.start)[0].reshape(-1, 4)
    high, wide = shape[:2]
    x, y = there[:, ::2], there[:, 1::2]
    return np.asarray(((x > 0) & (x < wide) & (y > 0) & (y < high)).all(axis=1))


def lattice() -> NDArray[Any]:
    """Places in mm every 5 mm, a little more than the flat page: h x w x 2."""
    x = np.arange(-MARGIN, FORM_WIDTH + MARGIN + _LATTICE, _LATTICE, dtype=np.float32)
    y = np.arange(-MARGIN, FORM_HEIGHT + MARGIN + _LATTICE, _LATTICE, dtype=np.float32)
    return np.stack(np.meshgrid(x, y), axis=-1)


def _spread(field: NDArray[Any], wide: int, high: int, scale: float) -> Field:
    """A field on the lattice, for each pixel of the flat page."""
    step = round(scale * _LATTICE)
    large = cv2.resize(field, None, fx=step, fy=step, interpolation=cv2.INTER_LINEAR)
    # A point of the lattice lies in the middle of its square there, here at its corner.
    half = step // 2
    return large[half : half + high, half : half + wide]


def shifts_at(shifts: Field, places: Points) -> Points:
    """The shifts at some places, between the points of the lattice."""
    x, y = ((places + MARGIN) / _LATTICE).astype(np.float32).T
    found = cv2.remap(shifts, x[None], y[None], cv2.INTER_LINEAR, borderMode=cv2.BORDER_REPLICATE)
    return found.reshape(-1, 2).astype(np.float64)
