"""Where does a unit stand on a day, and what day is it there?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from operator import attrgetter
from zoneinfo import ZoneInfo

from fleet.domain.records import Placement, Site, Unit
from fleet.domain.register import Register
from fleet.services.stays import moves_of, site_on

__all__ = ["day_at", "moves_of_unit", "site_of", "stand_now", "today_of", "units_at"]


def moves_of_unit(register: Register, unit: Unit) -> Sequence[Placement]:
    """The moves of a unit, the earliest first."""
    return moves_of(register).get(unit.property_number, ())


def site_of(register: Register, unit: Unit, on: dt.date) -> str:
    """The site where a unit stands on a day (before it is in service: where it will)."""
    return site_on(unit, moves_of_unit(register, unit), on)


def today_of(register: Register, unit: Unit, at: dt.datetime) -> dt.date:
    """The civil date of an instant where the unit then stands."""
    site = unit.site
    for move in moves_of_unit(register, unit):
        if move.from_on <= day_at(register.sites[(move.site,)], at):
            site = move.site
    return day_at(register.sites[(site,)], at)


def stand_now(register: Register, at: dt.datetime) -> dict[str, str]:
    """The site where each unit stands at an instant, by property number; as `today_of` has it."""
    today = {site.site: day_at(site, at) for site in register.sites.values()}
    stands = {unit.property_number: unit.site for unit in register.units.values()}
    for number, moves in moves_of(register).items():
        for move in moves:
            if move.from_on <= today[move.site]:
                stands[number] = move.site
    return stands


def day_at(site: Site, at: dt.datetime) -> dt.date:
    """The civil date of an instant at a site."""
    return at.astimezone(ZoneInfo(site.time_zone)).date()


def units_at(register: Register, site: str, on: dt.date) -> list[Unit]:
    """The units that stand at a site on that day or come there later, by property number."""
    came = {p.property_number for p in register.placements.values() if p.site == site}
    found, moves = [], moves_of(register)
    for unit in register.units.values():
        if site != unit.site and unit.property_number not in came:
            continue
        own = moves.get(unit.property_number, ())
        later = [move.site for move in own if move.from_on > on]
        is_gone = unit.retired_on is not None and unit.retired_on <= on
        if not is_gone and site in (site_on(unit, own, on), *later):
            found.append(unit)
    return sorted(found, key=attrgetter("property_number"))
