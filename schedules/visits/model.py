"""What is a visit plan made of? The values that every part of the planner shares.

Words: a *need* is one duty of one unit that a vendor's visit must settle within a window of days; a
*leg* the road between two places; a *trip* one technician's route from leaving the depot to coming
home; a *visit* the trip's stop at a site, for one need or more. Money is whole cents, time whole
minutes, distance hundredths of a mile.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = [
    "Depot",
    "Grade",
    "Lock",
    "Need",
    "Order",
    "Plan",
    "Prices",
    "Stand",
    "Technician",
    "Trip",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prices:
    """What a plan costs, in whole cents.

    mile: a mile driven; hour: a technician's hour of driving; trip: leaving the depot; night: a
    night away; visit: a stop at a site; change: a need that is moved off the day it was announced
    for. lost_day: a day that a unit is served before its nominal date; None for the need's fee
    over the days of its interval.
    """

    mile: int
    hour: int
    trip: int
    night: int
    visit: int
    change: int = 0
    lost_day: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A site as the planner sees it: where it lies (degrees), which days of the span it is open."""

    site: str
    latitude: float
    longitude: float
    open_on: AbstractSet[dt.date]


@dataclass(frozen=True, slots=True, kw_only=True)
class Depot:
    """Where a technician leaves from and comes home to; degrees, north and east positive."""

    depot: str
    latitude: float
    longitude: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Technician:
    """One vendor technician: the days worked, their length, the nights away, what may be served.

    works_on: days of the span on which the technician can drive and serve; day_minutes: of such a
    day, driving included; begins_at: when it begins, by the depot's clock; max_nights: away in one
    trip; kinds: of unit that may be served, None for all.
    """

    technician: str
    vendor: str
    depot: str
    works_on: AbstractSet[dt.date]
    day_minutes: int = 480
    begins_at: dt.time = dt.time(8)
    max_nights: int = 4
    kinds: AbstractSet[str] | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """One duty of one unit that is to be settled by a visit.

    May be served on the site's open days from opens_on to limit_on, both included. nominal_on: the
    date being early is counted from; due_on: where a plan without a planner would put it. Served
    early it loses a part of its interval (interval_days; 0: nothing is ever lost), unless it is at
    most kept_days early. closed_on: further days that do not suit.
    """

    property_number: str
    task: str
    kind: str
    site: str
    opens_on: dt.date
    nominal_on: dt.date
    due_on: dt.date
    limit_on: dt.date
    minutes: int
    fee: int = 0
    interval_days: int = 0
    kept_days: int = 0
    closed_on: frozenset[dt.date] = frozenset()

    @property
    def name(self) -> str:
        """What names it in a plan: unit, task and due date."""
        return f"{self.property_number}/{self.task}/{self.due_on}"


class Grade(StrEnum):
    """How firmly a visit stands: told and fixed, told and movable at a price, not told yet."""

    CONFIRMED = "confirmed"
    ANNOUNCED = "announced"
    FREE = "free"


@dataclass(frozen=True, slots=True, kw_only=True)
class Order:
    """All that a plan is made from: one state, one span of days (both ends included).

    miles and minutes: the legs between places, in the order of `places`, hundredths of a mile and
    whole minutes, square. names of sites, depots, technicians and needs are unique.
    """

    from_on: dt.date
    to_on: dt.date
    stands: tuple[Stand, ...]
    depots: tuple[Depot, ...]
    technicians: tuple[Technician, ...]
    needs: tuple[Need, ...]
    prices: Prices
    miles: tuple[tuple[int, ...], ...]
    minutes: tuple[tuple[int, ...], ...]

    @property
    def places(self) -> tuple[str, ...]:
        """The names of the places that legs lie between: sites, then depots."""
        return tuple(stand.site for stand in self.stands) + tuple(d.depot for d in self.depots)


@dataclass(frozen=True, slots=True)
class Trip:
    """One technician's trip: the day it starts and its needs in the order they are served.

    Needs of one site that follow each other are one visit. It starts at the depot at the beginning
    of the technician's day; driving may go on after a night, a service is never cut by one.
    """

    technician: str
    start_on: dt.date
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Plan:
    """Trips in the order of their start and technician, and the needs that are in none of them."""

    trips: tuple[Trip, ...]
    unplaced: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Lock:
    """What was told of an earlier plan: trips that stand, days that needs were announced for."""

    confirmed: tuple[Trip, ...] = ()
    announced: Mapping[str, dt.date] = field(default_factory=dict)
