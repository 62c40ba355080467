"""Which visit does each site await? The first that it may be told of: announced or confirmed."""

from __future__ import annotations

import datetime as dt

from fleet.domain.numbers import present_numbers
from fleet.domain.register import Register
from fleet.domain.visits import VisitState
from notifications.facts import Visit
from schedules.visits.model import Grade

__all__ = ["next_visits"]


def next_visits(register: Register, on: dt.date) -> dict[str, Visit]:
    """The next visit of each site that has one, from a day on; free ones may still move."""
    numbers = present_numbers(register.renumberings.values())
    found: dict[str, Visit] = {}
    for visit in sorted(register.visits.values(), key=lambda one: (one.on, one.number)):
        is_told = visit.state is VisitState.PLANNED and visit.grade is not Grade.FREE
        if is_told and visit.on >= on and visit.site not in found:
            then = [name.rsplit("/", 2)[0] for name in visit.need_names]
            units = dict.fromkeys(numbers.get(unit, unit) for unit in then)
            found[visit.site] = Visit(
                on=visit.on, vendor=visit.vendor, property_numbers=tuple(units)
            )
    return found
