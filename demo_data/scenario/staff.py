"""Who works where? A lead and two bench workers a site, consultants a region, and the state's few.

Names are drawn from invented lists; nobody here exists.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from demo_data.scenario.chance import Chance
from demo_data.scenario.names import (
    AGENCY_DOMAIN,
    GIVEN_NAMES,
    LABORATORY_DOMAIN,
    REGIONS,
    SURNAMES,
    VENDOR_DOMAIN,
)
from demo_data.scenario.places import SITES
from fleet.domain.records import Person, Role

__all__ = ["CENTRAL_INITIALS", "VENDOR_INITIALS", "initials_of_site", "people"]

CENTRAL_INITIALS = "CS"
VENDOR_INITIALS = "OV"
_SPANISH_READERS = frozenset({"Marisol", "Ximena", "Joaquín"})


def _name(*role: str) -> str:
    chance = Chance("name", *role)
    return f"{chance.pick(GIVEN_NAMES)} {chance.pick(SURNAMES)}"


def _initials(name: str) -> str:
    return "".join(word[0] for word in name.split())


@cache
def initials_of_site(site: str) -> tuple[str, ...]:
    """The initials of those who mark the charts of a site: its lead and two bench workers."""
    names = [_name(site, role) for role in ("lead", "bench-1", "bench-2")]
    return tuple(dict.fromkeys(_initials(name) for name in names))


def _consultant(regions: Sequence[str], deputy_region: str) -> list[Person]:
    return [
        Person(
            email=_consultant_email(regions[0]),
            name=_name("consultant", regions[0]),
            role=Role.CONSULTANT,
            region=region,
            time_zone="America/Denver" if region == "Panhandle" else "America/Chicago",
            deputy=_consultant_email(deputy_region),
        )
        for region in regions
    ]


def _consultant_email(region: str) -> str:
    return f"{region.lower().replace(' ', '-')}@{AGENCY_DOMAIN}"


def _state_people() -> list[Person]:
    """One consultant for the two regions of the west, one for each of the others, and the rest."""
    groups = [list(REGIONS[:2]), *([region] for region in REGIONS[2:])]
    found = []
    for place, regions in enumerate(groups):
        found += _consultant(regions, groups[(place + 1) % len(groups)][0])
    others = (
        ("program", AGENCY_DOMAIN, Role.MANAGER),
        ("dispatch", VENDOR_DOMAIN, Role.VENDOR),
        ("inspection", AGENCY_DOMAIN, Role.INSPECTOR),
    )
    return found + [
        Person(email=f"{box}@{domain}", name=_name(box), role=role, time_zone="America/Chicago")
        for box, domain, role in others
    ]


def people() -> list[Person]:
    """Everyone: the state's people first, then lead and bench of each site."""
    found = _state_people()
    for site in SITES:
        for place, role in (("lead", Role.SITE_LEAD), ("bench-1", Role.BENCH)):
            name = _name(site.site, place)
            found.append(
                Person(
                    email=f"{site.site}.{place.split('-')[0]}@{LABORATORY_DOMAIN}",
                    name=name,
                    role=role,
                    site=site.site,
                    language="es" if name.split()[0] in _SPANISH_READERS else "en",
                    time_zone=site.time_zone,
                )
            )
    return found
