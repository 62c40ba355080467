"""What does a plan file say? Depots, technicians, roads and money, as a person wrote them."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from schedules.visits.model import Depot, Prices

__all__ = ["GivenDepot", "GivenTechnician", "PlanFile", "RoadTable", "Roads"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenDepot:
    """A depot and the time zone of its clock."""

    depot: Depot
    time_zone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class GivenTechnician:
    """A technician: the weekly days worked, what is taken off them, how long a day is.

    open_days: weekday names in the order of the week; kinds: None for all; days_off: first and last
    day, both included; holidays: country and subdivision whose public holidays are kept, if any.
    """

    name: str
    vendor: str
    depot: str
    open_days: str
    day_minutes: int
    begins_at: dt.time
    max_nights: int
    kinds: tuple[str, ...] | None = None
    days_off: tuple[tuple[dt.date, dt.date], ...] = ()
    holidays: tuple[str, str] | None = None
    email: str = ""
    """Where stop lists go; '' for nowhere."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RoadTable:
    """Legs as a file gives them, by the names of both places: hundredths of a mile, minutes."""

    file: str
    miles: Mapping[tuple[str, str], int]
    minutes: Mapping[tuple[str, str], int]


@dataclass(frozen=True, slots=True, kw_only=True)
class Roads:
    """How legs are found: from a table, else as the great circle times a factor, at one speed."""

    road_factor: float
    miles_an_hour: float
    table: RoadTable | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanFile:
    """A plan file, whole; `sha256` of its bytes, and of those of its table, in hex.

    sources: its text and that of its table, by the names they have, its own first.
    """

    file: str
    sha256: str
    depots: tuple[GivenDepot, ...]
    technicians: tuple[GivenTechnician, ...]
    roads: Roads
    prices: Prices
    catch_up_days: int
    """So long what is past its limit when the plan begins may still be served."""
    sources: Mapping[str, str] = field(default_factory=dict, compare=False)
    area: tuple[str, str] | None = None
    """Country and subdivision ('': all of the country) whose sites are planned; None for all."""

    def holds(self, country: str, subdivision: str) -> bool:
        """Say whether the sites of a place are planned."""
        return self.area is None or self.area in ((country, ""), (country, subdivision))
