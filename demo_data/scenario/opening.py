"""Is a laboratory open on a day? A plain calendar for the story, apart from the program's own.

The order of reasons is that of design 4.2. Public holidays: the `holidays` library, and the day
after Thanksgiving (Neb. Rev. Stat. 62-301), which the library lacks.
"""

from __future__ import annotations

import datetime as dt
from functools import cache

import holidays

from demo_data.scenario.places import CLOSURES, PATTERNS, SITES
from fleet.domain.records import Holiday

__all__ = [
    "FIRST_ON",
    "HOLIDAYS",
    "LAST_ON",
    "is_open",
    "open_from",
    "open_until",
    "public_holidays",
]

FIRST_ON = dt.date(2024, 6, 3)
"""The first day of the record."""
LAST_ON = dt.date(2026, 11, 24)
"""The last day of the record: the demo's today is the day after."""

_DAY = dt.timedelta(days=1)
_WEEKDAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_SITES = {site.site: site for site in SITES}


@cache
def public_holidays(year: int) -> dict[dt.date, str]:
    """Nebraska's public holidays that fall in a year, legal and observed days, with their names."""
    found = dict(holidays.country_holidays("US", subdiv="NE", years=year, language="en_US").items())
    first = dt.date(year, 11, 1)
    first_thursday = first + _DAY * ((3 - first.weekday()) % 7)
    found.setdefault(first_thursday + 22 * _DAY, "Day After Thanksgiving")
    return {on: name for on, name in sorted(found.items()) if on.year == year}


def _kept(site: str, year: int, *, extra: dict[dt.date, str], refused: set[str]) -> list[Holiday]:
    """A site's own list of one year: the public days, more or fewer."""
    days = {on: name for on, name in public_holidays(year).items() if name not in refused} | extra
    return [
        Holiday(site=site, country="US", subdivision="NE", on=on, name=name)
        for on, name in sorted(days.items())
    ]


HOLIDAYS = (
    *_kept("wheeler", 2026, extra={dt.date(2026, 8, 7): "County fair day"}, refused=set()),
    *_kept("banner", 2026, extra={}, refused={"Arbor Day"}),
)

_OWN_YEARS: dict[tuple[str, int], set[dt.date]] = {}
for _holiday in HOLIDAYS:
    _OWN_YEARS.setdefault((_holiday.site, _holiday.on.year), set()).add(_holiday.on)


def _is_holiday(site: str, on: dt.date) -> bool:
    own = _OWN_YEARS.get((site, on.year))
    return on in (own if own is not None else public_holidays(on.year))


def _week_of(site: str, on: dt.date) -> str:
    latest = [p for p in PATTERNS if p.site == site and p.from_on <= on]
    return max(latest, key=lambda p: p.from_on).open_days if latest else _SITES[site].open_days


@cache
def is_open(site: str, on: dt.date) -> bool:
    """Say whether the site works on that day."""
    said = [c.open for c in CLOSURES if c.site in ("", site) and c.from_on <= on <= c.to_on]
    if said:
        return any(said)
    return not _is_holiday(site, on) and _WEEKDAY_NAMES[on.weekday()] in _week_of(site, on)


def open_from(site: str, on: dt.date) -> dt.date:
    """The first open day not before `on`."""
    while not is_open(site, on):
        on += _DAY
    return on


def open_until(site: str, on: dt.date) -> dt.date:
    """The last open day not after `on`."""
    while not is_open(site, on):
        on -= _DAY
    return on
