"""Where does a need fit, and for how much more? Every place of a trip, and a trip of its own."""

from __future__ import annotations

from schedules.visits.compiled import compiled
from schedules.visits.problem import Arrays, Ints
from schedules.visits.search.state import State, is_taken
from schedules.visits.walk import end_day, last_day, serve_at, trip_cents

__all__ = ["NOWHERE", "added_cents", "best_turn", "detour_cents", "first_day_for", "lone_cents"]

NOWHERE = 2**60
"""The price of what cannot be."""


@compiled
def best_turn(a: Arrays, s: State, row: int, need: int, most: int) -> tuple[int, int]:
    """The cheapest turn for a need in a trip and what it adds, where that is less than `most`.

    NOWHERE and -1 where there is none.
    """
    technician, site = s.technician[row], a.site[need]
    count = s.counts[row]
    best, found = most, -1
    if detour_cents(a, s, row, site) >= best:
        return NOWHERE, -1
    if not a.may_serve[technician, need] or count + 1 >= s.needs.shape[1]:
        return NOWHERE, -1
    last = _reach(a, s, row)
    least = _least_cents(a, need, s.start[row], last)
    if least >= best:
        return NOWHERE, -1
    spare = (last + 1 - s.start[row]) * a.day_minutes[technician] - s.work[row] - a.minutes[need]
    before = a.depot[technician]
    for turn in range(count + 1):
        after = a.site[s.needs[row, turn]] if turn < count else a.depot[technician]
        if before != after or before == site:
            leg = a.leg_cents[before, site] + a.leg_cents[site, after] - a.leg_cents[before, after]
            if leg + least < best:
                road = a.leg_minutes[before, site] + a.leg_minutes[site, after]
                if road - a.leg_minutes[before, after] <= spare:
                    added = added_cents(a, s, row, turn, need, last, leg)
                    if added < best:
                        best, found = added, turn
        before = after
    if found < 0:
        return NOWHERE, -1
    return best, found


@compiled
def detour_cents(a: Arrays, s: State, row: int, site: int) -> int:
    """The least that a stop at a site adds to a trip's legs, wherever it is made."""
    if s.asked[row, site] == s.turned[row]:
        return int(s.detour[row, site])
    depot, least = a.depot[s.technician[row]], NOWHERE
    before = depot
    for turn in range(s.counts[row] + 1):
        after = a.site[s.needs[row, turn]] if turn < s.counts[row] else depot
        if before != after or before == site:
            leg = a.leg_cents[before, site] + a.leg_cents[site, after] - a.leg_cents[before, after]
            least = min(least, leg)
        before = after
    s.asked[row, site], s.detour[row, site] = s.turned[row], least
    return int(least)


@compiled
def _reach(a: Arrays, s: State, row: int) -> int:
    """The last day a trip may take, others' days left alone."""
    technician, start = s.technician[row], s.start[row]
    last = last_day(a, technician, start)
    for day in range(s.end[row] + 1, last + 1):
        if is_taken(s, technician, day, row):
            return day - 1
    return last


@compiled
def _least_cents(a: Arrays, need: int, start: int, last: int) -> int:
    """The least it costs to serve a need on the days of a trip; NOWHERE if it is never open."""
    least = NOWHERE
    for day in range(start, last + 1):
        if a.is_open[need, day] and a.day_cents[need, day] < least:
            least = a.day_cents[need, day]
    return least


@compiled
def added_cents(a: Arrays, s: State, row: int, turn: int, need: int, last: int, leg: int) -> int:
    """What a need at a turn adds to a trip, whose legs become `leg` dearer; or NOWHERE."""
    technician, start = s.technician[row], s.start[row]
    length, count = a.day_minutes[technician], s.counts[row]
    place, at = a.depot[technician], 0
    if turn:
        before = s.needs[row, turn - 1]
        place, at = a.site[before], s.begins[row, turn - 1] + a.minutes[before]
    at += a.leg_minutes[place, a.site[need]]
    at = serve_at(a, technician, start, last, at, need)
    if at < 0:
        return NOWHERE
    added = leg + a.day_cents[need, start + at // length]
    at += a.minutes[need]
    place = a.site[need]
    for later in range(turn, count):
        other = s.needs[row, later]
        at += a.leg_minutes[place, a.site[other]]
        at = serve_at(a, technician, start, last, at, other)
        if at < 0:
            return NOWHERE
        begun = s.begins[row, later]
        if at == begun:
            return int(added)
        added += a.day_cents[other, start + at // length]
        added -= a.day_cents[other, start + begun // length]
        at += a.minutes[other]
        place = a.site[other]
    at += a.leg_minutes[place, a.depot[technician]]
    if at > (last + 1 - start) * length:
        return NOWHERE
    end = end_day(a, technician, start, at)
    return int(added + a.night_cents * (a.day_number[end] - a.day_number[s.end[row]]))


@compiled
def first_day_for(a: Arrays, technician: int, need: int, day: int) -> int:
    """The day on which a trip must start to serve a need on a day, straight from the depot."""
    length = a.day_minutes[technician]
    road = a.leg_minutes[a.depot[technician], a.site[need]]
    return int(day - (road + a.minutes[need] - 1) // length)


@compiled
def lone_cents(
    a: Arrays, s: State, technician: int, start: int, need: int, one: Ints, begun: Ints
) -> int:
    """What a trip for one need costs that starts on a day; or NOWHERE. one, begun: room for one."""
    if start < 0 or not a.may_serve[technician, need] or s.busy[technician, start] >= 0:
        return NOWHERE
    one[0] = need
    cents = trip_cents(a, technician, start, one, 1, begun)
    if cents < 0:
        return NOWHERE
    home = begun[0] + a.minutes[need] + a.leg_minutes[a.site[need], a.depot[technician]]
    for day in range(start + 1, end_day(a, technician, start, home) + 1):
        if s.busy[technician, day] >= 0:
            return NOWHERE
    return cents
