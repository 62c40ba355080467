"""How are needs put back? One by one, each where it costs least, with a blink now and then."""

from __future__ import annotations

import numpy as np

from schedules.visits.compiled import compiled
from schedules.visits.problem import Arrays, Cents, Ints
from schedules.visits.search.chance import Chance, below, share
from schedules.visits.search.place import NOWHERE, best_turn, first_day_for, lone_cents
from schedules.visits.search.state import Saved, State, clear, insert, is_taken, save, settle
from schedules.visits.walk import trip_cents

__all__ = ["recreate", "retime"]

_BLINK = 0.01
"""So often a trip is passed over."""
_NEAREST = 30
"""The trips of so many neighbours are looked at first, since a good place rules others out."""


@compiled
def _sort_by_chance(a: Arrays, chance: Chance, gone: Ints, count: int, span: Ints) -> None:
    """Put the first `count` of `gone` in an order: by chance, road, minutes, days or time."""
    keys = np.empty(count)
    kind = below(chance, 7)
    for place in range(count):
        need = gone[place]
        if kind <= 1:
            keys[place] = share(chance)
        elif kind == 2:
            keys[place] = -a.leg_minutes[a.depot[0], a.site[need]]
        elif kind == 3:
            keys[place] = a.leg_minutes[a.depot[0], a.site[need]]
        elif kind == 4:
            keys[place] = -a.minutes[need]
        elif kind == 5:
            keys[place] = a.is_open[need].sum()
        else:
            keys[place] = span[need, 0]
        keys[place] += 1e-6 * share(chance)
    order = np.argsort(keys)
    gone[:count] = gone[:count][order]


@compiled
def recreate(
    a: Arrays,
    s: State,
    kept: Saved,
    chance: Chance,
    gone: Ints,
    count: int,
    span: Ints,
    near: Ints,
    seen: Cents,
) -> int:
    """Put the first `count` needs of `gone` back; how many found no place, then first in `gone`.

    span: (N, 2) first and last open day of each need; near: (N, K) neighbours; seen: (R + 1,) the
    turn in which a row was last looked at, and the last turn.
    """
    _sort_by_chance(a, chance, gone, count, span)
    absent = 0
    for place in range(count):
        need = gone[place]
        if not _put(a, s, kept, chance, need, span, near[need], seen):
            gone[absent] = need
            absent += 1
    return absent


@compiled
def _put(
    a: Arrays,
    s: State,
    kept: Saved,
    chance: Chance,
    need: int,
    span: Ints,
    near: Ints,
    seen: Cents,
) -> bool:
    """Put a need where it costs least, in a trip there is or one of its own."""
    best, row, turn = _cheapest(a, s, chance, need, span, near, seen)
    alone, technician, start = _alone(a, s, chance, need, span, best)
    if alone < best:
        row, turn = 0, 0
        while row < len(s.counts) and s.counts[row]:
            row += 1
        if row == len(s.counts):
            return False
        save(s, kept, row)
        s.technician[row], s.start[row] = technician, start
    elif row < 0:
        return False
    else:
        save(s, kept, row)
        clear(s, row)
    insert(s, row, turn, need)
    return settle(a, s, row)


@compiled
def _cheapest(
    a: Arrays, s: State, chance: Chance, need: int, span: Ints, near: Ints, seen: Cents
) -> tuple[int, int, int]:
    """The cost of the best place in a trip there is, its row and turn; near trips first."""
    best, best_row, turn = NOWHERE, -1, -1
    seen[-1] += 1
    for place in range(min(_NEAREST, len(near))):
        row = s.row_of[near[place]]
        if _is_asked(s, chance, row, seen):
            added, found = best_turn(a, s, row, need, best)
            if found >= 0:
                best, best_row, turn = added, row, found
    for technician in range(len(a.depot)):
        if a.may_serve[technician, need]:
            for day in range(span[need, 0], span[need, 1] + 1):
                row = s.busy[technician, day]
                if _is_asked(s, chance, row, seen):
                    added, found = best_turn(a, s, row, need, best)
                    if found >= 0:
                        best, best_row, turn = added, row, found
    return best, best_row, turn


@compiled
def _is_asked(s: State, chance: Chance, row: int, seen: Cents) -> bool:
    """Say whether a row is looked at: the first time, if it may change, but for a blink."""
    if row < 0 or seen[row] == seen[-1]:
        return False
    seen[row] = seen[-1]
    return not s.is_fixed[row] and share(chance) >= _BLINK


@compiled
def _alone(
    a: Arrays, s: State, chance: Chance, need: int, span: Ints, most: int
) -> tuple[int, int, int]:
    """A trip for the need alone: its cost, technician and first day, of some drawn by chance.

    Where its roads alone cost as much as `most`, none is looked for.
    """
    one = np.zeros(1, dtype=np.int32)
    begun = np.zeros(1, dtype=np.int32)
    best, best_technician, best_start = NOWHERE, -1, -1
    days = span[need, 1] - span[need, 0] + 1
    if days <= 0:
        return NOWHERE, -1, -1
    some = 1 + below(chance, 6)
    for technician in range(len(a.depot)):
        depot, site = a.depot[technician], a.site[need]
        roads = a.leg_cents[depot, site] + a.leg_cents[site, depot]
        if roads >= most or not a.may_serve[technician, need]:
            continue
        begin = below(chance, days)
        tried = 0
        for step in range(days):
            day = span[need, 0] + (begin + step) % days
            if not a.is_open[need, day]:
                continue
            start = first_day_for(a, technician, need, day)
            cents = lone_cents(a, s, technician, start, need, one, begun)
            if cents < NOWHERE:
                tried += 1
                if cents < best:
                    best, best_technician, best_start = cents, technician, start
                if tried >= some:
                    break
    return best, best_technician, best_start


@compiled
def retime(a: Arrays, s: State, kept: Saved, row: int, span: Ints, begins: Ints) -> None:
    """Give a trip the start and technician that cost least. begins: room for a trip's times."""
    count = s.counts[row]
    if count == 0 or s.is_fixed[row]:
        return
    low, high = 0, len(a.week) - 1
    for turn in range(count):
        low = max(low, span[s.needs[row, turn], 0])
        high = min(high, span[s.needs[row, turn], 1])
    first, last = max(0, min(low, high) - 5), min(len(a.week) - 1, max(low, high))
    best, best_technician, best_start = s.cents[row], s.technician[row], s.start[row]
    for technician in range(len(a.depot)):
        for start in range(first, last + 1):
            if is_taken(s, technician, start, row):
                continue
            cents = trip_cents(a, technician, start, s.needs[row], count, begins)
            if 0 <= cents < best and _is_free(a, s, row, technician, start, count, begins):
                best, best_technician, best_start = cents, technician, start
    if best < s.cents[row]:
        save(s, kept, row)
        clear(s, row)
        s.technician[row], s.start[row] = best_technician, best_start
        settle(a, s, row)


@compiled
def _is_free(
    a: Arrays, s: State, row: int, technician: int, start: int, count: int, begins: Ints
) -> bool:
    """Say whether the days of a trip, whose services begin so, are the row's to take."""
    need = s.needs[row, count - 1]
    home = begins[count - 1] + a.minutes[need] + a.leg_minutes[a.site[need], a.depot[technician]]
    end = start + max(0, home - 1) // a.day_minutes[technician]
    day = start
    while day <= end and not is_taken(s, technician, day, row):
        day += 1
    return bool(day > end)
