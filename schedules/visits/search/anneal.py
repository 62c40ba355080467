"""How long is a plan torn and mended, and which change is kept? Simulated annealing."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from schedules.visits.compiled import compiled
from schedules.visits.problem import Arrays, Cents, Flags, Ints
from schedules.visits.search.chance import Chance, share, surprise
from schedules.visits.search.recreate import recreate, retime
from schedules.visits.search.ruin import neighbours, ruin
from schedules.visits.search.state import Saved, State, forget, new_saved, put_back

__all__ = ["ABSENT_CENTS", "Room", "anneal", "mean_way", "mend", "new_room", "total_cents"]

_WARM, _COLD = 0.5, 0.017
"""The temperature at the beginning and the end, in mean ways there and back (`mean_way`)."""
_MEAN = 10.0
"""So many needs are torn out in the mean, where strings are."""
_RETIMED = 0.25
"""In this share of the steps the changed trips are given their best day."""
ABSENT_CENTS = 10_000_000
"""What a need without a place counts for in the search: more than any trip."""


class Room(NamedTuple):
    """What a search works with beside its state; N needs."""

    kept: Saved
    near: Ints
    """(N, K) neighbours."""
    span: Ints
    """(N, 2) first and last open day; 0 and -1 where there is none."""
    gone: Ints
    """(N,) needs torn out."""
    begins: Ints
    """(N,) when services begin."""
    seen: Cents
    """(R + 1,) the turn in which each row was last looked at, and the last turn."""
    absent: Ints
    """(N,) needs without a place that may yet have one, as many as `absents[0]`."""
    absents: Ints
    tally: Cents
    """The cost reached and the lowest met, in cents."""
    is_other: Flags
    """(R,) whether a row is not as in the best state met."""


def new_room(a: Arrays, state: State) -> Room:
    """Room for a search from a state."""
    needs = len(a.site)
    can_be = a.is_open.any(axis=1)
    span = np.zeros((needs, 2), dtype=np.int32)
    span[:, 1] = -1
    span[can_be, 0] = a.is_open[can_be].argmax(axis=1)
    span[can_be, 1] = a.is_open.shape[1] - 1 - a.is_open[can_be, ::-1].argmax(axis=1)
    out = np.flatnonzero((state.row_of < 0) & can_be)
    absent = np.zeros(needs + 1, dtype=np.int32)
    absent[: len(out)] = out
    return Room(
        kept=new_saved(state),
        near=neighbours(a),
        span=span,
        gone=np.zeros(needs + 1, dtype=np.int32),
        begins=np.zeros(needs + 1, dtype=np.int32),
        seen=np.zeros(len(state.counts) + 1, dtype=np.int64),
        absent=absent,
        absents=np.array([len(out)], dtype=np.int32),
        tally=np.full(2, total_cents(state), dtype=np.int64),
        is_other=np.zeros(len(state.counts), dtype=np.bool_),
    )


@compiled
def total_cents(s: State) -> int:
    """What a state costs, absent needs included."""
    cents = 0
    for row in range(len(s.counts)):
        if s.counts[row]:
            cents += s.cents[row]
    for need in range(len(s.row_of)):
        if s.row_of[need] < 0:
            cents += ABSENT_CENTS
    return cents


def mean_way(a: Arrays) -> float:
    """What it costs in the mean to drive to a need and back, in cents; 1 at least.

    A measure of what a change may cost that is the same whatever currency and country.
    """
    there_and_back = a.leg_cents[a.depot][:, a.site] + a.leg_cents[a.site][:, a.depot].T
    return max(1.0, float(there_and_back.mean()))


@compiled
def anneal(
    a: Arrays,
    s: State,
    best: State,
    room: Room,
    chance: Chance,
    way: float,
    first: int,
    last: int,
    all_: int,
) -> None:
    """Do the steps from `first` to before `last` of a search of so many; `best` is kept.

    way: as `mean_way` says. The cost reached and the lowest met are room.tally; both must be set
    before the first step.
    """
    kept, gone, tally = room.kept, room.gone, room.tally
    for step in range(first, last):
        heat = way * _WARM * math.pow(_COLD / _WARM, step / all_)
        forget(kept)
        torn = ruin(a, s, kept, room.near, chance, _MEAN, gone)
        missing_before = room.absents[0]
        for place in range(missing_before):
            gone[torn + place] = room.absent[place]
        torn += missing_before
        if torn == 0:
            continue
        missing = recreate(a, s, kept, chance, gone, torn, room.span, room.near, room.seen)
        if share(chance) < _RETIMED:
            for place in range(kept.saves[0]):
                retime(a, s, kept, kept.rows[place], room.span, room.begins)
        change = ABSENT_CENTS * (missing - missing_before) + changed_cents(s, kept)
        if change < heat * surprise(chance):
            tally[0] += change
            room.absents[0] = missing
            room.absent[:missing] = gone[:missing]
            for place in range(kept.saves[0]):
                room.is_other[kept.rows[place]] = True
            if tally[0] < tally[1]:
                tally[1] = tally[0]
                _copy_to(s, best, room.is_other)
        else:
            put_back(s, kept)


@compiled
def changed_cents(s: State, kept: Saved) -> int:
    """How much dearer the saved rows have become."""
    cents = 0
    for place in range(kept.saves[0]):
        row = kept.rows[place]
        if kept.counts[row]:
            cents -= kept.cents[row]
        if s.counts[row]:
            cents += s.cents[row]
    return cents


@compiled
def mend(a: Arrays, s: State, best: State, room: Room, chance: Chance, tries: int) -> None:
    """Put what is absent back, trips left as they are; `best` takes the cheapest of the tries."""
    kept, gone = room.kept, room.gone
    count = room.absents[0]
    room.tally[1] = ABSENT_CENTS * (len(s.row_of) + 1)
    for _ in range(tries):
        forget(kept)
        gone[:count] = room.absent[:count]
        missing = recreate(a, s, kept, chance, gone, count, room.span, room.near, room.seen)
        cents = ABSENT_CENTS * missing + changed_cents(s, kept)
        if cents < room.tally[1]:
            room.tally[1] = cents
            for place in range(kept.saves[0]):
                room.is_other[kept.rows[place]] = True
            _copy_to(s, best, room.is_other)
            for place in range(kept.saves[0]):
                room.is_other[kept.rows[place]] = True
        put_back(s, kept)


@compiled
def _copy_to(s: State, to: State, is_other: Flags) -> None:
    """Make another state the same, whose other rows are marked; then none is."""
    for row in np.flatnonzero(is_other):
        to.needs[row] = s.needs[row]
        to.counts[row] = s.counts[row]
        to.begins[row] = s.begins[row]
        to.technician[row] = s.technician[row]
        to.start[row] = s.start[row]
        to.end[row] = s.end[row]
        to.work[row] = s.work[row]
        to.cents[row] = s.cents[row]
    to.row_of[:] = s.row_of
    to.busy[:] = s.busy
    is_other[:] = False
