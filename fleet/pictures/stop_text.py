"""What does a stop list say? The way to each stop, its time and place, its units, the way home."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from fleet.pictures.clock import clock_text, local_text
from fleet.pictures.phrases import day_text, hours_text, long_day, miles_text
from fleet.pictures.plan_words import StopWords, UnitWords
from notifications.digests.words import counted
from schedules.visits.model import Need, Order, Technician
from schedules.visits.told import ToldNeed, ToldTrip, ToldVisit

__all__ = ["StopText", "TripText", "UnitText"]


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitText:
    """A unit's row: cells of one or two lines each, from 'unit, kind' to 'min'."""

    cells: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class StopText:
    """One stop in words; way: how one comes there; under: address, contact and what to know."""

    number: int
    way: str
    name: str
    when: str
    under: str
    units: tuple[UnitText, ...]


class TripText:
    """The stops of a trip in words."""

    def __init__(self, trip: ToldTrip, order: Order, words: StopWords) -> None:
        self._trip, self._words = trip, words
        self._needs: Mapping[str, Need] = {need.name: need for need in order.needs}
        self._one: Technician = next(
            one for one in order.technicians if one.technician == trip.technician
        )

    def facts(self) -> list[str]:
        """The lines under the title: who, when, how much, by which clock."""
        trip, services = self._trip, sum(len(visit.needs) for visit in self._trip.visits)
        who = f"{trip.technician}, {trip.vendor}" if trip.vendor else trip.technician
        begins = f"{self._one.begins_at:%H:%M}"
        made = [
            f"{who}. Leaves {self._words.depot} on {long_day(trip.starts_on)} at {begins}; home on "
            f"{long_day(trip.ends_on)} about {self._clock(trip.ends_minute)}.",
            f"{counted(len(trip.visits), 'stop')}, {counted(services, 'service')}; "
            f"{miles_text(trip.miles)}, {hours_text(trip.drive_minutes)} of driving; "
            f"{counted(trip.nights, 'night')} away. "
            f"Times are planned, by the clock of {self._words.time_zone}.",
        ]
        if self._words.contact:
            made.append(
                f"Questions, and this list when it is filled in, go to {self._words.contact}."
            )
        return made

    def stops(self) -> list[StopText]:
        """Every stop in its order."""
        visits = self._trip.visits
        left = [self._trip.starts_on, *(visit.leaves_on for visit in visits)]
        return [
            self._stop(number, visit, left[number - 1])
            for number, visit in enumerate(visits, start=1)
        ]

    def home(self) -> str:
        """The way home, which is what is left of the trip's miles and minutes."""
        trip = self._trip
        miles = trip.miles - sum(visit.miles for visit in trip.visits)
        minutes = trip.drive_minutes - sum(visit.drive_minutes for visit in trip.visits)
        last_on = trip.visits[-1].leaves_on if trip.visits else trip.starts_on
        way = _way(miles, minutes, (trip.ends_on - last_on).days)
        at = f"{day_text(trip.ends_on)} about {self._clock(trip.ends_minute)}"
        return f"{way} to {self._words.depot}: home on {at}"

    def kinds(self) -> list[str]:
        """The kinds of unit on the trip, as people call them, in the order they come."""
        return list(dict.fromkeys(self._unit(told).kind for told in self._told()))

    def _told(self) -> Iterator[ToldNeed]:
        for visit in self._trip.visits:
            yield from visit.needs

    def _stop(self, number: int, visit: ToldVisit, left_on: dt.date) -> StopText:
        site = self._words.of_site(visit.site)
        when = f"{day_text(visit.arrives_on)}, arrive {self._clock(visit.arrives_minute)}"
        local = local_text(
            visit.arrives_on, self._one.begins_at, visit.arrives_minute,
            self._words.time_zone, site.time_zone,
        )  # fmt: skip
        when += f" ({local})" if local else ""
        if visit.leaves_on != visit.arrives_on:
            when += f", goes on to {day_text(visit.leaves_on)}"
        county = f"{site.county} county" if site.county else ""
        visit_number = self._words.number_of(visit)
        parts = (
            f"visit {visit_number}" if visit_number else "",
            *site.address, county, site.contact, site.note,
        )  # fmt: skip
        return StopText(
            number=number,
            way=_way(visit.miles, visit.drive_minutes, (visit.arrives_on - left_on).days),
            name=site.name,
            when=when,
            under="  ·  ".join(part for part in parts if part),
            units=tuple(self._row(visit, told) for told in visit.needs),
        )

    def _row(self, visit: ToldVisit, told: ToldNeed) -> UnitText:
        need, words = self._needs[told.name], self._unit(told)
        has_caution = bool(self._words.cautions.get(words.kind))
        at = self._clock(told.from_minute)
        if told.on != visit.arrives_on:
            at = f"{day_text(told.on)[:3]} {at}"
        return UnitText(
            cells=(
                (need.property_number, f"! {words.kind}" if has_caution else words.kind),
                (words.model, words.serial),
                (words.task, ""),
                (f"{need.minutes}", at),
            )
        )

    def _unit(self, told: ToldNeed) -> UnitWords:
        need = self._needs[told.name]
        return self._words.units.get(told.name, UnitWords(kind=need.kind, task=need.task))

    def _clock(self, minute: int) -> str:
        return clock_text(self._one.begins_at, minute)


def _way(miles: int, minutes: int, nights: int) -> str:
    away = f", {counted(nights, 'night')} away before you arrive" if nights else ""
    return f"Drive {miles_text(miles)}, {hours_text(minutes)}{away}"
