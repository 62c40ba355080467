"""What does a plan look like to machines? A row a need, and one object with everything."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import asdict
from typing import Any, NamedTuple

from fleet.services.visits.answer import Answer, Compared, Unplaced
from schedules.visits.model import Need
from schedules.visits.problem import lost_cents
from schedules.visits.told import Costs, ToldNeed, ToldTrip, ToldVisit

__all__ = ["VisitRow", "at_minute", "document", "visit_rows"]


class VisitRow(NamedTuple):
    """One need of a plan; the fields, in order, are the columns of `plan`.

    Times are by the clock of the depot's time zone. miles and drive_minutes are of the leg that
    leads to the stop, and stand in its first row alone, so that they add up. A need in no trip has
    trip None, a reason and a mend.
    """

    trip: int | None
    technician: str | None
    vendor: str | None
    start_on: dt.date | None
    end_on: dt.date | None
    stop: int | None
    site: str
    county: str
    property_number: str
    kind: str
    task: str
    due: dt.date
    limit: dt.date
    was_past_limit: bool
    """Whether its limit had passed when the plan began, and it was given time to catch up."""
    on: dt.date | None
    arrives: str | None
    begins: str | None
    ends: str | None
    time_zone: str | None
    miles: float | None
    drive_minutes: int | None
    minutes: int
    lost_days: int | None
    lost_cents: int | None
    reason: str | None
    mend: str | None
    plan_file: str


def at_minute(begins_at: dt.time, minute: int) -> str:
    """The time of day so many minutes after a day's beginning: '16:05'."""
    hours, minutes = divmod(begins_at.hour * 60 + begins_at.minute + minute, 60)
    return f"{hours:02d}:{minutes:02d}"


def visit_rows(answer: Answer) -> Iterator[VisitRow]:
    """A row a need: trip by trip as they are served, then those that are in none."""
    for number, trip in enumerate(answer.told.trips, start=1):
        for stop, visit in enumerate(trip.visits, start=1):
            for turn, told in enumerate(visit.needs):
                yield _served(answer, (number, stop, turn == 0), trip, visit, told)
    for one in answer.unplaced:
        yield _not_served(answer, one)


def _served(
    answer: Answer,
    place: tuple[int, int, bool],
    trip: ToldTrip,
    visit: ToldVisit,
    told: ToldNeed,
) -> VisitRow:
    need, (number, stop, is_first) = _need(answer, told.name), place
    begins_at = _begins_at(answer, trip)
    return VisitRow(
        trip=number,
        technician=trip.technician,
        vendor=trip.vendor,
        start_on=trip.starts_on,
        end_on=trip.ends_on,
        stop=stop,
        **_of_need(answer, need),
        on=told.on,
        arrives=at_minute(begins_at, visit.arrives_minute),
        begins=at_minute(begins_at, told.from_minute),
        ends=at_minute(begins_at, told.to_minute),
        time_zone=answer.ordered.time_zones[trip.depot],
        miles=visit.miles / 100 if is_first else 0.0,
        drive_minutes=visit.drive_minutes if is_first else 0,
        minutes=need.minutes,
        lost_days=told.lost_days,
        lost_cents=lost_cents(need, told.on, answer.problem.order.prices.lost_day),
        reason=None,
        mend=None,
        plan_file=answer.ordered.plan_file.file,
    )


def _not_served(answer: Answer, one: Unplaced) -> VisitRow:
    nothing = dict.fromkeys(VisitRow._fields)
    told = {
        "minutes": one.need.minutes,
        "reason": one.reason,
        "mend": one.mend,
        "plan_file": answer.ordered.plan_file.file,
    }
    return VisitRow(**{**nothing, **_of_need(answer, one.need), **told})


def _of_need(answer: Answer, need: Need) -> dict[str, Any]:
    return {
        "site": need.site,
        "county": answer.ordered.sites[need.site].county,
        "property_number": need.property_number,
        "kind": need.kind,
        "task": need.task,
        "due": need.due_on,
        "limit": answer.ordered.limits[need.name],
        "was_past_limit": need.name in answer.ordered.past_limit,
    }


def _need(answer: Answer, name: str) -> Need:
    return answer.problem.order.needs[answer.problem.need_index[name]]


def _begins_at(answer: Answer, trip: ToldTrip) -> dt.time:
    technicians = answer.problem.order.technicians
    return technicians[answer.problem.technician_index[trip.technician]].begins_at


def document(answer: Answer) -> dict[str, Any]:
    """Everything as one object: the question, the figures, trips, what is in none, and notes.

    Nothing in it depends on when or where it was made, but for the versions.
    """
    order, asked = answer.problem.order, answer.ordered
    return {
        "from": order.from_on,
        "to": order.to_on,
        "narrow": {name: list(words) for name, words in asdict(asked.narrow).items() if words},
        "plan_file": {"file": asked.plan_file.file, "sha256": asked.plan_file.sha256},
        "seed": answer.effort.seed,
        "iterations": answer.effort.iterations,
        "versions": dict(answer.versions),
        "prices": asdict(order.prices),
        **_figures(answer.figures),
        "past_limit": sorted(asked.past_limit),
        "service_minutes": sum(_need(answer, name).minutes for name in _served_names(answer)),
        "trips": [_trip(answer, n, trip) for n, trip in enumerate(answer.told.trips, start=1)],
        "unplaced": [
            {
                **_of_need(answer, one.need),
                "reason": one.reason,
                "mend": one.mend,
                "is_proved": one.is_proved,
            }
            for one in answer.unplaced
        ],
        "beside": {one.name: _figures(one) for one in answer.beside},
        "bound": _bound(answer),
        "notes": list(asked.notes),
        "failures": list(asked.failures),
    }


def _served_names(answer: Answer) -> Iterator[str]:
    for trip in answer.told.trips:
        for visit in trip.visits:
            yield from (need.name for need in visit.needs)


def _figures(one: Compared) -> dict[str, Any]:
    counts = {
        "trips": one.trips,
        "technician_days": one.days,
        "nights": one.nights,
        "visits": one.visits,
        "needs": one.needs,
        "late": one.late,
        "unplaced": one.unplaced,
        "miles": one.miles / 100,
        "drive_minutes": one.drive_minutes,
        "lost_days": one.lost_days,
    }
    return {"counts": counts, "cents": _cents(one.costs)}


def _cents(costs: Costs) -> dict[str, int]:
    return {**asdict(costs), "total": costs.total}


def _trip(answer: Answer, number: int, trip: ToldTrip) -> dict[str, Any]:
    begins_at = _begins_at(answer, trip)
    return {
        "trip": number,
        "technician": trip.technician,
        "vendor": trip.vendor,
        "depot": trip.depot,
        "time_zone": answer.ordered.time_zones[trip.depot],
        "start_on": trip.starts_on,
        "leaves": at_minute(begins_at, 0),
        "end_on": trip.ends_on,
        "home": at_minute(begins_at, trip.ends_minute),
        "days": trip.days,
        "nights": trip.nights,
        "miles": trip.miles / 100,
        "drive_minutes": trip.drive_minutes,
        "cents": _cents(trip.costs),
        "visits": [_visit(answer, begins_at, n, v) for n, v in enumerate(trip.visits, start=1)],
    }


def _visit(answer: Answer, begins_at: dt.time, stop: int, visit: ToldVisit) -> dict[str, Any]:
    return {
        "stop": stop,
        "site": visit.site,
        "county": answer.ordered.sites[visit.site].county,
        "arrives_on": visit.arrives_on,
        "arrives": at_minute(begins_at, visit.arrives_minute),
        "leaves_on": visit.leaves_on,
        "leaves": at_minute(begins_at, visit.leaves_minute),
        "miles": visit.miles / 100,
        "drive_minutes": visit.drive_minutes,
        "needs": [
            {
                **_of_need(answer, _need(answer, told.name)),
                "on": told.on,
                "begins": at_minute(begins_at, told.from_minute),
                "ends": at_minute(begins_at, told.to_minute),
                "lost_days": told.lost_days,
            }
            for told in visit.needs
        ],
    }


def _bound(answer: Answer) -> dict[str, Any] | None:
    if answer.bound is None:
        return None
    return {**asdict(answer.bound), "gap_permille": answer.gap_permille}
