"""What do the codes in a page's head say?

Each page has the same code twice. It is read from a piece of the page laid flat, so that a slant,
a perspective or a fax's longish pixels are gone.
"""

from __future__ import annotations

from collections.abc import Iterator

import cv2
import numpy as np
import zxingcpp

from fleet.charts.codes import Code, read_code
from fleet.charts.geometry import CODE_CORNERS, MODULE
from fleet.charts.reading.arrays import Grey, Points

__all__ = ["codes_anywhere", "codes_on"]

_SIDE = 21 * MODULE
_ROOM = 5.0
"""So much is looked at round a code, in mm: one that stands beside a lost corner is not quite where
the other corners say."""
_SCALES = (8.0, 12.0)
_QR = zxingcpp.BarcodeFormats(zxingcpp.BarcodeFormat.QRCode)


def codes_on(picture: Grey, start: Points) -> set[Code]:
    """What the codes say that can be read; more than one where they disagree.

    start: 3 x 3, from mm of the form to pixels of the picture.
    """
    return {code for x, y in CODE_CORNERS if (code := _code(picture, start, x, y))}


def codes_anywhere(picture: Grey) -> set[Code]:
    """What codes of ours say that lie anywhere in a picture, any way up."""
    found = zxingcpp.read_barcodes(picture, formats=_QR)
    return {code for one in found if (code := read_code(one.text))}


def _code(picture: Grey, start: Points, x: float, y: float) -> Code | None:
    for piece in _pieces(picture, start, x - _ROOM, y - _ROOM):
        for found in zxingcpp.read_barcodes(
            piece, formats=_QR, try_rotate=False, try_downscale=False
        ):
            code = read_code(found.text)
            if code is not None:
                return code
    return None


def _pieces(picture: Grey, start: Points, left: float, top: float) -> Iterator[Grey]:
    """The code's place laid flat, as it is and made smoother or clearer."""
    for scale in _SCALES:
        to_mm = np.array([[1 / scale, 0, left], [0, 1 / scale, top], [0, 0, 1]])
        side = round((_SIDE + 2 * _ROOM) * scale)
        piece = cv2.warpPerspective(
            picture,
            start @ to_mm,
            (side, side),
            flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP,
            borderValue=255,
        )
        yield piece
        smooth = cv2.GaussianBlur(piece, (0, 0), 0.25 * MODULE * scale)
        yield smooth
        yield cv2.threshold(smooth, 0, 255, cv2.THRESH_BINARY | cv2.THRESH_OTSU)[1]
