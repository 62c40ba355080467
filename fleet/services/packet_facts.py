"""What does a packet say? One site's evidence for a span of days, as values to be written out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.chain import Head, Line
from fleet.domain.evidence import Action, Attachment, Extension, Renumbering, ServiceReport
from fleet.domain.prints import Print
from fleet.domain.records import Outage, Site, StoredEntry, Unit
from fleet.services.charts.cells import UnitCharts
from fleet.services.ports import ChangeLine
from fleet.services.reviews import ReviewRow
from fleet.services.stays import Stay
from schedules.rules import Kind, Rule

__all__ = ["ActionCourse", "AttachedFile", "PacketFacts", "PacketQuestion", "PacketUnit", "Removed"]


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketQuestion:
    """Which site, from which day to which, both included; asked by whom, at which instant."""

    site: str
    from_on: dt.date
    to_on: dt.date
    now: dt.datetime
    known_at: dt.datetime | None
    """As it was known then; None: as it is known now."""
    made_by: str


@dataclass(frozen=True, slots=True)
class PacketUnit:
    """A unit that stood at the site, with its whole history."""

    unit: Unit
    kind: Kind | None
    """None for a kind that the rule book does not know."""
    stays: Sequence[Stay]
    """Where it stood from its first day in service on, the last stay without a real end."""
    outages: Sequence[Outage]
    renumberings: Sequence[Renumbering]
    rules: Sequence[Rule]
    """Every version of its rules that spoke on a day of the span."""


@dataclass(frozen=True, slots=True)
class ActionCourse:
    """A corrective action and the change lines that made it what it is, oldest first."""

    action: Action
    course: Sequence[ChangeLine]


@dataclass(frozen=True, slots=True)
class AttachedFile:
    """A file that came with a service report; content is None where it was removed."""

    attachment: Attachment
    content: bytes | None


@dataclass(frozen=True, slots=True)
class Removed:
    """What a tombstone says: whose content was removed, when and why."""

    chain: str
    seq: int
    key: str
    hash: str
    reason: str
    removed_at: str
    by: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PacketFacts:
    """One site's evidence from one day to another, both included.

    on: the day all is judged on, the day after the span or today if that is earlier. as_of: the
    instant all is known at, that asked for or the last that a line of the packet was stored at.
    """

    site: Site
    from_on: dt.date
    to_on: dt.date
    on: dt.date
    known_at: dt.datetime | None
    as_of: dt.datetime
    made_by: str
    root: str
    heads: Mapping[str, Head]
    lines: Sequence[Line]
    """Those of the register that speak of other sites come without their content."""
    book: str
    book_sha256: str
    units: Sequence[PacketUnit]
    changes: Sequence[ChangeLine]
    charts: Sequence[UnitCharts]
    """In the order of `units`."""
    duties: Mapping[str, Sequence[StatusRow]]
    """By month, anchored and fixed duties as they stood at its end (or on `on`)."""
    entries: Sequence[StoredEntry]
    """Those of the units that speak of a day of the span at the site, and what corrects them."""
    corrections: Sequence[tuple[StoredEntry, StoredEntry]]
    """The struck entry and what struck it."""
    findings: Sequence[FindingRow]
    reports: Sequence[ServiceReport]
    files: Sequence[AttachedFile]
    actions: Sequence[ActionCourse]
    reviews: Sequence[ReviewRow]
    extensions: Sequence[Extension]
    prints: Sequence[Print]
    """Of the site's charts of the years of the span; oldest first."""
    removed: Sequence[Removed]
    failures: Sequence[str]
    """Duties whose due date cannot be told, each with the reason."""
