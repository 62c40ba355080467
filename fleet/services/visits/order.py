"""What is a visit plan made from? Needs of the record, calendars, and a plan file, as one order."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from functools import cached_property
from itertools import islice

from fleet.domain.plan_file import GivenTechnician, PlanFile
from fleet.domain.records import Site
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.calendars import CalendarMaker, weekdays
from fleet.services.columns import book_of
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Narrow
from fleet.services.visits.needs import Span, needs_of
from notifications.digests.words import counted, joined
from schedules.dates import day_of
from schedules.visits.model import Order, Stand, Technician
from schedules.visits.roads import Legs, great_circle_legs, table_legs, unknown_legs

__all__ = ["Centres", "Ordered", "check_apart", "order_of"]

Centres = Mapping[tuple[str, str, str], tuple[float, float]]
"""Latitude and longitude of a county, by country, subdivision and county, casefolded."""
LONGEST_DAYS = 731
"""The longest span of days that is planned at once."""
_TOLD = 5
"""So many legs that a distance table lacks are named."""
_NAMED = 6
Spell = tuple[dt.date, dt.date]


@dataclass(frozen=True, kw_only=True)
class Ordered:
    """An order, what was asked, and what is to be said of how it came about.

    sites: those of its stands; time_zones: of the depots, by name; limits: what the record sets
    each need, by name, whatever the span; failures: units whose dates could not be told.
    """

    order: Order
    plan_file: PlanFile
    narrow: Narrow
    sites: Mapping[str, Site]
    time_zones: Mapping[str, str]
    limits: Mapping[str, dt.date]
    notes: Sequence[str]
    failures: Sequence[str]

    @cached_property
    def past_limit(self) -> Mapping[str, dt.date]:
        """The limits of those that were past them when the span began, or the unit came back."""
        opens_on = {need.name: need.opens_on for need in self.order.needs}
        return {name: limit for name, limit in self.limits.items() if limit < opens_on[name]}


def order_of(
    record: Record,
    public_holidays: PublicHolidays,
    centres: Centres,
    plan_file: PlanFile,
    from_on: dt.date,
    to_on: dt.date,
    narrow: Narrow = Narrow(),  # noqa: B008 - frozen
) -> Ordered:
    """Gather what vendors have to visit from one day to another, both included.

    Raises BadInput for a span that ends before it begins or is too long, a kind or site that the
    plan file names wrongly, technicians of whom none works, a site whose place is not known, a
    distance table that lacks a leg, and a rule without minutes.
    """
    register = record.register()
    _check(register, plan_file, from_on, to_on)
    days = [from_on + dt.timedelta(days=n) for n in range((to_on - from_on).days + 1)]
    technicians = _technicians(register, public_holidays, plan_file, days)
    span = Span(from_on=from_on, to_on=to_on, catch_up_days=plan_file.catch_up_days)
    needed = needs_of(record, public_holidays, span, narrow, plan_file.holds)
    names = sorted({need.site for need in needed.needs})
    sites = {name: register.sites[(name,)] for name in names}
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    stands = _stands(register, sites, _places(sites, centres), calendars, days)
    return Ordered(
        order=Order(
            from_on=from_on,
            to_on=to_on,
            stands=stands,
            depots=tuple(one.depot for one in plan_file.depots),
            technicians=technicians,
            needs=needed.needs,
            prices=plan_file.prices,
            **_legs(plan_file, stands)._asdict(),
        ),
        plan_file=plan_file,
        narrow=narrow,
        sites=sites,
        time_zones={one.depot.depot: one.time_zone for one in plan_file.depots},
        limits=needed.limits,
        notes=_notes(narrow, technicians, sites) + needed.notes,
        failures=needed.failures,
    )


def check_apart(orders: Sequence[Ordered]) -> None:
    """Refuse orders of which two hold the same need (BadInput names both plan files)."""
    holder: dict[str, str] = {}
    for ordered in orders:
        for need in ordered.order.needs:
            file = ordered.plan_file.file
            other = holder.setdefault(need.name, file)
            if other is not file:
                problem = f"unit {need.property_number} at {need.site} is planned by {other} too"
                mend = 'give each file its own [area], as country = "US", subdivision = "NE"'
                raise BadInput([Fault(file, None, "area", problem, mend)])


def _check(register: Register, plan_file: PlanFile, from_on: dt.date, to_on: dt.date) -> None:
    if to_on < from_on:
        problem = f"{to_on} is before --from {from_on}"
        raise BadInput([Fault("--to", None, None, problem, "exchange the two")])
    if (to_on - from_on).days >= LONGEST_DAYS:
        problem = f"from {from_on} to {to_on} are {(to_on - from_on).days + 1:,} days"
        mend = f"plan at most {LONGEST_DAYS} days at once"
        raise BadInput([Fault("--to", None, None, problem, mend)])
    faults = [*_unknown_kinds(register, plan_file), *_depots_that_are_sites(register, plan_file)]
    if faults:
        raise BadInput(faults)


def _unknown_kinds(register: Register, plan_file: PlanFile) -> Iterator[Fault]:
    known = list(book_of(register).kinds)
    for one in plan_file.technicians:
        for kind in one.kinds or ():
            if kind not in known:
                near = get_close_matches(kind, known, n=1)
                mend = f"did you mean '{near[0]}'?" if near else f"write of: {', '.join(known)}"
                where = f"technician '{one.name}', kinds"
                yield Fault(plan_file.file, None, where, f"no kind '{kind}'", mend)


def _depots_that_are_sites(register: Register, plan_file: PlanFile) -> Iterator[Fault]:
    for one in plan_file.depots:
        name = one.depot.depot
        if (name,) in register.sites:
            mend = f"give it another, as '{name} depot'"
            yield Fault(plan_file.file, None, f"depot '{name}'", "a site has this name", mend)


def _away(register: Register, technician: str) -> list[Spell]:
    """When the record says that a technician cannot come."""
    days_off = register.technician_days_off.values()
    return [(one.from_on, one.to_on) for one in days_off if one.technician == technician]


def _within(days: Sequence[dt.date], spells: Iterable[Spell]) -> set[dt.date]:
    """The days that lie in some spell, both its ends included."""
    return {on for from_on, to_on in spells for on in days if from_on <= on <= to_on}


def _technicians(
    register: Register,
    public_holidays: PublicHolidays,
    plan_file: PlanFile,
    days: Sequence[dt.date],
) -> tuple[Technician, ...]:
    """The plan file's technicians; BadInput if none works a day."""
    technicians = tuple(
        _technician(one, public_holidays, days, _away(register, one.name))
        for one in plan_file.technicians
    )
    if not any(one.works_on for one in technicians):
        problem = f"no technician works a day from {days[0]} to {days[-1]}"
        mend = "look at their open_days and days_off"
        raise BadInput([Fault(plan_file.file, None, "technician", problem, mend)])
    return technicians


def _technician(
    one: GivenTechnician,
    public_holidays: PublicHolidays,
    days: Sequence[dt.date],
    away: Iterable[Spell],
) -> Technician:
    open_days, kept = weekdays(one.open_days), set[dt.date]()
    if one.holidays is not None:
        for year in range(days[0].year, days[-1].year + 1):
            kept.update(public_holidays.year(*one.holidays, year).names)
    off = _within(days, [*one.days_off, *away])
    return Technician(
        technician=one.name,
        vendor=one.vendor,
        depot=one.depot,
        works_on=frozenset(d for d in days if d.weekday() in open_days) - kept - off,
        day_minutes=one.day_minutes,
        begins_at=one.begins_at,
        max_nights=one.max_nights,
        kinds=None if one.kinds is None else frozenset(one.kinds),
    )


def _places(sites: Mapping[str, Site], centres: Centres) -> dict[str, tuple[float, float]]:
    """Where each site lies: at its coordinates, else at its county's centre; BadInput for none."""
    found, faults = {}, []
    for name, site in sites.items():
        county = site.country, site.subdivision, site.county.casefold()
        if site.latitude is not None and site.longitude is not None:
            found[name] = site.latitude, site.longitude
        elif county in centres:
            found[name] = centres[county]
        else:
            where = f"{site.country} {site.subdivision}".strip()
            problem = f"it has no place, and no centre of county '{site.county}' ({where}) is known"
            mend = "give its latitude and longitude in sites.csv, and load it"
            faults.append(Fault(f"site {name}", None, None, problem, mend))
    if faults:
        raise BadInput(faults)
    return found


def _unsuitable(register: Register, site: str) -> list[Spell]:
    """When the record says that a site wants no visit."""
    days = register.unsuitable_days.values()
    return [(one.from_on, one.to_on) for one in days if one.site == site]


def _stands(
    register: Register,
    sites: Mapping[str, Site],
    places: Mapping[str, tuple[float, float]],
    calendars: CalendarMaker,
    days: Sequence[dt.date],
) -> tuple[Stand, ...]:
    """The sites with the days they are open and want a visit."""
    stands = []
    for name, site in sites.items():
        calendar = calendars.calendar(site, days[0].year, days[-1].year)
        is_open = calendar.open_days(day_of(days[0]), len(days)).tolist()
        open_on = {on for on, opens in zip(days, is_open, strict=True) if opens}
        suits = frozenset(open_on - _within(days, _unsuitable(register, name)))
        north, east = places[name]
        stands.append(Stand(site=name, latitude=north, longitude=east, open_on=suits))
    return tuple(stands)


def _legs(plan_file: PlanFile, stands: Sequence[Stand]) -> Legs:
    """The roads between all places; BadInput names what a distance table lacks."""
    depots, roads = [one.depot for one in plan_file.depots], plan_file.roads
    if roads.table is None:
        points = [(place.latitude, place.longitude) for place in stands]
        points += [(place.latitude, place.longitude) for place in depots]
        return great_circle_legs(points, roads.road_factor, roads.miles_an_hour)
    names = [stand.site for stand in stands] + [depot.depot for depot in depots]
    lacking = list(unknown_legs(names, roads.table.miles))
    faults = [
        Fault(
            roads.table.file, None, None, f"no leg from '{a}' to '{b}'", "add its row or its cell"
        )
        for a, b in islice(lacking, _TOLD)
    ]
    if faults:
        raise BadInput(faults, len(lacking))
    return table_legs(names, roads.table.miles, roads.table.minutes)


def _notes(
    narrow: Narrow, technicians: Sequence[Technician], sites: Mapping[str, Site]
) -> list[str]:
    """What one has to know of how the order came about."""
    return [*_narrow_notes(narrow), *_idle_notes(technicians), *_place_notes(sites)]


def _narrow_notes(narrow: Narrow) -> list[str]:
    names = [*narrow.sites, *narrow.counties, *narrow.regions, *narrow.kinds]
    if not names:
        return []
    return [f"only {joined(names)} is planned, as if the technicians had nothing else to do"]


def _idle_notes(technicians: Sequence[Technician]) -> list[str]:
    idle = [one.technician for one in technicians if not one.works_on]
    if not idle:
        return []
    verb = "works" if len(idle) == 1 else "work"
    return [f"{joined(idle)} {verb} no day of the span; look at open_days and days_off"]


def _place_notes(sites: Mapping[str, Site]) -> list[str]:
    """Which sites stand at the centre of their county."""
    names = [name for name, s in sites.items() if s.latitude is None or s.longitude is None]
    if not names:
        return []
    more = len(names) - _NAMED
    told = ", ".join(names[:_NAMED]) + (f" and {more:,} more" if more > 0 else "")
    has, takes = (
        counted(len(names), "site has", "sites have"),
        "its" if len(names) == 1 else "their",
    )
    return [f"{has} no latitude and longitude, and {takes} county's centre is taken: {told}"]
