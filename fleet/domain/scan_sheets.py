"""What is kept of scanned charts until a person has accepted what was read from them?

It is at work, not of the record: neither chained nor exported.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass
from enum import StrEnum

from fleet.domain.scans import Doubt, Verdict

__all__ = ["Answer", "ScanCell", "ScanFile", "ScanSheet", "Scope", "SheetState"]


class SheetState(StrEnum):
    """What becomes of a page."""

    WAITING = "waiting"
    SETTLED = "settled"
    """Accepted, with no question left."""
    ASIDE = "set aside"
    """Nothing is to be taken from it."""


class Answer(StrEnum):
    """What a person says that a cell holds."""

    FILLED = "filled"
    DONE = "done"
    UNUSED = "unused"
    EXPLAINED = "explained"
    """It is empty, and they say why."""
    BLANK = "blank"
    """It is empty: it stays a gap."""
    UNKNOWN = "cannot tell"
    """It waits for somebody else."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanFile:
    """One file that was sent, known by the SHA-256 of its content (64 hex digits)."""

    sha256: str
    name: str
    media_type: str
    size: int
    """Bytes."""
    by: str
    """Who sent it, as `Stamp.by` has it."""
    sent_at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanSheet:
    """One chart page that was looked for in one picture of a file."""

    number: str
    """Its name in addresses, drawn at random."""
    file: str
    """The SHA-256 of the file."""
    place: int
    """Which picture of the file it is in, from 1."""
    print: str
    """The number of its print; '' where none was read, or none is known by it."""
    page: int
    """Of the chart, from 1; 0 where it is not known."""
    site: str
    """That of the print; '' where none is known: then it is shown to whoever sent it."""
    problem: str = ""
    """Why nothing of it can be used, and what to do."""
    warnings: tuple[str, ...] = ()
    state: SheetState = SheetState.WAITING
    settled_by: str = ""
    """Who accepted the last of it, or set it aside."""
    settled_at: dt.datetime | None = None
    accepted: int = 0
    """How many entries came from it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ScanCell:
    """One cell as it was read, and what a person said of it."""

    row: int
    slot: int
    verdict: Verdict
    confidence: float
    doubt: Doubt | None = None
    answer: Answer | None = None
    words: str = ""
    """Of an explained one, why it is empty."""
    answered_by: str = ""
    answered_at: dt.datetime | None = None


@dataclass(frozen=True, slots=True)
class Scope:
    """Whose pages somebody may see: those of some sites, and what they sent of no known site."""

    sites: Collection[str]
    by: str
