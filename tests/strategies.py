"""Which fleets, and which questions about them, do the properties draw?

`cases()` draws a small valid fleet (1-3 sites, 1-5 units, rules of all bases) with a day to ask
of, an instant to know at and a span for gaps. All dates hang on the day asked, so that due dates
fall near it; everything shrinks towards a plain site, one unit and an empty record.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from hypothesis import strategies as st

from tests.reference.choices import AWKWARD_DAYS, LEAP_ON, MODELS, Pick, days, length
from tests.reference.drawn_rules import rules_of_kind
from tests.reference.records import (
    RefClosure,
    RefEntry,
    RefFleet,
    RefHoliday,
    RefOutage,
    RefPattern,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
    new_years_days,
)

__all__ = ["Case", "cases", "days_asked", "fleets"]

SITES = (("Alder", "Cherry", "West"), ("Birch", "Grant", "West"), ("Cedar", "Hooker", "East"))
WEEKS = ((0, 1, 2, 3, 4), (1, 3), (2,), (0, 1, 2, 3, 4, 5), (4,), (0, 1, 2, 3, 4, 5, 6), (6,))
KINDS = ("microscope", "centrifuge")
MARKS = ("done", "done", "done", "done", "unused", "filled", "explained")


@dataclass(frozen=True, kw_only=True)
class Case:
    """A fleet and a question: the day, the instant (None: all that is known), a span of gaps."""

    fleet: RefFleet
    on: dt.date
    known_at: dt.datetime | None
    gaps_from: dt.date
    gaps_to: dt.date


@st.composite
def days_asked(draw: st.DrawFn) -> dt.date:
    """Days of 2024 to 2027, often a month's end or a leap day."""
    return _day_asked(Pick(draw))


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """A valid fleet with a question about it."""
    pick = Pick(draw)
    on = _day_asked(pick)
    known_at = _noon(pick.day(on, 40, 5)) if pick.one_in(3) else None
    gaps_from = pick.day(on, 200, 0)
    gaps_to = pick.day(on, 10, 10)
    return Case(
        fleet=_fleet(pick, on), on=on, known_at=known_at, gaps_from=gaps_from, gaps_to=gaps_to
    )


def fleets() -> st.SearchStrategy[RefFleet]:
    """Valid fleets alone."""
    return cases().map(lambda case: case.fleet)


def _day_asked(pick: Pick) -> dt.date:
    if pick.one_in(4):
        return pick.of((LEAP_ON, *AWKWARD_DAYS))
    return dt.date(2024, 1, 1) + days(pick.number(0, 1400))


def _noon(day: dt.date) -> dt.datetime:
    return dt.datetime(day.year, day.month, day.day, 12, tzinfo=dt.UTC)


def _fleet(pick: Pick, on: dt.date) -> RefFleet:
    sites = tuple(
        RefSite(site=site, county=county, region=region, open_days=pick.of(WEEKS))
        for site, county, region in SITES[: pick.number(1, 3)]
    )
    names = [site.site for site in sites]
    kinds = KINDS[: pick.number(1, 2)]
    count = pick.of((1, 2, 2, 3, 5))
    units = tuple(_unit(pick, on, f"U-{n}", names, kinds) for n in range(1, count + 1))
    rules = tuple(rule for kind in kinds for rule in rules_of_kind(pick, on, kind))
    outages = tuple(outage for unit in units for outage in _outages(pick, on, unit))
    first_on = min(unit.in_service_on for unit in units)
    return RefFleet(
        sites=sites,
        units=units,
        rules=rules,
        patterns=tuple(row for name in names for row in _patterns(pick, on, name)),
        holidays=tuple(row for name in names for row in _holidays(pick, on, name)),
        closures=_closures(pick, on, names, first_on),
        placements=tuple(row for unit in units for row in _placements(pick, on, unit, names)),
        outages=outages,
        entries=_entries(pick, on, units, rules, outages),
    )


# --- sites


def _patterns(pick: Pick, on: dt.date, site: str) -> list[RefPattern]:
    starts = {pick.day(on, 300, 40) for _ in range(pick.of((0, 0, 0, 1, 2)))}
    return [RefPattern(site=site, from_on=day, open_days=pick.of(WEEKS)) for day in sorted(starts)]


def _holidays(pick: Pick, on: dt.date, site: str) -> tuple[RefHoliday, ...]:
    extra = {pick.day(on, 30, 30) for _ in range(pick.of((0, 0, 1, 3)))}
    return new_years_days(site) + tuple(
        RefHoliday(site=site, on=day, name="Founders' Day")
        for day in sorted(extra)
        if (day.month, day.day) != (1, 1)
    )


def _closures(
    pick: Pick, on: dt.date, sites: Sequence[str], first_on: dt.date
) -> tuple[RefClosure, ...]:
    """Every site's closures and openings, one a site, first day and sort, and some of all sites.

    The longest begins at most 90 days before the first unit, within every calendar's year.
    """
    found = []
    for site in sites:
        found += _long_closures(pick, on, site, first_on)
    for _ in range(pick.of((0, 1, 2, 4))):
        found.append(_short(pick, pick.of(("", *sites)), pick.day(on, 40, 25), pick.one_in(2)))
    return tuple({(row.site, row.from_on, row.open): row for row in found}.values())


def _short(pick: Pick, site: str, from_on: dt.date, is_open: bool) -> RefClosure:
    to_on = from_on + days(pick.of((0, 1, 6, 12)))
    reason = "inventory day" if is_open else "flood repair"
    return RefClosure(site=site, from_on=from_on, to_on=to_on, reason=reason, open=is_open)


def _long_closures(pick: Pick, on: dt.date, site: str, first_on: dt.date) -> list[RefClosure]:
    sort = pick.number(0, 9)
    if sort < 5:
        return []
    if sort < 7:
        month = pick.of((11, 5))
        starts = [dt.date(year, month, 1) for year in range(2021, 2031)]
        return [
            RefClosure(site=site, from_on=d, to_on=d + days(180), reason="off season")
            for d in starts
        ]
    if sort == 7:
        from_on, length = pick.day(on, 220, 10), pick.number(128, 200)
    else:
        from_on, length = pick.day(on, pick.of((60, 500)), 0), pick.number(367, 700)
    from_on = max(from_on, first_on - days(90))
    return [
        RefClosure(site=site, from_on=from_on, to_on=from_on + days(length), reason="rebuilding")
    ]


# --- units


def _unit(
    pick: Pick, on: dt.date, number: str, sites: Sequence[str], kinds: Sequence[str]
) -> RefUnit:
    start_on = pick.day(on, 0, 60) if pick.one_in(12) else pick.day(on - days(20), 580, 0)
    if pick.one_in(12) and on > LEAP_ON:
        start_on = max(LEAP_ON, on - days(600))
    retired_on = pick.day(on, 60, 60) if pick.one_in(8) else None
    if retired_on is not None:
        retired_on = max(retired_on, start_on + days(1))
    return RefUnit(
        property_number=number,
        kind=pick.of(kinds),
        model=pick.of(MODELS),
        site=pick.of(sites),
        in_service_on=start_on,
        retired_on=retired_on,
        record_from_on=start_on + days(pick.number(0, 500)) if pick.one_in(5) else None,
    )


def _placements(pick: Pick, on: dt.date, unit: RefUnit, sites: Sequence[str]) -> list[RefPlacement]:
    days = {pick.day(on, 150, 40) for _ in range(pick.of((0, 0, 1, 2)))}
    return [
        RefPlacement(property_number=unit.property_number, site=pick.of(sites), from_on=day)
        for day in sorted(days)
        if unit.in_service_on < day < (unit.retired_on or dt.date.max)
    ]


def _outages(pick: Pick, on: dt.date, unit: RefUnit) -> list[RefOutage]:
    """Outages one after the other, some touching, the last perhaps without an end."""
    count = pick.of((0, 0, 0, 1, 2, 3))
    found: list[RefOutage] = []
    from_on = max(pick.day(on, 120, 40), unit.in_service_on - days(10))
    for n in range(count):
        to_on = from_on + days(pick.of((1, 5, 20, 60, 150)))
        is_endless = n == count - 1 and pick.one_in(3)
        found.append(
            RefOutage(
                property_number=unit.property_number,
                from_on=from_on,
                to_on=None if is_endless else to_on,
            )
        )
        from_on = to_on + days(pick.of((0, 0, 3, 30)))
    return found


# --- entries


def _entries(
    pick: Pick,
    on: dt.date,
    units: Sequence[RefUnit],
    rules: Sequence[RefRule],
    outages: Sequence[RefOutage],
) -> tuple[RefEntry, ...]:
    found: list[RefEntry] = []
    for unit in units:
        own = [outage for outage in outages if outage.property_number == unit.property_number]
        versions: dict[str, list[RefRule]] = {}
        for rule in rules:
            if rule.kind == unit.kind and (not rule.models or unit.model in rule.models):
                versions.setdefault(rule.task, []).append(rule)
        for of_task in versions.values():
            found += _entries_of_task(pick, on, unit, of_task, own)
    found = [replace(entry, key=f"e-{n}") for n, entry in enumerate(found, start=1)]
    for n in range(pick.of((0, 0, 1, 3)) if found else 0):
        found.append(_strike(pick, on, f"s-{n}", pick.of(found)))
    return tuple(found)


def _entries_of_task(
    pick: Pick,
    on: dt.date,
    unit: RefUnit,
    versions: Sequence[RefRule],
    outages: Sequence[RefOutage],
) -> list[RefEntry]:
    rule = versions[-1]
    blank = RefEntry(key="", property_number=unit.property_number, task=rule.task, on=on)
    found = _spans(pick, on, unit, blank) if any(version.each for version in versions) else []
    for _ in range(pick.of((0, 1, 1, 2, 3))):
        day = max(_entry_day(pick, on, unit, rule, outages), unit.in_service_on - days(40))
        found.append(replace(blank, on=day, mark=pick.of(MARKS)))
    return [replace(entry, recorded_at=_recorded_at(pick, entry)) for entry in found]


def _spans(pick: Pick, on: dt.date, unit: RefUnit, blank: RefEntry) -> list[RefEntry]:
    """None, one, or the same twice; only a task with cells has days to mark from one to another."""
    if pick.number(0, 7) < 3:
        return []
    to_on = on - days(pick.of((0, 1, 1, 1, 2, 12, -5)))
    starts = (unit.in_service_on - days(5), to_on - days(20), to_on - days(6), to_on)
    span = replace(blank, on=min(pick.of(starts), to_on), to_on=to_on, mark=pick.of(MARKS))
    return [span] * (2 if pick.one_in(5) else 1)


def _entry_day(
    pick: Pick, on: dt.date, unit: RefUnit, rule: RefRule, outages: Sequence[RefOutage]
) -> dt.date:
    where = pick.number(0, 9)
    if where < 4:
        return pick.day(on - days(round(length(rule.every)) if rule.every else 0), 14, 14)
    if where == 4:
        return pick.day(on, 6, 30)
    if where == 5:
        return pick.day(unit.in_service_on, 30, 0)
    if where == 6 and outages:
        return outages[0].from_on + days(pick.number(0, 4))
    if where == 7 and unit.retired_on is not None:
        return unit.retired_on + days(pick.number(0, 4))
    return pick.of(AWKWARD_DAYS) if where == 8 else pick.day(on, 400, 0)


def _recorded_at(pick: Pick, entry: RefEntry) -> dt.datetime | None:
    late = pick.of((0, None, 1, 20))
    return None if late is None else _noon((entry.to_on or entry.on) + days(late))


def _strike(pick: Pick, on: dt.date, key: str, struck: RefEntry) -> RefEntry:
    return replace(
        struck,
        key=key,
        to_on=None,
        mark=pick.of((None, None, "done", "unused")),
        recorded_at=_noon(pick.day(on, 30, 10)) if pick.one_in(2) else None,
        strikes=struck.key,
    )
