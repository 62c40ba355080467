"""On which days does a unit stand where, and on which is it expected to be marked? (design 4.5)"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from functools import cache

from demo_data.scenario.instruments import OUTAGES, PLACEMENTS
from demo_data.scenario.opening import FIRST_ON, LAST_ON, is_open
from fleet.domain.records import Unit
from schedules.rules import Rule

__all__ = ["expected_days", "is_present", "site_on", "version_on"]

_ALL_DAYS = tuple(
    FIRST_ON + dt.timedelta(days=place) for place in range((LAST_ON - FIRST_ON).days + 1)
)


def site_on(unit: Unit, on: dt.date) -> str:
    """The site where the unit stands on that day."""
    moves = [p for p in PLACEMENTS if p.property_number == unit.property_number and p.from_on <= on]
    return max(moves, key=lambda p: p.from_on).site if moves else unit.site


def is_present(unit: Unit, on: dt.date) -> bool:
    """Say whether the unit is in service and not out of service on that day."""
    if on < unit.in_service_on or (unit.retired_on is not None and on >= unit.retired_on):
        return False
    return not any(
        o.property_number == unit.property_number
        and o.from_on <= on
        and (o.to_on is None or on < o.to_on)
        for o in OUTAGES
    )


@cache
def expected_days(unit: Unit) -> tuple[dt.date, ...]:
    """The unit's expected days within the record, in order."""
    start = unit.record_from_on or unit.in_service_on
    return tuple(
        day
        for day in _ALL_DAYS
        if day >= start and is_present(unit, day) and is_open(site_on(unit, day), day)
    )


def version_on(versions: Sequence[Rule], on: dt.date) -> Rule | None:
    """The version of a task in force on that day; `versions` as `Kind.tasks` answers them."""
    return next((rule for rule in versions if rule.speaks_on(on)), None)
