"""What has to be known before a digest can be written? Values only; `fleet` fills them in.

A *duty* is an anchored or fixed rule of one unit, a *chart* a cell rule of one unit. Dates are
civil dates of the site, fees whole cents. Text is as it was recorded: it may hold anything.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from schedules.rules import Each

__all__ = [
    "GAP_DAYS",
    "Away",
    "Chart",
    "ChartToPrint",
    "ConsultantFacts",
    "Duty",
    "Escalated",
    "Ladder",
    "ManagerFacts",
    "MonthGaps",
    "NotReached",
    "OpenAction",
    "OpenOutage",
    "Period",
    "Place",
    "Reader",
    "ReportIn",
    "SilentUnit",
    "SiteFacts",
    "SiteLeadFacts",
    "StandIn",
    "Standing",
    "UnitArrived",
    "Visit",
    "WaitingMonth",
    "WhyPrint",
]

GAP_DAYS = 28
"""Gaps that closed on one of the so many days before a digest's day are told in it."""


class Standing(StrEnum):
    """The states of design 4.3 and 4.5 that a digest speaks of."""

    UPCOMING = "upcoming"
    DUE = "due"
    OVERDUE = "overdue"
    DONE = "done"


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """Who gets a digest, and the instant (with zone) that its Date field names."""

    email: str
    name: str
    dated_at: dt.datetime
    language: str = "en"


@dataclass(frozen=True, slots=True)
class StandIn:
    """Whose mail the reader gets too while they are away, and their last day away."""

    name: str
    until_on: dt.date


@dataclass(frozen=True, slots=True)
class Ladder:
    """So many days past its limit an overdue duty becomes a step of the consultant, the manager."""

    consultant_days: int = 7
    manager_days: int = 21


@dataclass(frozen=True, slots=True)
class Escalated:
    """The consultant or the manager was first told on a day of a duty that stays overdue."""

    is_manager: bool
    told_on: dt.date


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """A site: the short name that commands take, the name people use, county and region."""

    site: str
    name: str
    county: str
    region: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Duty:
    """One unit × anchored or fixed rule that has a due date."""

    place: Place
    property_number: str
    kind: str
    """The kind's name, as people say it."""
    task: str
    title: str
    standing: Standing
    opens_on: dt.date
    due_on: dt.date
    limit_on: dt.date
    """The last day on which it is not overdue."""
    days_past_due: int
    is_annual_service: bool
    """The vendor does it (`vendor = true` in the rule book)."""
    fee_cents: int | None = None
    cautions: tuple[str, ...] = ()
    """What the rule book warns of (design 8)."""
    title_es: str = ""
    """In Spanish, with the cautions; '' where the rule book has none."""
    cautions_es: tuple[str, ...] = ()
    escalated: tuple[Escalated, ...] = ()
    """Who beside the site lead has been told that it is overdue, the first first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Period:
    """One period of a cell rule, both ends included."""

    from_on: dt.date
    to_on: dt.date


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """One unit × cell rule: how it stands today, and its gaps of the last GAP_DAYS days."""

    place: Place
    property_number: str
    kind: str
    task: str
    title: str
    each: Each
    standing: Standing
    opens_on: dt.date | None
    closes_on: dt.date | None
    """Today's cell; None where today's period has none."""
    missed: int
    """The run of gaps up to today, which may be longer than GAP_DAYS; 0 unless overdue."""
    gaps: tuple[Period, ...]
    cautions: tuple[str, ...] = ()
    """As of a duty, and so are the next two."""
    title_es: str = ""
    cautions_es: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SilentUnit:
    """A unit nobody reports on: its charts have been empty for three weeks or more."""

    place: Place
    property_number: str
    kind: str
    gaps: int
    last_done_on: dt.date | None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenAction:
    """A corrective action that is not closed."""

    place: Place
    number: str
    property_number: str
    """Empty where the problem is one of the site, not of a unit."""
    problem: str
    action: str
    """What is to be done about it; '' where nobody has said yet."""
    responsible: str
    opened_on: dt.date
    review_on: dt.date | None
    """When it is to be looked at whether the action worked."""
    cautions: tuple[str, ...] = ()
    """As of a duty, where the problem is one of a task."""
    cautions_es: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenOutage:
    """A unit that is out of service and has no day of return."""

    place: Place
    property_number: str
    kind: str
    from_on: dt.date
    reason: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WaitingMonth:
    """A month of a site's charts that is to be reviewed, or reviewed again."""

    place: Place
    first_on: dt.date
    """The first day of the month."""
    is_reopened: bool
    """It was signed, and something in it has changed since."""
    returned_on: dt.date | None
    """The day its charts came back; None: not noted."""


class WhyPrint(StrEnum):
    """Why a unit has no current chart on paper."""

    NEW_UNIT = "new unit"
    NEW_YEAR = "new year"
    MOVED = "moved"
    CHANGED_RULE = "changed rule"
    CHANGED_DAYS = "changed days"


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartToPrint:
    """One unit's chart of a year at a site that is not printed, or out of date on paper."""

    place: Place
    property_number: str
    kind: str
    year: int
    why: WhyPrint


@dataclass(frozen=True, slots=True, kw_only=True)
class Visit:
    """The next visit of a vendor at a site, once it is fixed."""

    on: dt.date
    vendor: str
    property_numbers: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class MonthGaps:
    """A site's charts of a month that ended; each chart's gaps are those of that month alone."""

    place: Place
    first_on: dt.date
    charts: tuple[Chart, ...]
    """Those with gaps."""
    to_return: int = 0
    """So many units have a chart on paper of that month."""
    return_to: str = ""
    """Who is to get the charts, a name or an address; '' where nobody is known."""
    return_by_on: dt.date | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitArrived:
    """A unit that stands at the reader's site since a day, from another one."""

    place: Place
    property_number: str
    kind: str
    from_on: dt.date
    from_site: str = ""
    """The name of the site it came from; '' where that is not known."""
    tasks: tuple[str, ...] = ()
    """The titles of what is to be marked at its new site."""
    tasks_es: tuple[str, ...] = ()
    """The same in Spanish; none where the rule book has none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ReportIn:
    """A vendor's service report that has come in, and what it settles."""

    place: Place
    property_number: str
    kind: str
    task: str
    title: str
    done_on: dt.date
    opens_on: dt.date | None
    """From when the next service may be done; None: no further one is due."""
    due_on: dt.date | None
    vendor: str = ""
    remarks: str = ""
    """What the report says is still to be done; '' for nothing."""
    title_es: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class NotReached:
    """A mail that did not reach its reader."""

    key: str
    """As `dueward outbox` names it."""
    name: str
    email: str
    subject: str
    day_on: dt.date | None
    """The day it was meant for."""
    why: str
    """What the mail server said."""
    is_suspended: bool = False
    """The address was refused so often that nothing is sent to it until somebody looks at it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Away:
    """Somebody who is away and for whom nobody reads their mail."""

    name: str
    email: str
    from_on: dt.date
    until_on: dt.date
    deputy: str = ""
    """The deputy, where there is one who is away too."""
    places: tuple[Place, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteFacts:
    """One site as its lead needs it."""

    place: Place
    duties: tuple[Duty, ...]
    charts: tuple[Chart, ...]
    visit: Visit | None = None
    actions: tuple[OpenAction, ...] = ()
    outages: tuple[OpenOutage, ...] = ()
    news: tuple[UnitArrived | ReportIn, ...] = ()
    month_gaps: MonthGaps | None = None
    """Where the month's mail about gaps joins this one."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteLeadFacts:
    """All sites of one lead, on one day."""

    reader: Reader
    on: dt.date
    sites: tuple[SiteFacts, ...]
    told: Mapping[str, str] | None = None
    """What this reader was told before and how it stood; None: not known, nothing is folded."""
    stand_in: tuple[StandIn, ...] = ()
    ladder: Ladder | None = None
    """None: nothing is said of who else is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConsultantFacts:
    """The regions of one consultant (none named: all), on one day."""

    reader: Reader
    on: dt.date
    regions: tuple[str, ...]
    duties: tuple[Duty, ...]
    charts: tuple[Chart, ...]
    silent: tuple[SilentUnit, ...]
    months: tuple[WaitingMonth, ...] = ()
    actions: tuple[OpenAction, ...] = ()
    to_print: tuple[ChartToPrint, ...] = ()
    not_reached: tuple[NotReached, ...] = ()
    away: tuple[Away, ...] = ()
    told: Mapping[str, str] | None = None
    """What this reader was told before and how it stood; None: not known, nothing is folded."""
    stand_in: tuple[StandIn, ...] = ()
    ladder: Ladder | None = None
    """None: nothing is said of who else is told."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ManagerFacts:
    """The annual services of a program manager's regions (none named: all), on one day."""

    reader: Reader
    on: dt.date
    regions: tuple[str, ...]
    services: tuple[Duty, ...]
    root: str
    """The record's root, 64 hexadecimal digits."""
    root_on: dt.date
    """The day on which the record had it."""
    other_overdue: tuple[Duty, ...] = ()
    """What is overdue beside annual services."""
    told: Mapping[str, str] | None = None
    """What this reader was told before and how it stood; None: not known, nothing is folded."""
    stand_in: tuple[StandIn, ...] = ()
    ladder: Ladder | None = None
    """None: nothing is said of who else is told."""
