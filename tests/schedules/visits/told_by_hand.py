"""What would a trip say that is driven whatever the rules? A literal teller that refuses nothing.

It shares no code with the program: minutes since the trip began, on days that follow each other.
Where the program has an answer, this one's is the same; where it refuses, a checker must refuse
this one's.
"""

from __future__ import annotations

import datetime as dt
from decimal import ROUND_HALF_UP, Decimal
from itertools import pairwise

from schedules.visits.model import Need, Order, Trip
from schedules.visits.problem import Problem
from schedules.visits.told import Costs, ToldNeed, ToldPlan, ToldTrip, ToldVisit

__all__ = ["plan_by_hand", "trip_by_hand"]

AHEAD = 60
"""How many days there are beyond the axis; half of them are waited for an open one."""

Table = tuple[tuple[int, ...], ...]


def plan_by_hand(trip: ToldTrip, problem: Problem) -> ToldPlan:
    """The plan of that trip alone; what it does not serve is unplaced."""
    needs = [need for visit in trip.visits for need in visit.needs]
    served = {need.name for need in needs}
    return ToldPlan(
        trips=(trip,),
        unplaced=tuple(n.name for n in problem.order.needs if n.name not in served),
        costs=trip.costs,
        miles=trip.miles,
        drive_minutes=trip.drive_minutes,
        days=trip.days,
        nights=trip.nights,
        visits=len(trip.visits),
        needs=len(needs),
        lost_days=sum(need.lost_days for need in needs),
    )


def trip_by_hand(problem: Problem, trip: Trip, waits: bool) -> ToldTrip:
    """Say a trip; one that waits serves on suitable days only, as long as there are any."""
    order = problem.order
    technician = next(one for one in order.technicians if one.technician == trip.technician)
    days, length = _days_from(problem, trip.start_on), technician.day_minutes
    at, place, visits = 0, technician.depot, list[ToldVisit]()
    for site, needs in _stops(order, trip):
        drive = _leg(order, order.minutes, place, site)
        arrives = at + drive
        served, at = _served(order, needs, days, length, arrives, waits)
        visits.append(_visit(order, place, site, _when(days, length, arrives), served))
        place = site
    at += _leg(order, order.minutes, place, technician.depot)
    ends_on, ends_minute = _when(days, length, at)
    nights = (ends_on - trip.start_on).days
    stops = [technician.depot, *(visit.site for visit in visits), technician.depot]
    return ToldTrip(
        technician=trip.technician,
        vendor=technician.vendor,
        depot=technician.depot,
        starts_on=trip.start_on,
        ends_on=ends_on,
        ends_minute=ends_minute,
        days=days.index(ends_on) + 1,
        nights=nights,
        miles=sum(_legs(order, order.miles, stops)),
        drive_minutes=sum(_legs(order, order.minutes, stops)),
        visits=tuple(visits),
        costs=_costs(problem, stops, nights, visits),
    )


def _stops(order: Order, trip: Trip) -> list[tuple[str, list[Need]]]:
    """The sites it stops at, each with what is served there."""
    stops: list[tuple[str, list[Need]]] = []
    for name in trip.needs:
        need = next(need for need in order.needs if need.name == name)
        if not stops or stops[-1][0] != need.site:
            stops.append((need.site, []))
        stops[-1][1].append(need)
    return stops


def _served(
    order: Order, needs: list[Need], days: list[dt.date], length: int, at: int, waits: bool
) -> tuple[list[ToldNeed], int]:
    """What is served at a stop, and when the last is done."""
    served = []
    for need in needs:
        at = _begin(order, need, days, length, at, waits)
        on, minute = days[at // length], at % length
        told = ToldNeed(
            name=need.name,
            on=on,
            from_minute=minute,
            to_minute=minute + need.minutes,
            lost_days=_lost(need, on),
        )
        served.append(told)
        at += need.minutes
    return served, at


def _begin(order: Order, need: Need, days: list[dt.date], length: int, at: int, waits: bool) -> int:
    """When a service begins: whole within a day, and on a day that suits if it is waited for."""
    if at % length + need.minutes > length:
        at = (at // length + 1) * length
    if not waits:
        return at
    stand = next(stand for stand in order.stands if stand.site == need.site)
    for day in range(at // length, len(days) - AHEAD // 2):
        on = days[day]
        is_open = on in stand.open_on and on not in need.closed_on
        if is_open and need.opens_on <= on <= need.limit_on:
            return max(at, day * length)
    return at


def _visit(
    order: Order, place: str, site: str, arrives: tuple[dt.date, int], served: list[ToldNeed]
) -> ToldVisit:
    return ToldVisit(
        site=site,
        arrives_on=arrives[0],
        arrives_minute=arrives[1],
        leaves_on=served[-1].on,
        leaves_minute=served[-1].to_minute,
        miles=_leg(order, order.miles, place, site),
        drive_minutes=_leg(order, order.minutes, place, site),
        needs=tuple(served),
    )


def _costs(problem: Problem, stops: list[str], nights: int, visits: list[ToldVisit]) -> Costs:
    order, prices, announced = problem.order, problem.order.prices, problem.lock.announced
    told = [need for visit in visits for need in visit.needs]
    lost = 0
    for one in told:
        need = next(need for need in order.needs if need.name == one.name)
        if one.lost_days and prices.lost_day is None:
            lost += _rounded(one.lost_days * need.fee, need.interval_days)
        elif one.lost_days and prices.lost_day is not None:
            lost += one.lost_days * prices.lost_day
    return Costs(
        miles=sum(_rounded(leg * prices.mile, 100) for leg in _legs(order, order.miles, stops)),
        hours=sum(_rounded(leg * prices.hour, 60) for leg in _legs(order, order.minutes, stops)),
        trips=prices.trip,
        nights=nights * prices.night,
        visits=len(visits) * prices.visit,
        lost_days=lost,
        changes=prices.change * sum(announced.get(one.name, one.on) != one.on for one in told),
    )


def _days_from(problem: Problem, start_on: dt.date) -> list[dt.date]:
    """The days of the axis from the start on, and then every day."""
    last = problem.days[-1]
    beyond = [last + dt.timedelta(days=number) for number in range(1, AHEAD)]
    return [on for on in problem.days if on >= start_on] + beyond


def _when(days: list[dt.date], length: int, at: int) -> tuple[dt.date, int]:
    """The day and minute of a moment; the end of a day is not yet the next."""
    day = 0
    while at > length:
        day, at = day + 1, at - length
    return days[day], at


def _legs(order: Order, table: Table, stops: list[str]) -> list[int]:
    return [_leg(order, table, start, end) for start, end in pairwise(stops)]


def _leg(order: Order, table: Table, start: str, end: str) -> int:
    return table[order.places.index(start)][order.places.index(end)]


def _lost(need: Need, on: dt.date) -> int:
    early = (need.nominal_on - on).days
    return early if early > need.kept_days and need.interval_days > 0 else 0


def _rounded(amount: int, parts: int) -> int:
    """Divided, half up."""
    return int((Decimal(amount) / parts).quantize(Decimal(1), ROUND_HALF_UP))
