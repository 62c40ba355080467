"""When was the work done that counts from the last time, or from a fixed date?

The vendor comes to each site once a year, on a trip through part of its region, and a second time
half a year later where a rule asks for it. Other work is done by the bench before it is due.
"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cache

from demo_data.scenario.chance import Chance
from demo_data.scenario.habits import habit_of
from demo_data.scenario.instruments import OUTAGES, PLACEMENTS
from demo_data.scenario.names import REGIONS
from demo_data.scenario.opening import FIRST_ON, LAST_ON, open_from, open_until
from demo_data.scenario.places import SITES
from demo_data.scenario.presence import is_present, site_on, version_on
from demo_data.scenario.staff import CENTRAL_INITIALS, VENDOR_INITIALS, initials_of_site
from fleet.domain.records import Unit
from schedules.rules import DueAfter, First, Interval, Rule

__all__ = ["LATE_VISITS", "OWING", "Service", "add", "services", "visit_days"]

OWING = {
    "box-butte": "nobody there when the vendor called in 2026",
    "gosper": "left out of the trip of 2026",
    "webster": "left out of the trip of 2026",
    "pawnee": "the site was being painted when the vendor called in 2026",
    "greeley": "left out of the trip of 2026",
    "logan": "left out of the trip of 2026",
    "merrick": "the trip of October 2026 was cut short",
    "hamilton": "the trip of October 2026 was cut short",
}
"""Sites the vendor has not come to in 2026, and why."""

LATE_VISITS = {("dixon", 2025): 48, ("phelps", 2025): 30, ("furnas", 2026): 36}
"""Site and year of the visits that came late, and by how many days."""

_DAY = dt.timedelta(days=1)
_TRIPS_PER_REGION = 4
_LATE_CHANCE = {"good": 0.004, "fair": 0.02, "poor": 0.1}
_YEARS = range(FIRST_ON.year - 1, LAST_ON.year + 1)


@dataclass(frozen=True, slots=True)
class Service:
    """One piece of work done: the day, whose initials, and what was written beside them."""

    on: dt.date
    initials: str
    note: str = ""


def add(on: dt.date, interval: Interval, times: int = 1) -> dt.date:
    """The day so many intervals later, clamped to the end of its month (design 4.1)."""
    if not interval.in_months:
        return on + _DAY * (interval.count * times)
    months = on.year * 12 + on.month - 1 + interval.count * times
    year, month = divmod(months, 12)
    last = calendar.monthrange(year, month + 1)[1]
    return dt.date(year, month + 1, min(on.day, last))


@cache
def _trip_of_site() -> dict[str, tuple[int, int, int]]:
    """Month, day of the month and place in the trip of each site's yearly visit."""
    found = {}
    for place, region in enumerate(REGIONS):
        sites = sorted((s for s in SITES if s.region == region), key=lambda s: s.longitude or 0.0)
        a_trip = -(-len(sites) // _TRIPS_PER_REGION)
        for number, site in enumerate(sites):
            trip, stop = divmod(number, a_trip)
            month = (place * 5 + trip * 3) % 12 + 1
            found[site.site] = (month, 3 + (place * 7 + trip * 4) % 15, stop)
    return found


@cache
def visit_days(site: str, *, twice_a_year: bool = False) -> tuple[dt.date, ...]:
    """The days of the vendor's yearly visits to the site, and of the second ones if asked for.

    Each year's visit comes a few days earlier in the year than the one before, so that the year
    between two is not exceeded; the story's late ones apart.
    """
    month, day, stop = _trip_of_site()[site]
    found = set()
    for year in _YEARS:
        if site in OWING and year == LAST_ON.year:
            continue
        usual = dt.date(year, month, day) + _DAY * (stop // 2 - 6 * (year - _YEARS[0]))
        late = LATE_VISITS.get((site, year), 0)
        found.add(open_until(site, usual + _DAY * (6 + late)))
        if twice_a_year:
            found.add(open_until(site, usual + _DAY * 183))
    return tuple(sorted(found))


def services(unit: Unit, versions: Sequence[Rule]) -> list[Service]:
    """All the work done under one anchored or fixed rule, up to the last day of the record."""
    first = versions[-1]
    if first.anchor_on is not None:
        return list(_fixed(unit, versions))
    return list(_anchored(unit, versions))


def _anchored(unit: Unit, versions: Sequence[Rule]) -> Iterator[Service]:
    chance = Chance("service", unit.property_number, versions[0].task)
    first = version_on(versions, max(unit.in_service_on, FIRST_ON)) or versions[-1]
    start = _first_time(unit, first, chance)
    if start is not None:
        yield start
    base = start.on if start else unit.in_service_on
    while (rule := version_on(versions, base)) is not None and rule.every is not None:
        nominal = _asked_for(unit, rule, base, add(base, rule.every))
        done = _done_on(unit, rule, base, nominal, chance)
        if done is None or done > LAST_ON:
            return
        yield Service(done, _initials(unit, rule, done, chance))
        base = done


def _first_time(unit: Unit, rule: Rule, chance: Chance) -> Service | None:
    """The last time before the record begins, or what a unit that is new in it begins with.

    New units are serviced centrally before issue, or on their first day where the rule says so.
    """
    if unit.in_service_on < FIRST_ON:
        return _before_the_record(unit, rule, chance)
    if rule.first is First.AT_START:
        return Service(unit.in_service_on, VENDOR_INITIALS, "on the day of installation")
    if rule.vendor:
        day = open_until(unit.site, unit.in_service_on - _DAY * chance.whole(5, 12))
        return Service(day, CENTRAL_INITIALS, "central service before issue")
    return None


def _before_the_record(unit: Unit, rule: Rule, chance: Chance) -> Service | None:
    """The last time before the record begins, as the old card tells it."""
    if rule.every is None:
        return None
    days = (add(FIRST_ON, rule.every) - FIRST_ON).days
    wish = FIRST_ON - _DAY * chance.whole(1, max(1, min(days, 3 * 365) - 10))
    if rule.vendor:
        days_before = [v for v in visit_days(unit.site) if v < FIRST_ON]
        wish = max(days_before, default=wish)
    on = open_until(unit.site, max(wish, unit.in_service_on))
    return Service(on, _initials(unit, rule, on, chance), "from the old card")


def _asked_for(unit: Unit, rule: Rule, base: dt.date, nominal: dt.date) -> dt.date:
    """The day on which the rule asks for work: an interval on, or at once after an event."""
    events = []
    if DueAfter.MOVED in rule.due_after:
        events += [p.from_on for p in PLACEMENTS if p.property_number == unit.property_number]
    if DueAfter.REPAIRED in rule.due_after:
        events += [
            o.to_on
            for o in OUTAGES
            if o.property_number == unit.property_number and o.to_on is not None
        ]
    return min([nominal, *(event for event in events if event > base)])


def _done_on(
    unit: Unit, rule: Rule, base: dt.date, nominal: dt.date, chance: Chance
) -> dt.date | None:
    """The day the work was done: the vendor's visit that fits, or a bench day shortly before.

    None where it was not done within the record.
    """
    while not is_present(unit, nominal):
        nominal += _DAY
        if nominal > LAST_ON:
            return None
    site = site_on(unit, nominal)
    if rule.vendor:
        visits = _visits_after(unit, rule, site, base)
        in_time = [visit for visit in visits if visit <= nominal + _DAY * rule.grace]
        return max(in_time) if in_time else min(visits, default=None)
    if chance.happens(_LATE_CHANCE[habit_of(site)]):
        return open_from(site, nominal + _DAY * chance.whole(1, 6))
    length = (nominal - base).days
    early = chance.whole(0, max(0, min(length // 8, rule.early or 5, 20)))
    on = open_until(site, nominal - _DAY * early)
    return on if on > base and is_present(unit, on) else open_from(site, max(nominal, base + _DAY))


def _visits_after(unit: Unit, rule: Rule, site: str, base: dt.date) -> list[dt.date]:
    days = visit_days(site, twice_a_year=_is_asked_for_twice_a_year(rule))
    return [visit for visit in days if visit > base and is_present(unit, visit)]


def _is_asked_for_twice_a_year(rule: Rule) -> bool:
    return rule.every is not None and (add(FIRST_ON, rule.every) - FIRST_ON).days < 360


def _fixed(unit: Unit, versions: Sequence[Rule]) -> Iterator[Service]:
    chance = Chance("fixed", unit.property_number, versions[0].task)
    rule = versions[-1]
    if rule.every is None or rule.anchor_on is None:
        return
    start = max(unit.in_service_on, FIRST_ON)
    for place in range(3000):
        occurs = add(rule.anchor_on, rule.every, place)
        if occurs > LAST_ON + _DAY * rule.early:
            return
        if occurs < start or not is_present(unit, occurs):
            continue
        site = site_on(unit, occurs)
        wish = occurs - _DAY * chance.whole(0, min(rule.early, 10))
        on = open_until(site, max(start, wish))
        if start <= on <= LAST_ON and is_present(unit, on):
            yield Service(on, _initials(unit, rule, on, chance))


def _initials(unit: Unit, rule: Rule, on: dt.date, chance: Chance) -> str:
    return VENDOR_INITIALS if rule.vendor else chance.pick(initials_of_site(site_on(unit, on)))
