"""What was read from the pages of filled charts that came back as pictures?"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

__all__ = ["CellRead", "Doubt", "SheetRead", "Verdict"]


class Verdict(StrEnum):
    """What a cell holds, as far as a program can tell."""

    BLANK = "blank"
    MARKED = "marked"
    UNCERTAIN = "uncertain"
    """A person must look."""


class Doubt(StrEnum):
    """Why a person must look at a cell."""

    FAINT = "faint"
    """So little or such pale ink that it may be a mark, a speck or an erased one."""
    OVERHANG = "overhang"
    """The ink in it seems to belong to a cell beside it."""
    RUN = "line through a run"
    """One stroke goes through it and its neighbours."""
    FIT = "fit not trusted"
    """The print round it was not found where it should be."""
    OUTSIDE = "outside the picture"
    DISAGREE = "judges disagree"
    """Two ways of judging it came to two answers."""


@dataclass(frozen=True, slots=True)
class CellRead:
    """One cell of a page: its row and slot as in `fleet.charts.places.Place`."""

    row: int
    slot: int
    verdict: Verdict
    confidence: float
    """From 0 to 1: how sure it is marked or blank, whichever the verdict says; of an uncertain one
    how near it is to marked."""
    doubt: Doubt | None = None
    """Of an uncertain one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetRead:
    """One chart page that was looked for in one picture."""

    number: str = ""
    """The number of its print, '' where no code was read."""
    page: int = 0
    """Of the chart, from 1; 0 where it is not known."""
    problem: str = ""
    """Why nothing on it can be trusted, and what to do, in words; then there are no cells."""
    warnings: tuple[str, ...] = ()
    """What a person should know of it, in words."""
    cells: tuple[CellRead, ...] = ()
    """Those that were printed open."""
    flat: bytes = b""
    """The page laid flat as a grey JPEG of 8 pixels a millimetre, the form's box and 4 mm round it;
    empty where it was not found."""
