"""Which good plan do the tests of the checker spoil? Two days out, over a night, three needs."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

from schedules.visits.model import Depot, Lock, Need, Order, Plan, Prices, Stand, Technician, Trip
from schedules.visits.problem import Problem
from schedules.visits.told import ToldPlan, tell

# Monday 4 January 2027 and the days after it.
MON, TUE, WED, THU, FRI = (dt.date(2027, 1, 4 + number) for number in range(5))
WEEK = frozenset((MON, TUE, WED, THU, FRI))
NEXT_WEEK = frozenset(on + dt.timedelta(days=7) for on in WEEK)


def need(number: str, site: str, **other: Any) -> Need:
    plain: dict[str, Any] = {
        "property_number": number,
        "task": "service",
        "kind": "microscope",
        "site": site,
        "opens_on": MON,
        "nominal_on": dt.date(2027, 1, 20),
        "due_on": dt.date(2027, 1, 20),
        "limit_on": dt.date(2027, 1, 22),
        "minutes": 60,
        "fee": 36_500,
        "interval_days": 365,
    }
    return Need(**{**plain, **other})


A1, A2, B1 = "1/service/2027-01-20", "2/service/2027-01-20", "3/service/2027-01-20"
# Alder is 3 h from the depot, Birch 2 h from Alder and 4 h from the depot.
ORDER = Order(
    from_on=MON,
    to_on=dt.date(2027, 1, 17),
    stands=tuple(
        Stand(site=site, latitude=41.0, longitude=-97.0, open_on=WEEK | NEXT_WEEK)
        for site in ("Alder", "Birch")
    ),
    depots=(Depot(depot="North", latitude=41.0, longitude=-96.0),),
    technicians=tuple(
        Technician(technician=name, vendor="Loup", depot="North", works_on=WEEK | NEXT_WEEK)
        for name in ("Ash", "Bay")
    ),
    needs=(need("1", "Alder"), need("2", "Alder"), need("3", "Birch", minutes=90)),
    prices=Prices(mile=70, hour=9500, trip=15000, night=14000, visit=4000, change=2500),
    miles=((0, 11000, 16505), (11000, 0, 22000), (16505, 22000, 0)),
    minutes=((0, 120, 180), (120, 0, 240), (180, 240, 0)),
)
OUT = Trip("Ash", MON, (A1, A2, B1))
OUT_AND_OUT = (Trip("Ash", MON, (A1, A2)), Trip("Bay", MON, (B1,)))


def told(
    *given_trips: Trip, order: Order = ORDER, lock: Lock | None = None
) -> tuple[Order, Lock, ToldPlan]:
    plan, stands = Plan(given_trips or (OUT,)), lock or Lock()
    return order, stands, tell(Problem(order, stands), plan)


def with_trip(plan: ToldPlan, turn: int = 0, **other: Any) -> ToldPlan:
    """The plan with something else told of a trip."""
    changed = [*plan.trips]
    changed[turn] = replace(changed[turn], **other)
    return replace(plan, trips=tuple(changed))


def with_visit(plan: ToldPlan, turn: int, **other: Any) -> ToldPlan:
    visits = [*plan.trips[0].visits]
    visits[turn] = replace(visits[turn], **other)
    return with_trip(plan, visits=tuple(visits))


def with_need(plan: ToldPlan, **other: Any) -> ToldPlan:
    """The plan with something else told of the first need."""
    first, *others = plan.trips[0].visits[0].needs
    return with_visit(plan, 0, needs=(replace(first, **other), *others))


def with_technician(**other: Any) -> Order:
    """The order with another Ash."""
    ash, bay = ORDER.technicians
    return replace(ORDER, technicians=(replace(ash, **other), bay))


def with_first_need(**other: Any) -> Order:
    first, *others = ORDER.needs
    return replace(ORDER, needs=(replace(first, **other), *others))


def with_costs(plan: ToldPlan, **other: int) -> ToldPlan:
    return with_trip(plan, costs=replace(plan.trips[0].costs, **other))


NAME = "The trip of Ash on 2027-01-04"

GOOD = told()[2]
FIRST, SECOND = GOOD.trips[0].visits
ALDER, BIRCH = "The visit at Alder on 2027-01-04", "The visit at Birch on 2027-01-04"
