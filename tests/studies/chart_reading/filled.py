"""What does a generator of filled pages give: a picture file, and what each cell truly holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

from numpy.typing import NDArray

__all__ = ["DAMAGES", "Array", "Filled", "Truth"]


Array = NDArray[Any]


class Truth(StrEnum):
    """What a cell of a made page holds."""

    BLANK = "blank"
    MARKED = "marked"
    AMBIGUOUS = "ambiguous"
    """A person would hesitate: a dot where a pen rested, an erased trace, a line through a run."""
    LOST = "lost"
    """Marked, but the damage took the ink away: the picture without the mark hardly differs."""


@dataclass(frozen=True, slots=True)
class Filled:
    """One filled, damaged page."""

    file: bytes
    """A PNG, JPEG, TIFF or PDF."""
    truth: Mapping[tuple[int, int], Truth]
    """By row and slot of `OpenCell`; each open cell once."""


DAMAGES = (
    "clean 300",
    "scan 200",
    "scan 150",
    "skew",
    "fax fine",
    "fax standard",
    "phone",
    "phone hard",
    "copy of a copy",
    "stain and fold",
    "low contrast",
    "upside down",
    "side cut",
    "pencil",
    "harsh",
)
"""What may have happened to a page between the bench and the reader:

    clean 300, scan 200, scan 150   a flatbed or feeder scan at that many dots an inch
    skew               2 to 8 degrees askew, 150 or 200 dots an inch
    fax fine           204 x 196 dots an inch, one bit (ITU-T T.4), with what lines and feeders do
    fax standard       204 x 98 dots an inch, one bit
    phone              a photo in an office: perspective, uneven light, soft focus, JPEG 60 to 90
    phone hard         curled 1 to 3 mm, a shadow across, JPEG 30 to 55
    copy of a copy     photocopied once or twice, then scanned at 200
    stain and fold     coffee, folds, a hole; scanned at 200
    low contrast       pale toner, grey paper, 150 dots an inch
    upside down        a scan at 200 that lay the other way up
    side cut           a scan of which 8 to 18 mm of one side are missing
    pencil             all in pencil, scanned at 200
    harsh              folds, stains, a copy, then a fax, a photo, 150 dots or skew

What a person writes: ticks, initials, crosses, readings, U, dashes, slashes, filled squares, dots
that are meant; large over the edge or small in a corner; by pen, ballpoint that skips, felt pen or
pencil.
"""
