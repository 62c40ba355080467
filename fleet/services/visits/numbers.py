"""Which visit of a plan is which? Numbers of plans and visits, and the present names of needs.

A visit's number is its own for life: in a plan that follows, the visit of the same site that has
most of its needs bears it.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from fleet.domain.numbers import present_numbers
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit
from schedules.visits.difference import Stop, paired

__all__ = [
    "matched",
    "next_numbers",
    "present_names",
    "same_visits",
    "stop_of",
    "unit_and_task",
]

_NEAR_DAYS = 45
"""Two names of one duty that lie no further apart are one need whose due date has changed."""
_DIGITS = 4


def next_numbers(letter: str, taken: Iterable[tuple[str, ...]], count: int) -> list[str]:
    """The next numbers, as 'V-0013'; taken: the keys of all that there ever were."""
    known = [int(key[0].removeprefix(f"{letter}-")) for key in taken]
    first = max(known, default=0) + 1
    return [f"{letter}-{number:0{_DIGITS}}" for number in range(first, first + count)]


def unit_and_task(need: str) -> tuple[str, str]:
    """The property number and the task in a need's name."""
    unit, task, _ = need.rsplit("/", 2)
    return unit, task


def present_names(register: Register, names: Iterable[str]) -> list[str]:
    """Names of needs with the numbers their units bear now."""
    numbers = present_numbers(register.renumberings.values())
    return [_under(name, numbers) for name in names]


def _under(name: str, numbers: Mapping[str, str]) -> str:
    unit, _, rest = name.rpartition("/")[0].rpartition("/")
    if unit not in numbers:
        return name
    return f"{numbers[unit]}/{rest}/{_due(name)}"


def _due(name: str) -> dt.date:
    return dt.date.fromisoformat(name.rsplit("/", 1)[1])


def matched(old: Iterable[str], new: Iterable[str]) -> dict[str, str]:
    """The new names of needs that are the same still; a due date may have moved with a closure.

    The same name first; then, for a unit and task, the nearest that is nobody else's.
    """
    there = set(new)
    names = list(dict.fromkeys(old))
    found = {name: name for name in names if name in there}
    free: dict[tuple[str, str], list[str]] = defaultdict(list)
    for name in sorted(there - found.keys()):
        free[unit_and_task(name)].append(name)
    for name in sorted((n for n in names if n not in found), key=lambda name: (_due(name), name)):
        near = [
            (abs((_due(other) - _due(name)).days), other)
            for other in free.get(unit_and_task(name), ())
        ]
        if near and min(near)[0] <= _NEAR_DAYS:
            found[name] = min(near)[1]
            free[unit_and_task(name)].remove(found[name])
    return found


def stop_of(visit: SiteVisit, names: Sequence[str]) -> Stop:
    """A kept visit as it is compared; names: the present names of its needs."""
    return Stop(site=visit.site, technician=visit.technician, on=visit.on, needs=tuple(names))


def same_visits(
    before: Sequence[tuple[SiteVisit, Stop]], after: Sequence[Stop]
) -> dict[Stop, SiteVisit]:
    """The kept visit that each stop of a new plan is; none for one that is new."""
    visits = {stop: visit for visit, stop in before}
    return {now: visits[was] for was, now in paired([stop for _, stop in before], after)}
