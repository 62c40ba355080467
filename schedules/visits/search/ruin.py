"""What is torn out of a plan, to be put back better?

Strings of needs that follow each other, in trips near to each other (Christiaens and Vanden Berghe,
"Slack induction by string removals for vehicle routing problems", Transportation Science 54(2),
2020); whole trips; whole visits.
"""

from __future__ import annotations

import numpy as np

from schedules.visits.compiled import compiled
from schedules.visits.problem import Arrays, Ints
from schedules.visits.search.chance import Chance, below, share
from schedules.visits.search.state import Saved, State, clear, remove, save, settle

__all__ = ["neighbours", "ruin"]

_NEAR = 200
"""So many neighbours of a need are looked at."""
_STRINGS, _TRIPS = 0.85, 0.95
"""Up to which share of steps strings are torn out, and up to which whole trips; then visits."""


def neighbours(a: Arrays) -> Ints:
    """(N, K) the needs nearest to each in road and time, the need itself first."""
    needs = len(a.site)
    near = np.zeros((needs, min(needs, _NEAR)), dtype=np.int32)
    if not needs or not len(a.week):
        return near
    first = np.argmax(a.is_open, axis=1)
    last = a.is_open.shape[1] - 1 - np.argmax(a.is_open[:, ::-1], axis=1)
    road = (a.leg_minutes + a.leg_minutes.T)[a.site][:, a.site] / 2.0
    apart = np.maximum(
        0, np.maximum(first[:, None] - last[None, :], first[None, :] - last[:, None])
    )
    off_centre = np.abs((first + last)[:, None] - (first + last)[None, :]) / 2.0
    far = road + 60.0 * apart + 2.0 * off_centre
    np.fill_diagonal(far, -1.0)
    near[:] = np.argsort(far, axis=1, kind="stable")[:, : near.shape[1]]
    return near


@compiled
def ruin(
    a: Arrays, s: State, kept: Saved, near: Ints, chance: Chance, mean: float, gone: Ints
) -> int:
    """Tear out about `mean` needs around one drawn by chance; how many, listed in `gone`."""
    seed = below(chance, len(a.site))
    kind = share(chance)
    if kind < _STRINGS:
        return _strings(a, s, kept, near[seed], chance, mean, gone)
    if kind < _TRIPS:
        return _trips(a, s, kept, near[seed], chance, 1 + below(chance, 3), 3.0 * mean, gone)
    return _visits(a, s, kept, near[seed], chance, mean, gone)


@compiled
def _tear(
    a: Arrays, s: State, kept: Saved, row: int, first: int, count: int, gone: Ints, torn: int
) -> int:
    """Tear `count` needs out of a trip from a turn on; all of it if the rest cannot be."""
    save(s, kept, row)
    clear(s, row)
    for _ in range(count):
        gone[torn] = s.needs[row, first]
        torn += 1
        remove(s, row, first)
    if not settle(a, s, row):
        while s.counts[row]:
            gone[torn] = s.needs[row, 0]
            torn += 1
            remove(s, row, 0)
        settle(a, s, row)
    return torn


@compiled
def _strings(
    a: Arrays, s: State, kept: Saved, near: Ints, chance: Chance, mean: float, gone: Ints
) -> int:
    longest = 10.0
    most = int(1 + share(chance) * (4.0 * mean / (1.0 + longest)))
    torn = trips = 0
    for place in range(len(near)):
        row = s.row_of[near[place]]
        if trips >= most:
            break
        if row < 0 or s.is_fixed[row] or kept.is_saved[row]:
            continue
        count = s.counts[row]
        size = 1 + below(chance, min(int(longest), count))
        turn = 0
        while s.needs[row, turn] != near[place]:
            turn += 1
        first = max(0, turn - size + 1)
        first += below(chance, min(turn, count - size) - first + 1)
        torn = _tear(a, s, kept, row, first, size, gone, torn)
        trips += 1
    return torn


@compiled
def _trips(
    a: Arrays,
    s: State,
    kept: Saved,
    near: Ints,
    chance: Chance,
    trips: int,
    most: float,
    gone: Ints,
) -> int:
    torn = 0
    for place in range(len(near)):
        row = s.row_of[near[place]]
        if row < 0 or s.is_fixed[row] or kept.is_saved[row]:
            continue
        if torn and torn + s.counts[row] > most:
            break
        torn = _tear(a, s, kept, row, 0, s.counts[row], gone, torn)
        trips -= 1
        if trips == 0:
            break
    return torn


@compiled
def _visits(
    a: Arrays, s: State, kept: Saved, near: Ints, chance: Chance, mean: float, gone: Ints
) -> int:
    """Visits to sites near by: all the needs that follow each other there."""
    torn = 0
    most = 1 + below(chance, int(2 * mean))
    for place in range(len(near)):
        row = s.row_of[near[place]]
        if torn >= most:
            break
        if row < 0 or s.is_fixed[row]:
            continue
        site = a.site[near[place]]
        first = 0
        while a.site[s.needs[row, first]] != site:
            first += 1
        last = first
        while last < s.counts[row] and a.site[s.needs[row, last]] == site:
            last += 1
        torn = _tear(a, s, kept, row, first, last - first, gone, torn)
    return torn
