"""What does the reference read? A fleet as plain, typed records in the shape of design section 7.

Nothing here is shared with the program. Dates end in `_on` (civil dates of the site), instants in
`_at` (UTC). Weekdays are numbers, Monday 0. `RefFleet` is one state of all files, its register
known from the beginning; only entries have an instant from which they are known (design 4.6).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

__all__ = [
    "HOLIDAY_YEARS",
    "RefClosure",
    "RefEntry",
    "RefEvery",
    "RefFleet",
    "RefHoliday",
    "RefOutage",
    "RefPattern",
    "RefPlacement",
    "RefRule",
    "RefSite",
    "RefUnit",
    "new_years_days",
]

HOLIDAY_YEARS = range(2021, 2032)
"""The years for which every site states its own holidays, so that no library's come in."""


@dataclass(frozen=True, kw_only=True)
class RefSite:
    """A site; `open_days` is its weekly pattern until the first row of `patterns` speaks."""

    site: str
    county: str = "Hooker"
    region: str = "West"
    open_days: tuple[int, ...] = (0, 1, 2, 3, 4)
    country: str = "US"
    subdivision: str = "NE"
    time_zone: str = "America/Chicago"


@dataclass(frozen=True, kw_only=True)
class RefPattern:
    """A weekly pattern of a site from a day on."""

    site: str
    from_on: dt.date
    open_days: tuple[int, ...]


@dataclass(frozen=True, kw_only=True)
class RefHoliday:
    """One holiday of one site."""

    site: str
    on: dt.date
    name: str


@dataclass(frozen=True, kw_only=True)
class RefClosure:
    """Days closed, or with `open` open by exception; both ends included, an empty site is all."""

    site: str
    from_on: dt.date
    to_on: dt.date
    reason: str
    open: bool = False


@dataclass(frozen=True, kw_only=True)
class RefUnit:
    """A unit, in service from `in_service_on` until the day before `retired_on`."""

    property_number: str
    kind: str
    site: str
    in_service_on: dt.date
    model: str = "A1"
    retired_on: dt.date | None = None
    record_from_on: dt.date | None = None


@dataclass(frozen=True, kw_only=True)
class RefPlacement:
    """A move: the unit stands at the site from this day on; later than its in-service day."""

    property_number: str
    site: str
    from_on: dt.date


@dataclass(frozen=True, kw_only=True)
class RefOutage:
    """Days out of service from `from_on` until the day before `to_on`; None: not back yet."""

    property_number: str
    from_on: dt.date
    to_on: dt.date | None
    reason: str = "repair"


@dataclass(frozen=True)
class RefEvery:
    """One ISO 8601 component, as P6M is (6, "M")."""

    count: int
    letter: str

    def __str__(self) -> str:
        return f"P{self.count}{self.letter}"


@dataclass(frozen=True, kw_only=True)
class RefRule:
    """One version of one task of a kind; `from_on` and `until_on` both included."""

    kind: str
    task: str
    each: str | None = None
    every: RefEvery | None = None
    anchor_on: dt.date | None = None
    early: int = 0
    grace: int = 0
    roll: str = "following"
    keep_anchor: int = 0
    due_after: frozenset[str] = frozenset()
    first: str = "after-interval"
    times: int = 1
    from_on: dt.date | None = None
    until_on: dt.date | None = None
    models: tuple[str, ...] = ()

    @property
    def basis(self) -> str:
        """How the rule counts: cell, fixed or anchored."""
        if self.each is not None:
            return "cell"
        return "anchored" if self.anchor_on is None else "fixed"


@dataclass(frozen=True, kw_only=True)
class RefEntry:
    """One line of the record; without a mark it only strikes."""

    key: str
    property_number: str
    task: str
    on: dt.date
    to_on: dt.date | None = None
    mark: str | None = None
    recorded_at: dt.datetime | None = None
    strikes: str = ""


@dataclass(frozen=True, kw_only=True)
class RefFleet:
    """All files of a fleet; `loaded_at` is when entries without a `recorded_at` became known."""

    sites: Sequence[RefSite]
    units: Sequence[RefUnit]
    rules: Sequence[RefRule]
    patterns: Sequence[RefPattern] = ()
    holidays: Sequence[RefHoliday] = ()
    closures: Sequence[RefClosure] = ()
    placements: Sequence[RefPlacement] = ()
    outages: Sequence[RefOutage] = ()
    entries: Sequence[RefEntry] = ()
    loaded_at: dt.datetime = dt.datetime(2028, 1, 1, tzinfo=dt.UTC)


def new_years_days(site: str) -> tuple[RefHoliday, ...]:
    """The least a site must state of its holidays: one day in each year of `HOLIDAY_YEARS`."""
    return tuple(
        RefHoliday(site=site, on=dt.date(year, 1, 1), name="New Year's Day")
        for year in HOLIDAY_YEARS
    )
