"""What does a picture say that a plan does not know? Names, cautions, contacts."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field

from schedules.visits.told import ToldPlan, ToldTrip, ToldVisit

__all__ = ["Numbered", "PlanWords", "SiteWords", "StopWords", "UnitWords", "numbered"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SiteWords:
    """A site as people know it; note: what one must know to come in."""

    name: str
    county: str = ""
    address: tuple[str, ...] = ()
    contact: str = ""
    time_zone: str = ""
    """By its IANA name; '' where it is the depot's."""
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanWords:
    """What a plan is called, its sites by their short names, and days off by name."""

    title: str
    sites: Mapping[str, SiteWords] = field(default_factory=dict)
    days_off: Mapping[dt.date, str] = field(default_factory=dict)

    def name_of(self, site: str) -> str:
        """What a site is called; its short name where nothing else is known."""
        return self.sites[site].name if site in self.sites else site


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitWords:
    """A need in words: its kind's name, the unit's model and serial, the task's title."""

    kind: str
    task: str
    model: str = ""
    serial: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class StopWords:
    """What a stop list says besides the trip: needs by name, cautions by the kinds' names.

    number: of the trip; time_zone: of the depot, by its IANA name; depot: what it is called;
    contact: who in the program's office answers for the trip.
    """

    number: str
    title: str
    depot: str
    time_zone: str
    contact: str = ""
    sites: Mapping[str, SiteWords] = field(default_factory=dict)
    units: Mapping[str, UnitWords] = field(default_factory=dict)
    cautions: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    visits: Mapping[str, str] = field(default_factory=dict)
    """Numbers of visits, by the name of their first need; '' where there is none."""

    def of_site(self, site: str) -> SiteWords:
        """A site's words; its short name where nothing else is known."""
        return self.sites.get(site, SiteWords(name=site))

    def number_of(self, visit: ToldVisit) -> str:
        """The number of a visit, or ''."""
        return self.visits.get(visit.needs[0].name, "")


@dataclass(frozen=True, slots=True)
class Numbered:
    """A trip and its number in the plan, from 1."""

    number: int
    trip: ToldTrip

    @property
    def services(self) -> int:
        """How many needs it settles."""
        return sum(len(visit.needs) for visit in self.trip.visits)

    @property
    def month(self) -> dt.date:
        """The first of the month it starts in."""
        return self.trip.starts_on.replace(day=1)


def numbered(told: ToldPlan) -> tuple[Numbered, ...]:
    """The plan's trips with their numbers, which are the same in every picture of it."""
    return tuple(Numbered(number, trip) for number, trip in enumerate(told.trips, start=1))
