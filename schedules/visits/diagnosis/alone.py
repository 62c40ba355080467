"""Can a need be served by a trip of its own, and if not, can any trip serve it?

A trip of its own is the easiest one where no detour over other sites is shorter than the road
between two places. Where one is, the shortest way over any sites stands for the road: what is
impossible so is impossible for every trip, since who comes earlier is never served later.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from schedules.visits.compiled import compiled
from schedules.visits.model import Need, Order
from schedules.visits.problem import Arrays, Flags, Ints, Problem
from schedules.visits.walk import trip_cents

__all__ = ["alone_cents", "alone_order", "is_servable", "shortest_minutes"]

_NOWHERE = 2**60


def shortest_minutes(order: Order) -> Ints:
    """(P, P) minutes between places by the shortest way over sites (Floyd and Warshall)."""
    minutes = np.array(order.minutes, dtype=np.int32).reshape(len(order.places), -1)
    for over in range(len(order.stands)):
        minutes = np.minimum(minutes, minutes[:, over : over + 1] + minutes[over])
    return minutes


def is_servable(problem: Problem, shortest: Ints) -> Flags:
    """(N,) whether some trip, on the shortest ways, can serve the need; False is a proof."""
    order = problem.order
    servable = np.zeros(len(order.needs), dtype=np.bool_)
    if order.technicians and problem.days and order.needs:
        _mark_servable(problem.arrays._replace(leg_minutes=shortest), servable)
    return servable


def alone_order(order: Order, need: Need) -> Order:
    """The order of one need: its site and all depots are the only places left."""
    places = order.places
    kept = [places.index(need.site), *range(len(order.stands), len(places))]
    return replace(
        order,
        stands=tuple(stand for stand in order.stands if stand.site == need.site),
        needs=(need,),
        miles=tuple(tuple(order.miles[a][b] for b in kept) for a in kept),
        minutes=tuple(tuple(order.minutes[a][b] for b in kept) for a in kept),
    )


def alone_cents(order: Order) -> int | None:
    """What trips of their own for all needs cost at least; None where one has no such trip."""
    problem, cents = Problem(order), 0
    if not (order.technicians and problem.days):
        return None
    for need in range(len(order.needs)):
        least = _least_cents(problem.arrays, need)
        if least == _NOWHERE:
            return None
        cents += int(least)
    return cents


@compiled
def _least_cents(a: Arrays, need: int) -> int:
    one = np.full(1, need, dtype=np.int32)
    begun = np.zeros(1, dtype=np.int32)
    least = _NOWHERE
    for technician in range(len(a.depot)):
        for start in range(len(a.week)):
            cents = trip_cents(a, technician, start, one, 1, begun)
            if 0 <= cents < least:
                least = cents
    return least


@compiled
def _mark_servable(a: Arrays, servable: Flags) -> None:
    for need in range(len(servable)):
        servable[need] = _least_cents(a, need) < _NOWHERE
