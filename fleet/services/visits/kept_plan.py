"""How is a plan kept, and what of it stands? Its file, its number, and a visit a stop."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import chain
from pathlib import PurePath
from typing import NamedTuple
from zoneinfo import ZoneInfo

from fleet.domain.evidence import Attachment
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, StoredPlan, VisitState
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused
from fleet.services.visits.answer import Answer
from fleet.services.visits.numbers import matched, next_numbers, present_names
from fleet.services.visits.order import Ordered
from fleet.services.visits.plan_text import PlanContent, read_plan, write_plan
from schedules.visits.told import ToldTrip, ToldVisit

__all__ = [
    "Kept",
    "TripKey",
    "check_new",
    "content_from",
    "content_of",
    "days_between",
    "in_time",
    "keep_plan",
    "key_of",
    "new_plan",
    "plan_named",
    "planned_visits",
    "standing_plan",
    "trips_of",
    "visit_of",
    "visits_told",
]

_JSON = "application/json"


class TripKey(NamedTuple):
    """What names a trip: its plan, its technician and the day it starts."""

    plan: str
    technician: str
    start_on: dt.date


@dataclass(frozen=True, slots=True)
class Kept:
    """A plan that is kept now, and its visits in the order of its trips."""

    plan: StoredPlan
    visits: tuple[SiteVisit, ...]


def keep_plan(
    record: Record,
    public_holidays: PublicHolidays,
    answer: Answer,
    stamp: Stamp,
) -> Kept:
    """Keep a plan that follows no other; all its visits are free.

    Raises BadInput for an empty plan, where a visit stands already for one of its services, and
    where a distance table lies elsewhere than beside or below the plan file. The caller commits.
    """
    register = record.register()
    check_new(register, answer.ordered)
    _check_trips(register, answer)
    plan, file = new_plan(register, answer, stamp, follows="")
    told = visits_told(answer, plan.number)
    numbers = next_numbers("V", register.visits, len(told))
    visits = [replace(one, number=number) for one, number in zip(told, numbers, strict=True)]
    record.attach(*file, stamp)
    change_register(record, public_holidays, "plan", [plan, *visits], stamp)
    return Kept(plan, tuple(visits))


def check_new(register: Register, ordered: Ordered) -> None:
    """Refuse an order whose plan could not be kept, before it is planned (BadInput)."""
    for name in ordered.plan_file.sources:
        if PurePath(name).is_absolute() or ".." in PurePath(name).parts:
            problem = f"the distance table is at {name}"
            raise refused("plan", "keep", problem, "put it beside the plan file")
    standing = {
        name: visit
        for visit in planned_visits(register)
        for name in present_names(register, visit.need_names)
    }
    for was in matched(standing, [need.name for need in ordered.order.needs]):
        visit = standing[was]
        problem = f"visit {visit.number} of {visit.plan} stands for {was.rsplit('/', 1)[0]} already"
        mend = f"make {visit.plan} anew, or cancel it: dueward visits replan --plan {visit.plan}"
        raise refused("plan", "keep", problem, mend)


def _check_trips(register: Register, answer: Answer) -> None:
    """Refuse a plan without trips, and trips on days that other plans' trips take."""
    if not answer.told.trips:
        raise refused("plan", "keep", "there is no trip to keep", "look at why nothing is planned")
    out = {
        (key.technician, on): key.plan
        for key, some in trips_of(register, planned_visits(register)).items()
        for on in days_between(key.start_on, some[-1].to_on)
    }
    for trip in answer.told.trips:
        for on in days_between(trip.starts_on, trip.ends_on):
            other = out.get((trip.technician, on))
            if other is not None:
                problem = f"{trip.technician} is out for {other} on {on} already"
                mend = f"give the plan file days_off then, or make {other} anew with more in it"
                raise refused("plan", "keep", problem, mend)


def days_between(from_on: dt.date, to_on: dt.date) -> list[dt.date]:
    """All days from one to another, both included."""
    return [from_on + dt.timedelta(days=n) for n in range((to_on - from_on).days + 1)]


def content_from(answer: Answer) -> PlanContent:
    """All of an answer that a plan's file holds."""
    ordered, order = answer.ordered, answer.ordered.order
    return PlanContent(
        from_on=order.from_on,
        to_on=order.to_on,
        narrow=ordered.narrow,
        seed=answer.effort.seed,
        iterations=answer.effort.iterations,
        versions=dict(answer.versions),
        sources=dict(ordered.plan_file.sources),
        time_zones=dict(ordered.time_zones),
        begins_at={one.technician: one.begins_at for one in order.technicians},
        notes=tuple(ordered.notes),
        told=answer.told,
    )


def new_plan(
    register: Register,
    answer: Answer,
    stamp: Stamp,
    *,
    follows: str,
) -> tuple[StoredPlan, tuple[Attachment, bytes]]:
    """An answer as a plan with the next number, and the file that holds all of it."""
    order, content = answer.ordered.order, write_plan(content_from(answer))
    (number,) = next_numbers("P", register.plans, 1)
    digest = hashlib.sha256(content).hexdigest()
    plan = StoredPlan(
        number=number,
        made_on=stamp.at.date(),
        from_on=order.from_on,
        to_on=order.to_on,
        follows=follows,
        seed=answer.effort.seed,
        iterations=answer.effort.iterations,
        versions="; ".join(f"{name} {version}" for name, version in answer.versions.items()),
        content=digest,
    )
    return plan, (Attachment(digest, f"{number}.json", _JSON, len(content)), content)


def visits_told(answer: Answer, plan: str) -> list[SiteVisit]:
    """Every stop of a plan as a visit that is free, still without a number."""
    return [
        _visit(answer, plan, trip, visit) for trip in answer.told.trips for visit in trip.visits
    ]


def _visit(answer: Answer, plan: str, trip: ToldTrip, visit: ToldVisit) -> SiteVisit:
    first, last = visit.needs[0], visit.needs[-1]
    begins = _at_site(answer, trip, visit.site, first.on, first.from_minute)
    ends = _at_site(answer, trip, visit.site, last.on, last.to_minute)
    return SiteVisit(
        number="",
        plan=plan,
        technician=trip.technician,
        vendor=trip.vendor,
        site=visit.site,
        trip_on=trip.starts_on,
        on=begins.date(),
        to_on=ends.date(),
        from_at=f"{begins:%H:%M}",
        to_at=f"{ends:%H:%M}",
        needs=json.dumps([need.name for need in visit.needs], ensure_ascii=False),
    )


def _at_site(answer: Answer, trip: ToldTrip, site: str, on: dt.date, minute: int) -> dt.datetime:
    """A minute of the technician's day by the clock of a site."""
    technicians = answer.problem.order.technicians
    begins_at = technicians[answer.problem.technician_index[trip.technician]].begins_at
    zone = ZoneInfo(answer.ordered.time_zones[trip.depot])
    begins = dt.datetime.combine(on, begins_at, zone)
    at = begins.astimezone(dt.UTC) + dt.timedelta(minutes=minute)
    return at.astimezone(ZoneInfo(answer.ordered.sites[site].time_zone))


def planned_visits(register: Register, plan: str = "") -> list[SiteVisit]:
    """The visits that are still to be made (of one plan), in the order of their days."""
    return in_time(
        register,
        (
            visit
            for visit in register.visits.values()
            if visit.state is VisitState.PLANNED and plan in ("", visit.plan)
        ),
    )


def in_time(register: Register, visits: Iterable[SiteVisit]) -> list[SiteVisit]:
    """Visits in the order they begin, whatever their sites' clocks say."""

    def begins(visit: SiteVisit) -> tuple[dt.datetime, str]:
        zone = ZoneInfo(register.sites[(visit.site,)].time_zone)
        at = dt.datetime.combine(visit.on, dt.time.fromisoformat(visit.from_at), zone)
        return at.astimezone(dt.UTC), visit.number

    return sorted(visits, key=begins)


def visit_of(register: Register, number: str) -> SiteVisit:
    """A visit by its number; NotFound names what is near."""
    visit = register.visits.get((number.strip().upper(),))
    if visit is None:
        mend = "see dueward visits list" if register.visits else "no plan has been kept yet"
        raise NotFound("visit", number, mend)
    return visit


def plan_named(register: Register, number: str) -> StoredPlan:
    """A kept plan by its number; NotFound."""
    plan = register.plans.get((number.strip().upper(),))
    if plan is None:
        known = ", ".join(sorted(chain.from_iterable(register.plans)))
        raise NotFound("plan", number, f"there are: {known}" if known else "keep one: plan --keep")
    return plan


def standing_plan(register: Register, number: str = "") -> StoredPlan:
    """The plan named, else the only one that has visits to be made; BadInput where that is none."""
    if number:
        plan = plan_named(register, number)
        later = [one.number for one in register.plans.values() if one.follows == plan.number]
        if later:
            mend = f"make {later[-1]} anew"
            raise refused("visits", "plan", f"{plan.number} is followed by {later[-1]}", mend)
        return plan
    names = sorted({visit.plan for visit in planned_visits(register)})
    if len(names) == 1:
        return register.plans[(names[0],)]
    if not names:
        mend = "make one: dueward plan --from ... --to ... --plan-file ... --keep"
        raise refused("visits", "plan", "no plan has visits to be made", mend)
    problem = f"{len(names)} plans have visits to be made"
    raise refused("visits", "plan", problem, f"name one with --plan: {', '.join(names)}")


def content_of(record: Record, plan: StoredPlan) -> PlanContent:
    """What a kept plan was made from and says; BadInput where its file is gone or another."""
    content = record.content(plan.content)
    if content is None or hashlib.sha256(content).hexdigest() != plan.content:
        problem = "its file is not kept as it was attached"
        mend = "run dueward verify, and restore a backup"
        raise BadInput([Fault(f"plan {plan.number}", None, None, problem, mend)])
    try:
        return read_plan(content)
    except (ValueError, TypeError, LookupError) as wrong:
        problem = f"its file cannot be read ({wrong})"
        mend = "it was written by another version of the program: use that"
        raise BadInput([Fault(f"plan {plan.number}", None, None, problem, mend)]) from wrong


def trips_of(
    register: Register, visits: Iterable[SiteVisit]
) -> Mapping[TripKey, Sequence[SiteVisit]]:
    """Visits by their trip; each in the order of its stops."""
    trips: dict[TripKey, list[SiteVisit]] = {}
    for visit in in_time(register, visits):
        trips.setdefault(key_of(visit), []).append(visit)
    return trips


def key_of(visit: SiteVisit) -> TripKey:
    """What names the trip that a visit is a stop of."""
    return TripKey(visit.plan, visit.technician, visit.trip_on)
