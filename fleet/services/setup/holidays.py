"""Which public holidays does a site keep in a year, where do they come from, and how replace them?

What a site keeps of its own replaces a year entirely (design 4.2): the shipped list, and what its
subdivision keeps, do not speak of that year any more.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from fleet.domain.records import Holiday, Site
from fleet.domain.register import Register
from fleet.services.ports import HolidayYear, PublicHolidays
from fleet.services.register_changes import refused

__all__ = ["Origin", "YearKept", "own_year", "year_kept"]

_ACT = "holidays"


class Origin(StrEnum):
    """Where the holidays of a site and year come from."""

    SITE = "site"
    PLACE = "place"
    """A file that names all sites of the country or subdivision."""
    PUBLIC = "public"
    """The library, with the shipped corrections."""


@dataclass(frozen=True, slots=True)
class YearKept:
    """The holidays of one year as a site keeps them, by day."""

    names: Mapping[dt.date, str]
    origin: Origin
    words: str
    """Of public ones, the library and its version."""


def year_kept(
    register: Register,
    snapshot: Sequence[HolidayYear],
    public_holidays: PublicHolidays,
    site: Site,
    year: int,
) -> YearKept:
    """The holidays of a year, and where they come from."""
    own = _own(register, site, year)
    if own:
        return YearKept({one.on: one.name for one in own}, Origin.SITE, "")
    of_place = {
        one.on: one.name
        for one in register.holidays.values()
        if not one.site and one.on.year == year
        if (one.country, one.subdivision) == (site.country, site.subdivision)
    }
    if of_place:
        return YearKept(dict(sorted(of_place.items())), Origin.PLACE, "")
    place = (site.country, site.subdivision, year)
    kept = next((y for y in snapshot if (y.country, y.subdivision, y.year) == place), None)
    found = kept or public_holidays.year(*place)
    return YearKept(dict(sorted(found.names.items())), Origin.PUBLIC, found.origin)


def own_year(
    register: Register, site: Site, year: int, names: Mapping[dt.date, str]
) -> tuple[list[Holiday], list[Holiday]]:
    """The records that make these the site's own holidays of a year, and those to withdraw.

    Without any names the site's own are withdrawn, and it keeps what all others keep. Raises
    BadInput for a day of another year.
    """
    for on in names:
        if on.year != year:
            raise refused(
                _ACT, "day", f"{on} is not in {year}", f"these are the holidays of {year}"
            )
    made = [
        Holiday(
            site=site.site,
            country=site.country,
            subdivision=site.subdivision,
            on=on,
            name=name,
        )
        for on, name in sorted(names.items())
    ]
    keys = {one.key for one in made}
    return made, [one for one in _own(register, site, year) if one.key not in keys]


def _own(register: Register, site: Site, year: int) -> list[Holiday]:
    found = [h for h in register.holidays.values() if h.site == site.site and h.on.year == year]
    return sorted(found, key=lambda holiday: holiday.on)
