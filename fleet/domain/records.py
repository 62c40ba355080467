"""What is a site, a unit, a person, an entry? Plain values, one class a file of design section 7.

Dates end in `_on` (the civil date of the site), instants in `_at` (UTC, never naive). Each record
has a `key` that names it among its like; all else may change, except in an entry.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass, replace
from enum import StrEnum

from fleet.domain.evidence import Action, Extension, Renumbering, Review, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.prints import Print
from fleet.domain.visits import SiteVisit, StoredPlan, TechnicianDaysOff, UnsuitableDays

__all__ = [
    "REMOVED",
    "Closure",
    "Entry",
    "Holiday",
    "Mark",
    "Outage",
    "Pattern",
    "Person",
    "Placement",
    "RegisterRecord",
    "Role",
    "Site",
    "StoredEntry",
    "Unit",
    "blanked",
]


class Mark(StrEnum):
    """What an entry says of its day."""

    DONE = "done"
    UNUSED = "unused"
    FILLED = "filled"
    EXPLAINED = "explained"


class Role(StrEnum):
    """What a person answers for."""

    CONSULTANT = "consultant"
    SITE_LEAD = "site lead"
    BENCH = "bench"
    MANAGER = "manager"
    VENDOR = "vendor"
    INSPECTOR = "inspector"


@dataclass(frozen=True, slots=True, kw_only=True)
class Site:
    """One laboratory at one address, in one county."""

    site: str
    name: str
    county: str
    region: str
    country: str
    subdivision: str
    time_zone: str
    open_days: str
    """Weekday names in the order of the week: 'Mon Tue Wed Thu Fri'."""
    latitude: float | None = None
    longitude: float | None = None
    postal_code: str = ""
    lead_email: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """The site's short name."""
        return (self.site,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pattern:
    """A site's weekly pattern from a day on."""

    site: str
    from_on: dt.date
    open_days: str

    @property
    def key(self) -> tuple[str, ...]:
        """Site and first day."""
        return (self.site, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class Holiday:
    """A public holiday as a site (or, with an empty site, a whole subdivision) keeps it."""

    site: str
    country: str
    subdivision: str
    on: dt.date
    name: str

    @property
    def key(self) -> tuple[str, ...]:
        """Whose holiday, and the day."""
        return (self.site, self.country, self.subdivision, self.on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class Closure:
    """Days on which a site (or, with an empty site, every site) is closed, or open by exception.

    `from_on` and `to_on` are both included.
    """

    site: str
    from_on: dt.date
    to_on: dt.date
    reason: str
    open: bool = False

    @property
    def key(self) -> tuple[str, ...]:
        """Site, first day, and whether it opens or closes."""
        return (self.site, self.from_on.isoformat(), "open" if self.open else "closed")


@dataclass(frozen=True, slots=True, kw_only=True)
class Unit:
    """One instrument, known by its property number; in service from `in_service_on` until the day
    before `retired_on`.
    """

    property_number: str
    kind: str
    manufacturer: str
    model: str
    serial: str
    site: str
    in_service_on: dt.date
    retired_on: dt.date | None = None
    record_from_on: dt.date | None = None
    """The first day the record speaks of; None: the day it entered service."""

    @property
    def key(self) -> tuple[str, ...]:
        """The property number."""
        return (self.property_number,)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """A move: the unit stands at this site from this day on."""

    property_number: str
    site: str
    from_on: dt.date

    @property
    def key(self) -> tuple[str, ...]:
        """Unit and day."""
        return (self.property_number, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class Outage:
    """Days out of service: `from_on` the first, `to_on` the day of return (None: not back yet)."""

    property_number: str
    from_on: dt.date
    to_on: dt.date | None
    reason: str

    @property
    def key(self) -> tuple[str, ...]:
        """Unit and first day."""
        return (self.property_number, self.from_on.isoformat())


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """One role of one person; an address may have several."""

    email: str
    name: str
    role: Role
    site: str = ""
    region: str = ""
    language: str = "en"
    time_zone: str = ""
    deputy: str = ""

    @property
    def key(self) -> tuple[str, ...]:
        """Address, role and what the role is for."""
        return (self.email, self.role.value, self.site, self.region)


RegisterRecord = (
    Site
    | Pattern
    | Holiday
    | Closure
    | Unit
    | Placement
    | Outage
    | Person
    | Renumbering
    | Extension
    | ServiceReport
    | Action
    | Review
    | Print
    | Absence
    | QuietPeriod
    | MailSetting
    | StoredPlan
    | SiteVisit
    | UnsuitableDays
    | TechnicianDaysOff
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the record, as it was given; never changed once written.

    `to_on` (included) says the same mark on each expected day from `on` to then. A correction
    names the entry it `strikes` and says `why`; with a `mark` it replaces it, without it strikes.
    """

    key: str
    property_number: str
    task: str
    on: dt.date
    to_on: dt.date | None = None
    mark: Mark | None = None
    initials: str = ""
    note: str = ""
    reading: str = ""
    """A decimal number as text, '' where none was read."""
    recorded_at: dt.datetime | None = None
    """The instant a file gave; None where the program saw the entry being made."""
    strikes: str = ""
    why: str = ""


def blanked(entry: Entry) -> Entry:
    """What is left of an entry whose content was removed."""
    return replace(entry, initials="", note="", reading="", why="")


REMOVED = "removed"
"""The source of an entry whose content was removed after its retention."""


@dataclass(frozen=True, slots=True, kw_only=True)
class StoredEntry:
    """An entry with what the program knows of it: place in its unit's chain, instant, author."""

    entry: Entry
    seq: int
    stored_at: dt.datetime
    by: str
    source: str

    @property
    def known_at(self) -> dt.datetime:
        """The instant from which the entry counts (design 4.6)."""
        return self.entry.recorded_at or self.stored_at
