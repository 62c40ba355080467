"""How does a kept trip become its stop list? Out of the plan's file and the register of today."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit
from fleet.errors import NotFound
from fleet.pictures.plan_words import SiteWords, StopWords, UnitWords
from fleet.pictures.stop_list import stop_list
from fleet.services.columns import book_of
from fleet.services.visits.numbers import present_names, unit_and_task
from fleet.services.visits.plan_text import PlanContent
from schedules.rules import Rule
from schedules.visits.model import Depot, Need, Order, Prices, Technician
from schedules.visits.told import ToldNeed, ToldTrip, ToldVisit

__all__ = ["stop_list_of", "tells"]


def stop_list_of(
    register: Register,
    content: PlanContent,
    visits: Sequence[SiteVisit],
    paper: Literal["letter", "a4"],
    made_at: dt.datetime,
) -> bytes:
    """The stop list of the trip that visits are the stops of, as PDF; NotFound without a trip."""
    number, told = _numbered(content, visits[0])
    trip = replace(told, visits=tuple(_present(register, visit) for visit in told.visits))
    standing = {one.site for one in visits}
    needs = [_need(register, visit.site, one) for visit in trip.visits for one in visit.needs]
    words = StopWords(
        number=str(number),
        title=f"{visits[0].plan}, trip {number}: {trip.technician}, {trip.starts_on}",
        depot=trip.depot,
        time_zone=content.time_zones[trip.depot],
        contact=_contact(register),
        sites={
            visit.site: _site(register, visit.site, is_off=visit.site not in standing)
            for visit in trip.visits
        },
        units={need.name: _unit(register, need) for need in needs},
        cautions=_cautions(register, needs),
        visits={
            name: one.number
            for one in visits
            for name in present_names(register, one.need_names[:1])
        },
    )
    return stop_list(trip, _order(content, trip, needs), words, paper, made_at)


def tells(content: PlanContent, visit: SiteVisit) -> bool:
    """Say whether a plan tells the trip that a visit belongs to."""
    trip = visit.technician, visit.trip_on
    return any((one.technician, one.starts_on) == trip for one in content.told.trips)


def _numbered(content: PlanContent, visit: SiteVisit) -> tuple[int, ToldTrip]:
    """The trip that a visit belongs to, and its number in the plan."""
    for number, trip in enumerate(content.told.trips, start=1):
        if (trip.technician, trip.starts_on) == (visit.technician, visit.trip_on):
            return number, trip
    of = f"{visit.technician} on {visit.trip_on}"
    raise NotFound("trip", of, f"{visit.plan} has none; see dueward visits show {visit.number}")


def _present(register: Register, visit: ToldVisit) -> ToldVisit:
    """A visit with the numbers its units bear now."""
    names = present_names(register, [one.name for one in visit.needs])
    needs = (replace(one, name=name) for one, name in zip(visit.needs, names, strict=True))
    return replace(visit, needs=tuple(needs))


def _need(register: Register, site: str, told: ToldNeed) -> Need:
    number, task = unit_and_task(told.name)
    due_on = dt.date.fromisoformat(told.name.rsplit("/", 1)[1])
    return Need(
        property_number=number,
        task=task,
        kind=register.units[(number,)].kind,
        site=site,
        opens_on=due_on,
        nominal_on=due_on,
        due_on=due_on,
        limit_on=due_on,
        minutes=told.to_minute - told.from_minute,
    )


def _order(content: PlanContent, trip: ToldTrip, needs: Sequence[Need]) -> Order:
    """As much of the order as a stop list tells: the technician's day and the needs."""
    return Order(
        from_on=content.from_on,
        to_on=content.to_on,
        stands=(),
        depots=(Depot(depot=trip.depot, latitude=0, longitude=0),),
        technicians=(
            Technician(
                technician=trip.technician,
                vendor=trip.vendor,
                depot=trip.depot,
                works_on=frozenset(),
                begins_at=content.begins_at[trip.technician],
            ),
        ),
        needs=tuple(needs),
        prices=Prices(mile=0, hour=0, trip=0, night=0, visit=0),
        miles=(),
        minutes=(),
    )


def _contact(register: Register) -> str:
    """Who answers for trips: the managers, else the consultants."""
    for role in ("manager", "consultant"):
        some = {p.email: p.name for p in register.people.values() if p.role.value == role}
        if some:
            return ", ".join(f"{name} ({email})" if name else email for email, name in some.items())
    return ""


def _site(register: Register, name: str, *, is_off: bool) -> SiteWords:
    site = register.sites[(name,)]
    return SiteWords(
        name=f"CANCELLED, do not stop: {site.name}" if is_off else site.name,
        county=site.county,
        address=(site.postal_code,) if site.postal_code else (),
        contact=site.lead_email,
        time_zone=site.time_zone,
    )


def _unit(register: Register, need: Need) -> UnitWords:
    unit, rule = register.units[(need.property_number,)], _rule(register, need)
    return UnitWords(
        kind=_kind(register, need),
        task=rule.title if rule else need.task,
        model=" ".join(part for part in (unit.manufacturer, unit.model) if part),
        serial=unit.serial,
    )


def _kind(register: Register, need: Need) -> str:
    kind = book_of(register).kinds.get(need.kind)
    return kind.name if kind else need.kind


def _rule(register: Register, need: Need) -> Rule | None:
    kind = book_of(register).kinds.get(need.kind)
    model = register.units[(need.property_number,)].model
    return next(iter(kind.tasks(model).get(need.task, ())), None) if kind else None


def _cautions(register: Register, needs: Sequence[Need]) -> dict[str, tuple[str, ...]]:
    """What to beware of with each kind of unit, each caution once."""
    found: dict[str, dict[str, None]] = {}
    for need in needs:
        rule = _rule(register, need)
        own = found.setdefault(_kind(register, need), {})
        own.update(dict.fromkeys(rule.cautions if rule else ()))
    return {kind: tuple(cautions) for kind, cautions in found.items() if cautions}
