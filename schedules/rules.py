"""What is a recurring duty? Validated values for intervals, rolls and rules (design 4 and 7).

A rule is one *version* of a duty: several rules of one kind and task follow each other by their
`from`. Which version speaks on a day, for a unit of a given model, is answered by `RuleBook`.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from enum import StrEnum

from schedules.errors import RuleError

__all__ = [
    "FIRST_YEAR",
    "LAST_YEAR",
    "LEAST_RETENTION",
    "Basis",
    "DueAfter",
    "Each",
    "First",
    "Interval",
    "Kind",
    "ReadingRange",
    "Roll",
    "Rule",
    "RuleBook",
]

FIRST_YEAR, LAST_YEAR = 1950, 2099
"""Years beyond these are slips of the keyboard in a record of bench equipment."""


class Basis(StrEnum):
    """How a rule counts: from the last time done, from a fixed date, or cell by cell."""

    ANCHORED = "anchored"
    FIXED = "fixed"
    CELL = "cell"


class Each(StrEnum):
    """The period of one cell (design 4.5); weeks are ISO weeks."""

    OPEN_DAY = "open-day"
    WEEK = "week"
    MONTH = "month"
    QUARTER = "quarter"
    HALF_YEAR = "half-year"
    YEAR = "year"


class Roll(StrEnum):
    """How a date that falls on a closed day moves (design 4.2)."""

    NONE = "none"
    FOLLOWING = "following"
    PRECEDING = "preceding"
    MODIFIED_FOLLOWING = "modified-following"


class First(StrEnum):
    """When an anchored rule is first due: an interval after the start, or at the start."""

    AFTER_INTERVAL = "after-interval"
    AT_START = "at-start"


class DueAfter(StrEnum):
    """The events that make an anchored rule due at once (design 4.3 step 3)."""

    MOVED = "moved"
    REPAIRED = "repaired"


_COMPONENT = re.compile(r"P(\d{1,4})([DWMY])")


@dataclass(frozen=True, slots=True)
class Interval:
    """A span of whole days or whole months; weeks are 7 days, years 12 months (design 4.1)."""

    count: int
    in_months: bool
    text: str = field(compare=False)

    @classmethod
    def parse(cls, text: str) -> Interval:
        """Read one ISO 8601 component such as P45D, P2W, P6M, P1Y; RuleError otherwise."""
        match = _COMPONENT.fullmatch(text)
        if match is None or int(match[1]) == 0:
            raise RuleError(
                "every",
                f"'{text}' is not an interval",
                "write one component, as P45D, P2W, P6M or P1Y",
            )
        number, letter = int(match[1]), match[2]
        per_letter = {"D": (1, False), "W": (7, False), "M": (1, True), "Y": (12, True)}
        size, in_months = per_letter[letter]
        return cls(number * size, in_months, text)


LEAST_RETENTION = Interval(24, True, "P2Y")
"""So long the record of any unit is kept at least (42 CFR 493.1105(a)(3), check value A-08)."""


@dataclass(frozen=True, slots=True)
class ReadingRange:
    """The limits of a reading, both ends inside; a missing end is open."""

    low: Decimal | None
    high: Decimal | None
    unit: str

    def holds(self, reading: Decimal) -> bool:
        """Say whether the reading lies within the limits."""
        return (self.low is None or self.low <= reading) and (
            self.high is None or reading <= self.high
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One version of one recurring duty of a kind (design 7); spans in days, fees in cents.

    Exactly one of `each` (a cell rule) and `every` is set; `every` with `anchor` is a fixed rule,
    without it an anchored one. `from_on` and `until_on` are both days on which the version speaks.
    """

    kind: str
    task: str
    title: str
    source: str
    each: Each | None = None
    every: Interval | None = None
    anchor_on: dt.date | None = None
    early: int = 0
    grace: int = 0
    roll: Roll = Roll.FOLLOWING
    keep_anchor: int = 0
    due_after: frozenset[DueAfter] = frozenset()
    first: First = First.AFTER_INTERVAL
    times: int = 1
    from_on: dt.date | None = None
    until_on: dt.date | None = None
    models: tuple[str, ...] = ()
    range: ReadingRange | None = None
    stops_use: bool = False
    """A function check: while it fails, the unit is not used (42 CFR 493.1254(b)(2))."""
    vendor: bool = False
    minutes: int | None = None
    fee_cents: int | None = None
    cautions: tuple[str, ...] = ()
    title_es: str | None = None
    cautions_es: tuple[str, ...] = ()

    @property
    def basis(self) -> Basis:
        """How this rule counts."""
        if self.each is not None:
            return Basis.CELL
        return Basis.ANCHORED if self.anchor_on is None else Basis.FIXED

    def speaks_on(self, on: dt.date) -> bool:
        """Say whether the day lies within this version's `from` and `until`, both included."""
        return (self.from_on is None or self.from_on <= on) and (
            self.until_on is None or on <= self.until_on
        )


@dataclass(frozen=True, slots=True)
class Kind:
    """One sort of instrument and the rules it brings, in the order of the book."""

    code: str
    name: str
    rules: tuple[Rule, ...]
    retention: Interval = LEAST_RETENTION
    """How long what was recorded of such a unit is kept: whole months, LEAST_RETENTION or more."""

    def tasks(self, model: str) -> dict[str, tuple[Rule, ...]]:
        """Every task a unit of this model has, with its versions, the one that wins first.

        Versions made for the model come before those for every model, later `from` before
        earlier; the first that speaks on a day is in force on it.
        """
        found: dict[str, list[Rule]] = {}
        for rule in self.rules:
            if not rule.models or model in rule.models:
                found.setdefault(rule.task, []).append(rule)
        oldest = dt.date.min
        return {
            task: tuple(
                sorted(versions, key=lambda r: (bool(r.models), r.from_on or oldest), reverse=True)
            )
            for task, versions in found.items()
        }


@dataclass(frozen=True, slots=True)
class RuleBook:
    """All kinds of a rule book, with the text they were read from and its SHA-256 in hex."""

    kinds: Mapping[str, Kind]
    text: str
    sha256: str
