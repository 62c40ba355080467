"""How wide is a line of letters, before anybody knows in which font it will be shown?

Widths are those of a wide sans serif (as DejaVu Sans has them, rounded up by classes of letters),
so that what fits here fits in narrower ones too.
"""

from __future__ import annotations

import unicodedata

from fleet.pictures.drawing import POINT

__all__ = ["fit", "line_height", "width"]

_NARROW, _SMALL, _WIDE = 0.32, 0.42, 0.98
_SHARES = (
    dict.fromkeys("ijl.,:;'|! ", _NARROW)
    | dict.fromkeys("frt()[]-/", _SMALL)
    | dict.fromkeys("mwMW@%&…—Ææ", _WIDE)
)
_LOWER, _UPPER, _FULL, _BOLD = 0.64, 0.79, 1.05, 1.13


def width(text: str, size: float, *, is_bold: bool = False) -> float:
    """How many millimetres a line in letters of so many points may take."""
    share = sum(_share(char) for char in text)
    return share * size * POINT * (_BOLD if is_bold else 1.0)


def fit(text: str, room: float, size: float, *, is_bold: bool = False) -> str:
    """The text cut to a width in millimetres, with '…' where something is cut off."""
    if width(text, size, is_bold=is_bold) <= room:
        return text
    kept = len(text)
    while kept and width(text[:kept].rstrip() + "…", size, is_bold=is_bold) > room:
        kept -= 1
    return text[:kept].rstrip() + "…"


def line_height(size: float) -> float:
    """From one line to the next, in millimetres."""
    return size * POINT * 1.28


def _share(char: str) -> float:
    if char in _SHARES:
        return _SHARES[char]
    if unicodedata.east_asian_width(char) in "WF":
        return _FULL
    if char.islower() or char.isdigit():
        return _LOWER
    return _UPPER
