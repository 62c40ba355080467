"""What does the cheapest plan of a tiny order cost? All trips, and all choices of them."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import permutations
from typing import NamedTuple

from schedules.visits.model import Plan, Trip
from schedules.visits.problem import Problem
from schedules.visits.told import can_be, tell

__all__ = ["cheapest"]


class Way(NamedTuple):
    """A trip that can be: its needs, the days its technician is out, what it costs."""

    needs: frozenset[str]
    days: frozenset[tuple[str, int]]
    cents: int


def cheapest(problem: Problem) -> tuple[int, int]:
    """How many needs must stay without a place, and the cents of the cheapest plan without them."""
    ways = sorted(set(_ways(problem)), key=lambda way: way.cents)
    names = [need.name for need in problem.order.needs]
    return _best(ways, names, frozenset())


def _best(ways: list[Way], names: list[str], busy: frozenset[tuple[str, int]]) -> tuple[int, int]:
    if not names:
        return 0, 0
    first, rest = names[0], names[1:]
    missing, cents = _best(ways, rest, busy)
    found = [(missing + 1, cents)]
    for way in ways:
        if first in way.needs and way.needs <= set(names) and not way.days & busy:
            left = [name for name in names if name not in way.needs]
            missing, cents = _best(ways, left, busy | way.days)
            found.append((missing, cents + way.cents))
    return min(found)


def _ways(problem: Problem) -> Iterator[Way]:
    names = [need.name for need in problem.order.needs]
    for count in range(1, len(names) + 1):
        for row in permutations(names, count):
            for technician in problem.order.technicians:
                for start_on in problem.days:
                    trip = Trip(technician.technician, start_on, row)
                    if can_be(problem, trip):
                        yield _way(problem, trip)


def _way(problem: Problem, trip: Trip) -> Way:
    told = tell(problem, Plan((trip,))).trips[0]
    first, last = problem.day_index[told.starts_on], problem.day_index[told.ends_on]
    days = frozenset((trip.technician, day) for day in range(first, last + 1))
    return Way(frozenset(trip.needs), days, told.costs.total)
