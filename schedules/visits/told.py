"""What does a plan say? Each trip's days, times, visits, miles and money, and the whole's."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, fields
from itertools import groupby, pairwise

import numpy as np

from schedules.visits.model import Plan, Trip
from schedules.visits.problem import Problem, hour_cents, lost_cents, lost_days, mile_cents
from schedules.visits.walk import end_day, home_at

__all__ = ["Costs", "ToldNeed", "ToldPlan", "ToldTrip", "ToldVisit", "can_be", "of_trips", "tell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Costs:
    """The parts of a plan's money, whole cents."""

    miles: int = 0
    hours: int = 0
    trips: int = 0
    nights: int = 0
    visits: int = 0
    lost_days: int = 0
    changes: int = 0

    @property
    def total(self) -> int:
        """All parts together."""
        return sum(getattr(self, part.name) for part in fields(self))


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldNeed:
    """A need's place in a trip: minutes of the technician's day; lost_days of its interval."""

    name: str
    on: dt.date
    from_minute: int
    to_minute: int
    lost_days: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldVisit:
    """A stop at a site: arrives at a minute of the technician's day, leaves when all is served.

    miles (hundredths) and drive_minutes: of the leg that leads there.
    """

    site: str
    arrives_on: dt.date
    arrives_minute: int
    leaves_on: dt.date
    leaves_minute: int
    miles: int
    drive_minutes: int
    needs: tuple[ToldNeed, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldTrip:
    """A trip from its depot back to it; miles in hundredths, ends_minute of the last day."""

    technician: str
    vendor: str
    depot: str
    starts_on: dt.date
    ends_on: dt.date
    ends_minute: int
    days: int
    nights: int
    miles: int
    drive_minutes: int
    visits: tuple[ToldVisit, ...]
    costs: Costs


@dataclass(frozen=True, slots=True, kw_only=True)
class ToldPlan:
    """Trips and their sums: days are days that technicians are out, lost_days of intervals."""

    trips: tuple[ToldTrip, ...]
    unplaced: tuple[str, ...]
    costs: Costs
    miles: int
    drive_minutes: int
    days: int
    nights: int
    visits: int
    needs: int
    lost_days: int


def tell(problem: Problem, plan: Plan) -> ToldPlan:
    """Say a plan whole; ValueError for a trip that cannot be."""
    return of_trips([tell_trip(problem, trip) for trip in plan.trips], plan.unplaced)


def of_trips(trips: Iterable[ToldTrip], unplaced: tuple[str, ...] = ()) -> ToldPlan:
    """The plan of some trips, with their sums."""
    trips = tuple(trips)
    visits = [visit for trip in trips for visit in trip.visits]
    needs = [need for visit in visits for need in visit.needs]
    return ToldPlan(
        trips=trips,
        unplaced=unplaced,
        costs=_sum(trip.costs for trip in trips),
        miles=sum(trip.miles for trip in trips),
        drive_minutes=sum(trip.drive_minutes for trip in trips),
        days=sum(trip.days for trip in trips),
        nights=sum(trip.nights for trip in trips),
        visits=len(visits),
        needs=len(needs),
        lost_days=sum(need.lost_days for need in needs),
    )


def can_be(problem: Problem, trip: Trip) -> bool:
    """Say whether a trip keeps every rule by itself."""
    technician, start, needs = problem.numbered(trip)
    begins = np.zeros(len(needs), dtype=np.int32)
    numbers = np.array(needs, np.int32)
    return home_at(problem.arrays, technician, start, numbers, len(needs), begins) >= 0


def tell_trip(problem: Problem, trip: Trip) -> ToldTrip:
    """Say one trip; ValueError if it cannot be."""
    technician, start, needs = problem.numbered(trip)
    arrays, one = problem.arrays, problem.order.technicians[technician]
    begins = np.zeros(len(needs), dtype=np.int32)
    home = home_at(arrays, technician, start, np.array(needs, np.int32), len(needs), begins)
    if home < 0:
        raise ValueError(f"{trip.technician} cannot make the trip of {trip.start_on}")
    end = end_day(arrays, technician, start, home)
    visits = tuple(_visits(problem, technician, start, needs, begins.tolist()))
    legs = _legs(problem, technician, needs)
    nights = (problem.days[end] - problem.days[start]).days
    return ToldTrip(
        technician=one.technician,
        vendor=one.vendor,
        depot=one.depot,
        starts_on=problem.days[start],
        ends_on=problem.days[end],
        ends_minute=home - (end - start) * one.day_minutes,
        days=end - start + 1,
        nights=nights,
        miles=sum(problem.order.miles[a][b] for a, b in legs),
        drive_minutes=sum(problem.order.minutes[a][b] for a, b in legs),
        visits=visits,
        costs=_costs(problem, legs, nights, visits),
    )


def _legs(problem: Problem, technician: int, needs: tuple[int, ...]) -> list[tuple[int, int]]:
    """The pairs of places a trip drives between, from depot to depot."""
    depot = int(problem.arrays.depot[technician])
    stops = [int(problem.arrays.site[need]) for need in needs]
    places = [place for place, _ in groupby([depot, *stops, depot])]
    return list(pairwise(places))


def _visits(
    problem: Problem, technician: int, start: int, needs: tuple[int, ...], begins: list[int]
) -> Iterator[ToldVisit]:
    length = problem.order.technicians[technician].day_minutes

    def day(at: int) -> tuple[dt.date, int]:
        return problem.days[start + at // length], at % length

    at, place = 0, int(problem.arrays.depot[technician])
    served = zip(needs, begins, strict=True)
    for site, group in groupby(served, lambda pair: int(problem.arrays.site[pair[0]])):
        stop = list(group)
        drive = problem.order.minutes[place][site]
        arrives = at + drive
        last, begun = stop[-1]
        at = begun + problem.order.needs[last].minutes
        leaves_on, leaves_minute = day(at - 1)
        yield ToldVisit(
            site=problem.order.places[site],
            arrives_on=day(max(0, arrives - 1))[0],
            arrives_minute=arrives - (max(0, arrives - 1) // length) * length,
            leaves_on=leaves_on,
            leaves_minute=leaves_minute + 1,
            miles=problem.order.miles[place][site],
            drive_minutes=drive,
            needs=tuple(_need(problem, need, *day(begun)) for need, begun in stop),
        )
        place = site


def _need(problem: Problem, number: int, on: dt.date, minute: int) -> ToldNeed:
    need = problem.order.needs[number]
    return ToldNeed(
        name=need.name,
        on=on,
        from_minute=minute,
        to_minute=minute + need.minutes,
        lost_days=lost_days(need, on),
    )


def _costs(
    problem: Problem, legs: list[tuple[int, int]], nights: int, visits: tuple[ToldVisit, ...]
) -> Costs:
    prices, order = problem.order.prices, problem.order
    told = [need for visit in visits for need in visit.needs]
    served = [(one, order.needs[problem.need_index[one.name]]) for one in told]
    announced = problem.lock.announced
    miles = np.array([order.miles[a][b] for a, b in legs], dtype=np.int64)
    minutes = np.array([order.minutes[a][b] for a, b in legs], dtype=np.int64)
    return Costs(
        miles=int(mile_cents(miles, prices.mile).sum()),
        hours=int(hour_cents(minutes, prices.hour).sum()),
        trips=prices.trip,
        nights=nights * prices.night,
        visits=len(visits) * prices.visit,
        lost_days=sum(lost_cents(need, one.on, prices.lost_day) for one, need in served),
        changes=sum(prices.change for one in told if announced.get(one.name, one.on) != one.on),
    )


def _sum(parts: Iterable[Costs]) -> Costs:
    some = list(parts)
    return Costs(**{p.name: sum(getattr(one, p.name) for one in some) for p in fields(Costs)})
