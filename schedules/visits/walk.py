"""When does a trip reach each of its needs, and when is it home? Compiled where numba is there.

Time on a trip is minutes since the beginning of its first day, days laid end to end: a technician's
day of 480 minutes makes minute 480 the beginning of the second day.
"""

from __future__ import annotations

from schedules.visits.compiled import compiled
from schedules.visits.problem import Arrays, Ints

__all__ = ["CLOSED", "MAY_NOT", "OVER", "end_day", "home_at", "last_day", "serve_at", "trip_cents"]

CLOSED, OVER, MAY_NOT = -1, -2, -3
"""Why a trip cannot be: no open day, too long, not by this technician."""


@compiled
def last_day(a: Arrays, technician: int, start: int) -> int:
    """The last axis day a trip from `start` could reach; start - 1 where it cannot begin at all."""
    day = start
    while (
        day < len(a.week)
        and a.week[day] == a.week[start]
        and a.works[technician, day]
        and a.day_number[day] - a.day_number[start] <= a.max_nights[technician]
    ):
        day += 1
    return day - 1


@compiled
def serve_at(a: Arrays, technician: int, start: int, last: int, at: int, need: int) -> int:
    """When the service of a need begins for one who is at its site at minute `at`; or CLOSED.

    At once if the site is open and the day long enough, else at the beginning of a later day.
    """
    length = a.day_minutes[technician]
    minutes = a.minutes[need]
    if minutes > length:
        return CLOSED
    day = at // length
    if at + minutes > (day + 1) * length:
        day += 1
    while start + day <= last:
        if a.is_open[need, start + day]:
            return int(max(at, day * length))
        day += 1
    return CLOSED


@compiled
def home_at(a: Arrays, technician: int, start: int, needs: Ints, count: int, begins: Ints) -> int:
    """When a trip is home again; `begins` takes when the service of each need begins.

    needs: the first `count` count. CLOSED, OVER or MAY_NOT if the trip cannot be.
    """
    last = last_day(a, technician, start)
    place = a.depot[technician]
    at = 0
    for turn in range(count):
        need = needs[turn]
        if not a.may_serve[technician, need]:
            return MAY_NOT
        at += a.leg_minutes[place, a.site[need]]
        place = a.site[need]
        at = serve_at(a, technician, start, last, at, need)
        if at < 0:
            return CLOSED
        begins[turn] = at
        at += a.minutes[need]
    at += a.leg_minutes[place, a.depot[technician]]
    if at > (last + 1 - start) * a.day_minutes[technician]:
        return OVER
    return int(at)


@compiled
def end_day(a: Arrays, technician: int, start: int, at: int) -> int:
    """The axis day on which one who is home at minute `at` comes home."""
    return int(start + max(0, at - 1) // a.day_minutes[technician])


@compiled
def trip_cents(
    a: Arrays, technician: int, start: int, needs: Ints, count: int, begins: Ints
) -> int:
    """What a trip costs, its needs' lost interval included; negative if the trip cannot be."""
    at = home_at(a, technician, start, needs, count, begins)
    if at < 0:
        return at
    end = end_day(a, technician, start, at)
    cents = a.night_cents * (a.day_number[end] - a.day_number[start])
    place = a.depot[technician]
    for turn in range(count):
        need = needs[turn]
        cents += a.leg_cents[place, a.site[need]]
        place = a.site[need]
        cents += a.day_cents[need, start + begins[turn] // a.day_minutes[technician]]
    return int(cents + a.leg_cents[place, a.depot[technician]])
