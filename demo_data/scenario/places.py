"""Where are the laboratories, and when is each closed for a reason of its own?

One laboratory a county, at the county's centre point (see SOURCES.md). Regions are cut by latitude
and longitude; they are invented.
"""

from __future__ import annotations

import csv
import datetime as dt
from importlib.resources import files

from demo_data.scenario.names import LABORATORY_DOMAIN
from fleet.domain.records import Closure, Pattern, Site

__all__ = ["CLOSURES", "PATTERNS", "SITES", "site_name"]

_WEEKDAYS = "Mon Tue Wed Thu Fri"
_SPECIAL_WEEKS = {
    "Arthur": "Tue Thu",
    "Loup": "Mon Wed",
    "Douglas": "Mon Tue Wed Thu Fri Sat",
}


def site_name(county: str) -> str:
    """The short name of a county's laboratory: the county's name in small letters, with hyphens."""
    return county.lower().replace(" ", "-")


def _region(latitude: float, longitude: float) -> str:
    if longitude < -102.2:
        return "Panhandle"
    if latitude >= 41.35:
        return "Sandhills" if longitude < -98.75 else "Elkhorn Valley"
    if longitude < -99.3:
        return "Republican Valley"
    return "Platte Valley" if longitude < -97.3 else "Blue Valley"


def _site(row: dict[str, str]) -> Site:
    latitude, longitude = float(row["latitude"]), float(row["longitude"])
    site = site_name(row["county"])
    return Site(
        site=site,
        name=f"{row['county']} County Laboratory",
        county=row["county"],
        region=_region(latitude, longitude),
        country="US",
        subdivision="NE",
        time_zone=row["time_zone"],
        open_days=_SPECIAL_WEEKS.get(row["county"], _WEEKDAYS),
        latitude=latitude,
        longitude=longitude,
        lead_email=f"{site}.lead@{LABORATORY_DOMAIN}",
    )


def _sites() -> tuple[Site, ...]:
    table = (files("demo_data") / "nebraska_counties.csv").read_text(encoding="utf-8")
    return tuple(_site(row) for row in csv.DictReader(table.splitlines()))


SITES = _sites()

PATTERNS = (
    Pattern(site="mcpherson", from_on=dt.date(2025, 9, 1), open_days="Mon Tue Wed Thu"),
    Pattern(site="hayes", from_on=dt.date(2026, 1, 5), open_days="Mon Wed Fri"),
)


def _closure(
    site: str, first: tuple[int, int, int], last: tuple[int, int, int], reason: str
) -> Closure:
    return Closure(site=site, from_on=dt.date(*first), to_on=dt.date(*last), reason=reason)


# The first four are closed everywhere; one Saturday in Lancaster is an extra opening.
CLOSURES = (
    _closure("", (2024, 12, 24), (2024, 12, 24), "agency closed by order"),
    _closure("", (2025, 1, 9), (2025, 1, 9), "agency closed by order"),
    _closure("", (2025, 12, 24), (2025, 12, 24), "agency closed by order"),
    _closure("", (2025, 12, 26), (2025, 12, 26), "agency closed by order"),
    _closure("hooker", (2025, 1, 2), (2025, 2, 14), "closed for the winter"),
    _closure("hooker", (2026, 1, 2), (2026, 2, 13), "closed for the winter"),
    _closure("sioux", (2025, 3, 5), (2025, 3, 7), "blizzard"),
    _closure("dawes", (2025, 3, 5), (2025, 3, 6), "blizzard"),
    _closure("box-butte", (2025, 3, 5), (2025, 3, 6), "blizzard"),
    _closure("gage", (2026, 6, 8), (2026, 6, 12), "floor renewed"),
    Closure(
        site="lancaster",
        from_on=dt.date(2026, 10, 17),
        to_on=dt.date(2026, 10, 17),
        reason="open house",
        open=True,
    ),
)
