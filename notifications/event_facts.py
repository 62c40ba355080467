"""What has to be known before a mail about one event can be written? Values only, as in `facts`."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from enum import StrEnum

from notifications.facts import MonthGaps, Place, Reader, ReportIn, StandIn, UnitArrived

__all__ = [
    "Change",
    "GapsFacts",
    "NewChart",
    "NewChartsFacts",
    "NewsFacts",
    "SiteCharts",
    "StopFacts",
    "StopListFacts",
    "VisitFacts",
    "VisitTask",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class GapsFacts:
    """The month that ended, at all sites of one lead."""

    reader: Reader
    on: dt.date
    sites: tuple[MonthGaps, ...]
    stand_in: tuple[StandIn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NewChart:
    """One unit's chart of the year to come."""

    property_number: str
    kind: str
    pages: int
    also_at: str = ""
    """The other site at which it stands in that year, which has a chart of its own; '' for none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteCharts:
    """A site's charts of the year to come; `file` is the name of the attached PDF, '' for none."""

    place: Place
    charts: tuple[NewChart, ...]
    file: str = ""
    return_to: str = ""
    """Who is to get the old charts, a name or an address; '' where nobody is known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class NewChartsFacts:
    """The charts of a year at all sites of one lead."""

    reader: Reader
    on: dt.date
    year: int
    sites: tuple[SiteCharts, ...]
    stand_in: tuple[StandIn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class NewsFacts:
    """What has happened since and was not told yet."""

    reader: Reader
    on: dt.date
    news: tuple[UnitArrived | ReportIn, ...]
    stand_in: tuple[StandIn, ...] = ()


class Change(StrEnum):
    """What has become of a visit."""

    CONFIRMED = "confirmed"
    MOVED = "moved"
    CANCELLED = "cancelled"


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitTask:
    """One unit × task that the vendor comes for."""

    property_number: str
    kind: str
    task: str
    title: str
    cautions: tuple[str, ...] = ()
    due_on: dt.date | None = None
    title_es: str = ""
    """In Spanish, with the cautions; '' where the rule book has none."""
    cautions_es: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class VisitFacts:
    """One change of one visit. Times are the site's local ones; None: not agreed."""

    reader: Reader
    on: dt.date
    period: str
    """UID and sequence of its calendar event, 'UID/3'."""
    change: Change
    place: Place
    vendor: str
    visit_on: dt.date
    """The day agreed; of a cancelled visit the day it was for."""
    from_at: dt.time | None = None
    to_at: dt.time | None = None
    to_on: dt.date | None = None
    """The day it ends; None for the day it begins."""
    was_on: dt.date | None = None
    """Of a moved visit: the day before it was moved."""
    was_from_at: dt.time | None = None
    was_to_at: dt.time | None = None
    was_to_on: dt.date | None = None
    tasks: tuple[VisitTask, ...] = ()
    contact: str = ""
    """Whom to ask, in words, with telephone or address; '' where nobody is named."""
    reason: str = ""
    """Why it was moved or cancelled; '' where nothing is known."""
    stand_in: tuple[StandIn, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StopFacts:
    """A stop of a trip: the visit's number, when it begins by the site's clock, its units."""

    place: Place
    number: str
    on: dt.date
    from_at: dt.time
    units: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopListFacts:
    """A technician's confirmed trip, for those who make it and those who answer for it."""

    reader: Reader
    on: dt.date
    period: str
    """Names the trip and what its stops say."""
    technician: str
    vendor: str
    depot: str
    from_on: dt.date
    to_on: dt.date
    stops: tuple[StopFacts, ...]
