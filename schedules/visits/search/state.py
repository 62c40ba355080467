"""Where does a search stand? Trips as rows of arrays, changed in place and put back on refusal."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

import numpy as np

from schedules.visits.compiled import compiled
from schedules.visits.model import Plan, Trip
from schedules.visits.problem import Arrays, Cents, Flags, Ints, Problem
from schedules.visits.walk import end_day, trip_cents

__all__ = [
    "Saved",
    "State",
    "clear",
    "insert",
    "is_taken",
    "new_saved",
    "new_state",
    "plan_of",
    "put_back",
    "remove",
    "save",
    "settle",
]


class State(NamedTuple):
    """R rows of at most L needs; one without needs is free. N needs, T technicians, A axis days."""

    needs: Ints
    """(R, L) in the order they are served."""
    counts: Ints
    """(R,)"""
    begins: Ints
    """(R, L) when each service begins, in minutes since the trip began."""
    technician: Ints
    """(R,)"""
    start: Ints
    """(R,) the first axis day."""
    end: Ints
    """(R,) the last axis day."""
    work: Ints
    """(R,) minutes of driving and service."""
    cents: Cents
    """(R,)"""
    is_fixed: Flags
    """(R,) whether the trip stands as it is."""
    row_of: Ints
    """(N,) the row a need is in, or -1."""
    busy: Ints
    """(T, A) the row a technician's day belongs to, or -1."""
    turned: Ints
    """(R,) how often the row has changed."""
    detour: Cents
    """(R, S) the least that a stop at a site adds to a row's legs, as it was when last asked."""
    asked: Ints
    """(R, S) how often the row had changed then; -1: never asked."""


class Saved(NamedTuple):
    """Rows as they were before a step; the first `saves[0]` of `rows` are saved."""

    rows: Ints
    is_saved: Flags
    saves: Ints
    needs: Ints
    counts: Ints
    begins: Ints
    technician: Ints
    start: Ints
    end: Ints
    work: Ints
    cents: Cents


def most_needs(a: Arrays) -> int:
    """How many needs a trip can hold."""
    if not len(a.site) or not len(a.day_minutes):
        return 1
    week = int(np.bincount(a.week).max()) if len(a.week) else 1
    least = max(1, int(a.minutes.min()))
    return min(len(a.site), week * int(a.day_minutes.max()) // least) + 1


def new_state(problem: Problem, trips: Iterable[Trip], fixed: Iterable[Trip]) -> State:
    """The state of a plan's trips, fixed ones among them; ValueError for a trip that cannot be."""
    a = problem.arrays
    stands = set(fixed)
    given = sorted({*trips, *stands}, key=lambda trip: (trip.start_on, trip.technician))
    rows = max(len(given) + 8, min(len(a.site), int(a.works.sum()))) + 1
    state = _empty(rows, most_needs(a), len(a.site), len(a.leg_cents), a.works.shape)
    for row, trip in enumerate(given):
        technician, start, needs = problem.numbered(trip)
        state.needs[row, : len(needs)] = needs
        state.counts[row] = len(needs)
        state.technician[row], state.start[row] = technician, start
        state.is_fixed[row] = trip in stands
        if not settle(a, state, row):
            raise ValueError(f"{trip.technician} cannot make the trip of {trip.start_on}")
    return state


def _empty(rows: int, most: int, needs: int, places: int, days: tuple[int, ...]) -> State:
    return State(
        needs=np.full((rows, most), -1, dtype=np.int32),
        counts=np.zeros(rows, dtype=np.int32),
        begins=np.zeros((rows, most), dtype=np.int32),
        technician=np.zeros(rows, dtype=np.int32),
        start=np.zeros(rows, dtype=np.int32),
        end=np.zeros(rows, dtype=np.int32),
        work=np.zeros(rows, dtype=np.int32),
        cents=np.zeros(rows, dtype=np.int64),
        is_fixed=np.zeros(rows, dtype=np.bool_),
        row_of=np.full(needs, -1, dtype=np.int32),
        busy=np.full(days, -1, dtype=np.int32),
        turned=np.zeros(rows, dtype=np.int32),
        detour=np.zeros((rows, places), dtype=np.int64),
        asked=np.full((rows, places), -1, dtype=np.int32),
    )


def new_saved(state: State) -> Saved:
    """Room to save every row."""
    rows = len(state.counts)
    return Saved(
        rows=np.zeros(rows, dtype=np.int32),
        is_saved=np.zeros(rows, dtype=np.bool_),
        saves=np.zeros(1, dtype=np.int32),
        needs=state.needs.copy(),
        counts=state.counts.copy(),
        begins=state.begins.copy(),
        technician=state.technician.copy(),
        start=state.start.copy(),
        end=state.end.copy(),
        work=state.work.copy(),
        cents=state.cents.copy(),
    )


def plan_of(problem: Problem, state: State) -> Plan:
    """The plan a state stands for."""
    order = problem.order
    trips = [
        Trip(
            order.technicians[state.technician[row]].technician,
            problem.days[state.start[row]],
            tuple(order.needs[n].name for n in state.needs[row, : state.counts[row]]),
        )
        for row in np.flatnonzero(state.counts)
    ]
    trips.sort(key=lambda trip: (trip.start_on, trip.technician))
    absent = np.flatnonzero(state.row_of < 0)
    return Plan(tuple(trips), tuple(order.needs[need].name for need in absent))


@compiled
def is_taken(s: State, technician: int, day: int, row: int) -> bool:
    """Say whether a technician's day belongs to another row."""
    holder = s.busy[technician, day]
    return bool(holder >= 0 and holder != row)


@compiled
def settle(a: Arrays, s: State, row: int) -> bool:
    """Bring a row's times, cost and days up to its needs; False, and no days, if it cannot be."""
    s.turned[row] += 1
    if s.counts[row] == 0:
        s.cents[row] = 0
        return True
    technician, start, count = s.technician[row], s.start[row], s.counts[row]
    cents = trip_cents(a, technician, start, s.needs[row], count, s.begins[row])
    if cents < 0:
        return False
    last = s.needs[row, count - 1]
    at = s.begins[row, count - 1] + a.minutes[last]
    end = end_day(a, technician, start, at + a.leg_minutes[a.site[last], a.depot[technician]])
    for day in range(start, end + 1):
        if is_taken(s, technician, day, row):
            return False
    for day in range(start, end + 1):
        s.busy[technician, day] = row
    s.cents[row], s.end[row] = cents, end
    s.work[row] = a.leg_minutes[a.site[last], a.depot[technician]]
    place = a.depot[technician]
    for turn in range(count):
        need = s.needs[row, turn]
        s.row_of[need] = row
        s.work[row] += a.leg_minutes[place, a.site[need]] + a.minutes[need]
        place = a.site[need]
    return True


@compiled
def clear(s: State, row: int) -> None:
    """Give a row's days back, before it changes."""
    if s.counts[row]:
        technician = s.technician[row]
        for day in range(s.start[row], s.end[row] + 1):
            s.busy[technician, day] = -1


@compiled
def insert(s: State, row: int, turn: int, need: int) -> None:
    """Put a need into a row's list; times and cost are to be settled."""
    for later in range(s.counts[row], turn, -1):
        s.needs[row, later] = s.needs[row, later - 1]
    s.needs[row, turn] = need
    s.counts[row] += 1
    s.row_of[need] = row


@compiled
def remove(s: State, row: int, turn: int) -> None:
    """Take a need out of a row's list; times and cost are to be settled."""
    s.row_of[s.needs[row, turn]] = -1
    for later in range(turn, s.counts[row] - 1):
        s.needs[row, later] = s.needs[row, later + 1]
    s.counts[row] -= 1


@compiled
def save(s: State, kept: Saved, row: int) -> None:
    """Keep a row as it is, once a step."""
    if kept.is_saved[row]:
        return
    count = s.counts[row]
    kept.is_saved[row] = True
    kept.rows[kept.saves[0]] = row
    kept.saves[0] += 1
    kept.counts[row] = count
    kept.needs[row, :count] = s.needs[row, :count]
    kept.begins[row, :count] = s.begins[row, :count]
    kept.technician[row], kept.start[row] = s.technician[row], s.start[row]
    kept.end[row], kept.work[row], kept.cents[row] = s.end[row], s.work[row], s.cents[row]


@compiled
def put_back(s: State, kept: Saved) -> None:
    """Undo a step: every row as it was saved."""
    for place in range(kept.saves[0]):
        row = kept.rows[place]
        clear(s, row)
        for turn in range(s.counts[row]):
            s.row_of[s.needs[row, turn]] = -1
    for place in range(kept.saves[0]):
        row = kept.rows[place]
        count = kept.counts[row]
        s.turned[row] += 1
        s.counts[row] = count
        s.needs[row, :count] = kept.needs[row, :count]
        s.begins[row, :count] = kept.begins[row, :count]
        s.technician[row], s.start[row] = kept.technician[row], kept.start[row]
        s.end[row], s.work[row], s.cents[row] = kept.end[row], kept.work[row], kept.cents[row]
        for turn in range(count):
            s.row_of[s.needs[row, turn]] = row
        if count:
            for day in range(s.start[row], s.end[row] + 1):
                s.busy[s.technician[row], day] = row


@compiled
def forget(kept: Saved) -> None:
    """Begin a new step."""
    for place in range(kept.saves[0]):
        kept.is_saved[kept.rows[place]] = False
    kept.saves[0] = 0
