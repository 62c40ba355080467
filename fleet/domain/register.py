"""What does the program know of its sites, units and people, now or at an instant?

The register is everything but the entries. It changes only by change lines: who, when, old, new.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from fleet.domain.evidence import Action, Extension, Renumbering, Review, ServiceReport
from fleet.domain.mail_times import Absence, MailSetting, QuietPeriod
from fleet.domain.prints import Print
from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.visits import SiteVisit, StoredPlan, TechnicianDaysOff, UnsuitableDays

__all__ = ["BookText", "Change", "Register"]


@dataclass(frozen=True, slots=True, kw_only=True)
class BookText:
    """A rule book as it was loaded: whole text, hash, instant."""

    text: str
    sha256: str
    stored_at: dt.datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Register:
    """All register records by their keys; `book` is None where none was loaded."""

    sites: Mapping[tuple[str, ...], Site] = field(default_factory=dict)
    patterns: Mapping[tuple[str, ...], Pattern] = field(default_factory=dict)
    holidays: Mapping[tuple[str, ...], Holiday] = field(default_factory=dict)
    closures: Mapping[tuple[str, ...], Closure] = field(default_factory=dict)
    units: Mapping[tuple[str, ...], Unit] = field(default_factory=dict)
    placements: Mapping[tuple[str, ...], Placement] = field(default_factory=dict)
    outages: Mapping[tuple[str, ...], Outage] = field(default_factory=dict)
    people: Mapping[tuple[str, ...], Person] = field(default_factory=dict)
    renumberings: Mapping[tuple[str, ...], Renumbering] = field(default_factory=dict)
    extensions: Mapping[tuple[str, ...], Extension] = field(default_factory=dict)
    reports: Mapping[tuple[str, ...], ServiceReport] = field(default_factory=dict)
    actions: Mapping[tuple[str, ...], Action] = field(default_factory=dict)
    reviews: Mapping[tuple[str, ...], Review] = field(default_factory=dict)
    prints: Mapping[tuple[str, ...], Print] = field(default_factory=dict)
    absences: Mapping[tuple[str, ...], Absence] = field(default_factory=dict)
    quiet_periods: Mapping[tuple[str, ...], QuietPeriod] = field(default_factory=dict)
    mail_settings: Mapping[tuple[str, ...], MailSetting] = field(default_factory=dict)
    plans: Mapping[tuple[str, ...], StoredPlan] = field(default_factory=dict)
    visits: Mapping[tuple[str, ...], SiteVisit] = field(default_factory=dict)
    unsuitable_days: Mapping[tuple[str, ...], UnsuitableDays] = field(default_factory=dict)
    technician_days_off: Mapping[tuple[str, ...], TechnicianDaysOff] = field(default_factory=dict)
    book: BookText | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One step of the register: `old` None is a new record, `new` None one that is withdrawn.

    A withdrawn record stays in what was known before (design 4.6).

    `initial` says that the record came with the first load of what it belongs to (its unit, its
    site, the whole state), so that its past is known from the beginning (design 4.6).
    """

    old: RegisterRecord | None
    new: RegisterRecord | None
    initial: bool

    @property
    def record(self) -> RegisterRecord:
        """The record as it is after the change, or was before it is withdrawn."""
        record = self.old if self.new is None else self.new
        if record is None:
            raise ValueError("a change has an old record, a new one or both")
        return record
