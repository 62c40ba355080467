"""Where does a unit stand on a day, and what day is it there?"""

from __future__ import annotations

import datetime as dt
from operator import attrgetter
from zoneinfo import ZoneInfo

from fleet.domain.records import Placement, Site, Unit
from fleet.domain.register import Register

__all__ = ["day_at", "moves_of", "site_on", "today_of", "units_at"]


def moves_of(register: Register, unit: Unit) -> list[Placement]:
    """The moves of a unit, the earliest first."""
    number = unit.property_number
    moves = [move for move in register.placements.values() if move.property_number == number]
    return sorted(moves, key=attrgetter("from_on"))


def site_on(register: Register, unit: Unit, on: dt.date) -> str:
    """The site where a unit stands on a day (before it is in service: where it will)."""
    past = [move.site for move in moves_of(register, unit) if move.from_on <= on]
    return past[-1] if past else unit.site


def today_of(register: Register, unit: Unit, at: dt.datetime) -> dt.date:
    """The civil date of an instant where the unit then stands."""
    site = unit.site
    for move in moves_of(register, unit):
        if move.from_on <= day_at(register.sites[(move.site,)], at):
            site = move.site
    return day_at(register.sites[(site,)], at)


def day_at(site: Site, at: dt.datetime) -> dt.date:
    """The civil date of an instant at a site."""
    return at.astimezone(ZoneInfo(site.time_zone)).date()


def units_at(register: Register, site: str, on: dt.date) -> list[Unit]:
    """The units that stand at a site on that day or come there later, by property number."""
    came = {p.property_number for p in register.placements.values() if p.site == site}
    found = []
    for unit in register.units.values():
        if site != unit.site and unit.property_number not in came:
            continue
        later = [move.site for move in moves_of(register, unit) if move.from_on > on]
        is_gone = unit.retired_on is not None and unit.retired_on <= on
        if not is_gone and site in (site_on(register, unit, on), *later):
            found.append(unit)
    return sorted(found, key=attrgetter("property_number"))
