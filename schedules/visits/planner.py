"""How is a year of visits planned, and planned anew after a change?

The method: ruin and recreate with annealing on the exact rules of a trip, from several starts where
there are steps enough, and the cheapest choice of all trips that were met (`search`). How much to
do is told in iterations, not in seconds, so that the same order, seed and versions give the same
plan.
"""

from __future__ import annotations

import platform
from collections.abc import Callable, Iterable, Mapping
from copy import deepcopy
from dataclasses import dataclass
from importlib.metadata import version
from itertools import chain

import numpy as np

from schedules.visits.compiled import IS_COMPILED
from schedules.visits.model import Lock, Order, Plan, Trip
from schedules.visits.problem import Problem
from schedules.visits.search.anneal import (
    ABSENT_CENTS,
    anneal,
    mean_way,
    mend,
    new_room,
    total_cents,
)
from schedules.visits.search.chance import stream
from schedules.visits.search.pool import Pool
from schedules.visits.search.state import State, new_state, plan_of
from schedules.visits.told import can_be

__all__ = ["Effort", "make_plan", "plan_order", "replan", "versions"]

_CHUNK = 200
_STARTS, _ENOUGH = 4, 330
"""At most so many starts, and so many steps for each need before there is one more."""
_APART = 7_919_317
"""How far the seeds of two starts lie apart."""
_TRIES = 40
_LAST_RESORT = 2_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How much is tried: so many steps of the search, drawn by chance from a seed."""

    seed: int = 1
    iterations: int = 390_000


def make_plan(
    problem: Problem, effort: Effort, step: Callable[[int], None] = lambda done: None
) -> Plan:
    """Plan all needs of an order; what found no place is `unplaced`. Confirmed trips stand.

    step is told how many more steps are done.
    """
    if _is_empty(problem):
        return Plan((), tuple(need.name for need in problem.order.needs))
    return _searched(problem, problem.lock.confirmed, effort, step)


def plan_order(order: Order, lock: Lock, effort: Effort) -> Plan:
    """As `make_plan`, from values that another process can be given."""
    return make_plan(Problem(order, lock), effort)


def replan(
    problem: Problem,
    before: Plan,
    effort: Effort,
    step: Callable[[int], None] = lambda done: None,
) -> Plan:
    """Plan anew after a change, with as little change as its price allows (`Lock`).

    Trips of before stand where they still can be, without the needs that cannot be served in them
    any more; those, and new ones, are put where they cost least. With steps in the effort, and
    where a need found no place, the plan is then improved, announced days kept at their price.
    """
    if _is_empty(problem):
        return Plan((), tuple(need.name for need in problem.order.needs))
    standing = tuple(_still(problem, before.trips))
    mended = _mended(problem, standing, effort)
    steps = effort.iterations or (_LAST_RESORT if _misses(problem, mended) else 0)
    if not steps:
        return mended
    return _searched(problem, mended.trips, Effort(seed=effort.seed, iterations=steps), step)


def versions() -> Mapping[str, str]:
    """What a plan depends on beside its inputs, by name."""
    found = {"python": platform.python_version(), "numpy": np.__version__}
    if IS_COMPILED:
        import numba

        found["numba"] = numba.__version__
    found["highs"] = version("highspy")
    return found


def _is_empty(problem: Problem) -> bool:
    order = problem.order
    return not (order.needs and order.technicians and problem.days)


def _misses(problem: Problem, plan: Plan) -> bool:
    """Say whether a need is left out that has an open day."""
    is_open = problem.arrays.is_open
    return any(is_open[problem.need_index[name]].any() for name in plan.unplaced)


def _searched(
    problem: Problem, trips: Iterable[Trip], effort: Effort, step: Callable[[int], None]
) -> Plan:
    """The best of some starts, put together anew from all trips that they met, and polished."""
    given, steps = tuple(trips), effort.iterations
    starts = min(_STARTS, steps // (_ENOUGH * len(problem.order.needs)))
    if starts < 2:
        begin = new_state(problem, given, problem.lock.confirmed)
        return plan_of(problem, _annealed(problem, begin, effort.seed, (0, steps, steps), step))
    each = 4 * steps // (4 * starts + 1)
    pool = Pool(problem)
    found = []
    for start in range(starts):
        begin = new_state(problem, given, problem.lock.confirmed)
        seed = effort.seed + start * _APART
        found.append(_annealed(problem, begin, seed, (0, each, each), step, pool))
    chosen = [*problem.lock.confirmed, *pool.cheapest(ABSENT_CENTS)]
    found.append(new_state(problem, chosen, problem.lock.confirmed))
    best = min(found, key=total_cents)
    left = steps - starts * each
    last = _annealed(problem, best, effort.seed, (each - left, each, each), step)
    return plan_of(problem, last)


def _annealed(
    problem: Problem,
    state: State,
    seed: int,
    steps: tuple[int, int, int],
    step: Callable[[int], None],
    pool: Pool | None = None,
) -> State:
    """The best state met from one on. steps: from the first to before the last, of so many.

    Of the later half of the steps the pool takes what it meets.
    """
    arrays, best = problem.arrays, deepcopy(state)
    room, chance, way = new_room(arrays, state), stream(seed), mean_way(arrays)
    first, last, whole = steps
    for begin in range(first, last, _CHUNK):
        end = min(begin + _CHUNK, last)
        anneal(arrays, state, best, room, chance, way, begin, end, whole)
        step(end - begin)
        if pool is not None and 2 * end > whole:
            pool.add(state)
            pool.add(best)
    return best


def _mended(problem: Problem, trips: tuple[Trip, ...], effort: Effort) -> Plan:
    state = new_state(problem, trips, problem.lock.confirmed)
    best = deepcopy(state)
    room = new_room(problem.arrays, state)
    mend(problem.arrays, state, best, room, stream(effort.seed), _TRIES)
    return plan_of(problem, best)


def _still(problem: Problem, trips: Iterable[Trip]) -> Iterable[Trip]:
    """What is left of trips: without needs that are gone or cannot be served in them any more."""
    confirmed = set(problem.lock.confirmed)
    yield from problem.lock.confirmed
    taken = set(chain.from_iterable(trip.needs for trip in confirmed))
    for trip in trips:
        if trip in confirmed:
            continue
        known = tuple(n for n in trip.needs if n in problem.need_index and n not in taken)
        left = _servable(problem, Trip(trip.technician, trip.start_on, known))
        if left.needs:
            taken.update(left.needs)
            yield left


def _servable(problem: Problem, trip: Trip) -> Trip:
    """The trip without the fewest needs, the earliest of them, that keep it from being."""
    if trip.technician not in problem.technician_index or trip.start_on not in problem.day_index:
        return Trip(trip.technician, trip.start_on, ())
    while trip.needs and not can_be(problem, trip):
        shorter = [_without(trip, turn) for turn in range(len(trip.needs))]
        trip = next((one for one in shorter if can_be(problem, one)), shorter[-1])
    return trip


def _without(trip: Trip, turn: int) -> Trip:
    return Trip(trip.technician, trip.start_on, trip.needs[:turn] + trip.needs[turn + 1 :])
