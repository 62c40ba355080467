"""How is a kept plan made anew after a change?

Trips of the past and trips under way are left alone, and so are the services they stand for. Of
what is to come, confirmed trips stand as they are, announced visits move at a price, free ones as
they please. Every visit keeps its number; one that is gone is cancelled.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from itertools import chain
from typing import Protocol
from zoneinfo import ZoneInfo

from fleet.domain.plan_file import PlanFile
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, StoredPlan, VisitState
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused
from fleet.services.visits.answer import Answer, Planner, answer_of
from fleet.services.visits.kept_plan import (
    TripKey,
    content_of,
    days_between,
    key_of,
    new_plan,
    planned_visits,
    standing_plan,
    trips_of,
    visits_told,
)
from fleet.services.visits.numbers import (
    matched,
    next_numbers,
    present_names,
    same_visits,
    stop_of,
)
from fleet.services.visits.order import Centres, Ordered, order_of
from notifications.digests.words import joined
from schedules.visits.difference import Difference, difference, stops
from schedules.visits.model import Grade, Lock, Plan, Trip
from schedules.visits.problem import Problem
from schedules.visits.told import ToldPlan, ToldVisit, can_be, of_trips

__all__ = ["Changed", "Given", "Replanned", "Replanner", "keep_anew", "replan"]


class Replanner(Planner, Protocol):
    """What plans anew, starting from a plan."""

    def replan(self, problem: Problem, before: Plan) -> Plan:
        """The plan after a change."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Given:
    """What a plan is made anew with, beside the record."""

    public_holidays: PublicHolidays
    centres: Centres
    plan_file: Callable[[Mapping[str, str]], PlanFile]
    """Reads a plan file from its texts, by name."""
    planner: Replanner


@dataclass(frozen=True, slots=True)
class Changed:
    """A visit before and after; None: there was none, or there is none any more."""

    was: SiteVisit | None
    now: SiteVisit | None

    @property
    def is_other(self) -> bool:
        """Whether the visit is otherwise than before."""
        was, now = self.was, self.now
        return was is None or now is None or replace(now, plan=was.plan) != was


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """A plan made anew and how it differs; plan is None where it was only tried, or is no other."""

    register: Register
    """As it stood when the plan was made."""
    before: StoredPlan
    plan: StoredPlan | None
    answer: Answer
    difference: Difference
    changes: tuple[Changed, ...]
    left_alone: tuple[SiteVisit, ...]
    """Visits of trips that have begun and were not handed back."""

    @property
    def is_other(self) -> bool:
        """Whether any visit is otherwise than before."""
        return any(one.is_other for one in self.changes)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Standing:
    """A kept plan as it meets the record of today.

    names: of needs as the visits have them, to those that the order has; what is no need any more
    lacks, and what stands at another site now.
    """

    register: Register
    visits: tuple[SiteVisit, ...]
    left_alone: tuple[SiteVisit, ...]
    ordered: Ordered
    names: Mapping[str, str]

    def needs(self, visit: SiteVisit) -> tuple[str, ...]:
        """What is left of a visit's needs, as the order calls them."""
        return tuple(self.names[name] for name in visit.need_names if name in self.names)


def replan(
    record: Record, given: Given, stamp: Stamp, *, number: str = "", is_trial: bool = False
) -> Replanned:
    """Plan what is to come of a kept plan anew, on the record as it is now.

    number: of the plan; '' for the only one with visits to be made. Raises BadInput for a plan
    whose span is over, and for confirmed trips that cannot be made any more, naming their visits.
    Without is_trial the new plan is kept in the old one's place. The caller commits.
    """
    register = record.register()
    before = standing_plan(register, number)
    content = content_of(record, before)
    zones = content.time_zones.values()
    today = max(stamp.at.astimezone(ZoneInfo(zone)).date() for zone in zones)
    if before.to_on < today:
        mend = "make a new plan: dueward plan ... --keep"
        raise refused("visits", "plan", f"the span of {before.number} has ended", mend)
    ordered = order_of(
        record,
        given.public_holidays,
        given.centres,
        given.plan_file(content.sources),
        max(before.from_on, today),
        before.to_on,
        content.narrow,
    )
    standing = _standing(register, before, content.told, ordered, today)
    problem = Problem(standing.ordered.order, _lock(standing))
    _check_confirmed(standing, problem)
    old = Plan(tuple(_trips(standing, standing.visits)))
    answer = answer_of(standing.ordered, problem, given.planner.replan(problem, old), given.planner)
    result = Replanned(
        register=register,
        before=before,
        plan=None,
        answer=answer,
        difference=difference(_as_it_was(content.told, standing), answer.told, _grades(standing)),
        changes=tuple(_changes(register, standing, answer)),
        left_alone=standing.left_alone,
    )
    return result if is_trial else keep_anew(record, given.public_holidays, result, stamp)


def _standing(
    register: Register, plan: StoredPlan, told: ToldPlan, ordered: Ordered, today: dt.date
) -> _Standing:
    """What of a plan is to be planned anew; the order lacks what all other trips stand for."""
    everything = planned_visits(register)
    under_way = _under_way(register, plan, today)
    alone = [one for one in everything if one.plan == plan.number and key_of(one) in under_way]
    others = [one for one in everything if one.plan != plan.number]
    to_come = [one for one in everything if one not in alone and one not in others]
    known = [need.name for need in ordered.order.needs]
    settled = set(_matched(register, [*alone, *others], known).values())
    taken = _days_out(register, [*alone, *others], told)
    order = replace(
        ordered.order,
        needs=tuple(need for need in ordered.order.needs if need.name not in settled),
        technicians=tuple(
            replace(one, works_on=one.works_on - taken.get(one.technician, set()))
            for one in ordered.order.technicians
        ),
    )
    site_of = {need.name: need.site for need in order.needs}
    names = _matched(register, to_come, list(site_of))
    at = {name: visit.site for visit in to_come for name in visit.need_names}
    return _Standing(
        register=register,
        visits=tuple(to_come),
        left_alone=tuple(alone),
        ordered=replace(ordered, order=order),
        names={old: new for old, new in names.items() if site_of[new] == at[old]},
    )


def _under_way(register: Register, plan: StoredPlan, today: dt.date) -> set[TripKey]:
    """Trips that have begun: before today, confirmed for today, or with a visit handed back."""
    begun = {
        (one.technician, one.trip_on)
        for one in register.visits.values()
        if one.state is VisitState.DONE
    }
    return {
        key_of(one)
        for one in planned_visits(register, plan.number)
        if one.trip_on < today
        or (one.trip_on == today and one.grade is Grade.CONFIRMED)
        or (one.technician, one.trip_on) in begun
    }


def _days_out(
    register: Register, visits: Iterable[SiteVisit], told: ToldPlan
) -> dict[str, set[dt.date]]:
    """The days that trips take, by technician; the way home may take one more than the last stop.

    told: what the plan says of its own trips.
    """
    ends = {(trip.technician, trip.starts_on): trip.ends_on for trip in told.trips}
    out: dict[str, set[dt.date]] = defaultdict(set)
    for key, some in trips_of(register, visits).items():
        after = max(one.to_on for one in some) + dt.timedelta(days=1)
        last = ends.get((key.technician, key.start_on), after)
        out[key.technician].update(days_between(key.start_on, last))
    return out


def _matched(
    register: Register, visits: Iterable[SiteVisit], known: Iterable[str]
) -> dict[str, str]:
    """Needs as the visits have them, to those of an order that are the same."""
    written = [name for visit in visits for name in visit.need_names]
    present = present_names(register, written)
    found = matched(present, known)
    return {old: found[new] for old, new in zip(written, present, strict=True) if new in found}


def _trips(standing: _Standing, visits: Iterable[SiteVisit]) -> Iterator[Trip]:
    for key, some in trips_of(standing.register, visits).items():
        names = tuple(chain.from_iterable(standing.needs(one) for one in some))
        if names:
            yield Trip(key.technician, key.start_on, names)


def _lock(standing: _Standing) -> Lock:
    graded = {grade: [v for v in standing.visits if v.grade is grade] for grade in Grade}
    return Lock(
        confirmed=tuple(_trips(standing, graded[Grade.CONFIRMED])),
        announced={
            name: visit.on for visit in graded[Grade.ANNOUNCED] for name in standing.needs(visit)
        },
    )


def _check_confirmed(standing: _Standing, problem: Problem) -> None:
    """Refuse to plan around a trip that was confirmed and cannot be made."""
    for (_, technician, start_on), some in trips_of(standing.register, standing.visits).items():
        if some[0].grade is not Grade.CONFIRMED:
            continue
        names = tuple(chain.from_iterable(standing.needs(one) for one in some))
        known = technician in problem.technician_index and start_on in problem.day_index
        if names and not (known and can_be(problem, Trip(technician, start_on, names))):
            numbers = joined([one.number for one in some])
            says = f"the trip of {technician} on {start_on} is confirmed ({numbers}), and cannot be"
            mend = f"free it first: dueward visits free {some[0].number}"
            raise refused("visits", "replan", says, mend)


def _as_it_was(told: ToldPlan, standing: _Standing) -> ToldPlan:
    """The trips to come as the plan told them, for what they cost then."""
    to_come = {(one.technician, one.trip_on) for one in standing.visits}
    trips = [
        replace(trip, visits=tuple(_renamed(visit, standing) for visit in trip.visits))
        for trip in told.trips
        if (trip.technician, trip.starts_on) in to_come
    ]
    return of_trips(trips)


def _renamed(visit: ToldVisit, standing: _Standing) -> ToldVisit:
    """A visit with its needs as the order calls them; all of them where it has none any more."""
    left = tuple(
        replace(need, name=standing.names[need.name])
        for need in visit.needs
        if need.name in standing.names
    )
    return replace(visit, needs=left or visit.needs)


def _grades(standing: _Standing) -> dict[str, Grade]:
    return {name: one.grade for one in standing.visits for name in standing.needs(one)}


def _changes(register: Register, standing: _Standing, answer: Answer) -> Iterator[Changed]:
    """Each visit to come before and after; a new one has the next number."""
    before = [(one, stop_of(one, standing.needs(one))) for one in standing.visits]
    same = same_visits([pair for pair in before if pair[1].needs], stops(answer.told))
    told = list(zip(visits_told(answer, ""), stops(answer.told), strict=True))
    fresh = next_numbers("V", register.visits, sum(stop not in same for _, stop in told))
    for now, stop in told:
        was = same.get(stop)
        if was is None:
            yield Changed(None, replace(now, number=fresh.pop(0)))
        else:
            yield Changed(
                was, replace(now, number=was.number, grade=was.grade, told_on=was.told_on)
            )
    met = {was.number for was in same.values()}
    yield from (Changed(one, None) for one in standing.visits if one.number not in met)


def keep_anew(
    record: Record, public_holidays: PublicHolidays, result: Replanned, stamp: Stamp
) -> Replanned:
    """Keep a plan that was made anew, where it is another; visits of trips that have begun go on.

    Who was told of a day is told of the new one in the same unit of work (`notices`). Raises
    BadInput where the register changed since the plan was made. The caller commits.
    """
    if not result.is_other:
        return result
    if record.register() != result.register:
        problem = "something was changed while the plan was made"
        raise refused("visits", "replan", problem, "make it once more")
    plan, file = new_plan(record.register(), result.answer, stamp, follows=result.before.number)
    changes, rows = [], [replace(one, plan=plan.number) for one in result.left_alone]
    for one in result.changes:
        if one.now is not None:
            told_on = one.now.told_on and one.now.on
            now = replace(one.now, plan=plan.number, told_on=told_on)
        elif one.was is not None:
            reason = f"not in {plan.number}, which follows {result.before.number}"
            now = replace(one.was, state=VisitState.CANCELLED, reason=reason)
        rows.append(now)
        changes.append(Changed(one.was, now if one.now is not None else None))
    record.attach(*file, stamp)
    change_register(record, public_holidays, "visits", [plan, *rows], stamp)
    return replace(result, plan=plan, changes=tuple(changes))
