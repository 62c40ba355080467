"""Is what is called impossible so? Every way is tried, on states small enough for that."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Iterator, Sequence
from itertools import permutations
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from schedules.visits.diagnosis import Code, diagnose
from schedules.visits.diagnosis.alone import is_servable, shortest_minutes
from schedules.visits.diagnosis.capacity import overloads
from schedules.visits.model import Depot, Need, Order, Prices, Stand, Technician
from schedules.visits.problem import Problem
from schedules.visits.walk import end_day, home_at
from tests.schedules.visits.strategies import orders
from tests.studies.diagnosis import broken, judged

# A Thursday to the Tuesday after it.
DAYS = tuple(dt.date(2027, 1, 7) + dt.timedelta(days=number) for number in range(6))


class Way(NamedTuple):
    """A trip that can be: which needs it serves, which technician's days it takes."""

    needs: frozenset[int]
    days: frozenset[tuple[int, int]]


def every_way(problem: Problem, most: int) -> Iterator[Way]:
    """Every trip of so many needs at most that can be."""
    for count in range(1, most + 1):
        for row in permutations(range(len(problem.order.needs)), count):
            yield from ways(problem, row)


def ways(problem: Problem, row: Sequence[int]) -> Iterator[Way]:
    needs, begins = np.array(row, dtype=np.int32), np.zeros(len(row), dtype=np.int32)
    for who in range(len(problem.order.technicians)):
        for start in range(len(problem.days)):
            home = home_at(problem.arrays, who, start, needs, len(row), begins)
            if home >= 0:
                end = end_day(problem.arrays, who, start, home)
                days = frozenset((who, day) for day in range(start, end + 1))
                yield Way(frozenset(row), days)


def can_place_all(ways: set[Way], needs: frozenset[int], busy: frozenset[tuple[int, int]]) -> bool:
    """Whether ways on days of their own serve all the needs; each need is served by the first."""
    if not needs:
        return True
    first = min(needs)
    return any(
        can_place_all(ways, needs - way.needs, busy | way.days)
        for way in ways
        if first in way.needs and not way.days & busy
    )


@given(order=orders())
@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
def test_a_need_that_is_proved_impossible_is_in_no_trip_that_can_be(order: Order) -> None:
    problem = Problem(order)
    servable = is_servable(problem, shortest_minutes(order))
    if not servable.all():
        served = {need for way in every_way(problem, 3) for need in way.needs}
        assert served <= set(np.flatnonzero(servable).tolist())


def tiny_order(chance: random.Random) -> Order:
    """Two sites or three, up to four needs in narrow windows, a technician or two."""
    sites = ("Alder", "Birch", "Cedar")[: chance.randint(2, 3)]
    places = len(sites) + 1
    far = chance.choice((60, 150, 300))
    legs = tuple(
        tuple(0 if a == b else chance.randint(0, far) for b in range(places)) for a in range(places)
    )
    return Order(
        from_on=DAYS[0],
        to_on=DAYS[-1],
        stands=tuple(
            Stand(site=one, latitude=0, longitude=0, open_on=frozenset(DAYS)) for one in sites
        ),
        depots=(Depot(depot="North", latitude=0, longitude=0),),
        technicians=tuple(
            Technician(
                technician=name,
                vendor="Loup",
                depot="North",
                works_on=frozenset(on for on in DAYS if chance.random() < 0.7),
                day_minutes=chance.choice((300, 480)),
                max_nights=chance.randint(0, 3),
                kinds=chance.choice((None, frozenset({"microscope"}))),
            )
            for name in ("Ash", "Bay")[: chance.randint(1, 2)]
        ),
        needs=tuple(_need(chance, number, sites) for number in range(chance.randint(2, 4))),
        prices=Prices(mile=0, hour=0, trip=0, night=0, visit=0),
        miles=legs,
        minutes=legs,
    )


def _need(chance: random.Random, number: int, sites: Sequence[str]) -> Need:
    first = chance.randrange(len(DAYS))
    last = min(len(DAYS) - 1, first + chance.randint(0, 2))
    return Need(
        property_number=str(number),
        task="service",
        kind=chance.choice(("microscope", "microscope", "autoclave")),
        site=chance.choice(sites),
        opens_on=DAYS[first],
        nominal_on=DAYS[last],
        due_on=DAYS[last],
        limit_on=DAYS[last],
        minutes=chance.randint(0, 240),
    )


def test_a_span_that_is_proved_too_full_has_no_plan() -> None:
    chance = random.Random(7)
    proofs = with_roads = impossible = 0
    for _ in range(1_500):
        problem = Problem(tiny_order(chance))
        servable = is_servable(problem, shortest_minutes(problem.order))
        if not servable.any():
            continue
        full = overloads(problem.arrays, shortest_minutes(problem.order), servable)
        if not full and chance.random() < 0.9:
            continue
        trips = set(every_way(problem, len(problem.order.needs)))
        for one in full:
            proofs += 1
            with_roads += one.service <= one.minutes
            assert not can_place_all(trips, frozenset(one.needs), frozenset())
        needs = frozenset(np.flatnonzero(servable).tolist())
        impossible += not full and not can_place_all(trips, needs, frozenset())
    # Both forms of the test were met, and it is no proof of the contrary.
    assert proofs > 30
    assert with_roads > 15
    assert impossible > 0


@pytest.mark.parametrize("code", list(Code))
def test_what_was_broken_is_found_and_mended(code: Code) -> None:
    assert judged(broken(code, 1)) == (True, True)


def test_a_state_that_is_not_broken_has_no_finding() -> None:
    whole = broken(Code.NOT_FOUND, 3).problem.order
    assert diagnose(Problem(whole)) == []
