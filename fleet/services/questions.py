"""What is asked of the record? The day, the instant it is known at, how far it is narrowed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, field

from fleet.domain.answers import StatusRow

__all__ = ["DueAnswer", "Explanation", "Narrow", "Question"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Narrow:
    """Only rows of these; an empty tuple does not narrow. Names are compared without case."""

    sites: tuple[str, ...] = ()
    counties: tuple[str, ...] = ()
    regions: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    tasks: tuple[str, ...] = ()
    states: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """One question: `on` None means today at each site, by its own time zone, at instant `now`."""

    now: dt.datetime
    on: dt.date | None = None
    known_at: dt.datetime | None = None
    narrow: Narrow = field(default_factory=Narrow)


@dataclass(frozen=True, slots=True)
class DueAnswer:
    """Rows in the order of site and unit; units that could not be answered are in `failures`."""

    rows: list[StatusRow]
    failures: list[str]


@dataclass(frozen=True, slots=True)
class Explanation:
    """One row of `due` and the way to it: sentences in order, the last one the answer."""

    row: StatusRow
    facts: dict[str, str | int | None]
    """The values between, flat: base, kept (times the anchor was kept), and so on."""
    steps: list[str]
    cautions: list[str]
    """What the rule in force warns of, as its book says it."""
