"""What of the set-up looks wrong, so that a unit is forgotten or a person not told?"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass
from enum import StrEnum

from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.services.access.people import PersonLine
from fleet.services.columns import book_of

__all__ = ["About", "Concern", "people_concerns", "site_concerns"]

_NEED_ACCOUNT = frozenset({Role.SITE_LEAD, Role.CONSULTANT, Role.MANAGER})
"""Whoever only marks needs none: they have the bench."""


class About(StrEnum):
    """What sort of thing a concern names."""

    SITE = "site"
    UNIT = "unit"
    KIND = "kind"
    PERSON = "person"
    REGION = "region"


@dataclass(frozen=True, slots=True)
class Concern:
    """One sort of thing that looks wrong, and of which it is true."""

    name: str
    about: About
    ones: Sequence[str]


def site_concerns(register: Register, sites: AbstractSet[str]) -> Iterator[Concern]:
    """What looks wrong with some sites, their kinds and their regions."""
    leads = {p.site for p in register.people.values() if p.role is Role.SITE_LEAD}
    places = [site for site in register.sites.values() if site.site in sites]
    yield Concern(
        "no lead",
        About.SITE,
        [site.site for site in places if not site.lead_email and site.site not in leads],
    )
    filled = {unit.site for unit in register.units.values()}
    filled |= {move.site for move in register.placements.values()}
    yield Concern("no units", About.SITE, [s.site for s in places if s.site not in filled])
    consultants = [p for p in register.people.values() if p.role is Role.CONSULTANT]
    looked_after = {person.region for person in consultants}
    unled = {site.region for site in places if site.region not in looked_after}
    everywhere = any(not person.region and not person.site for person in consultants)
    yield Concern("no consultant", About.REGION, [] if everywhere else sorted(unled))
    yield Concern("no rules", About.KIND, _ruleless(register, sites))


def _ruleless(register: Register, sites: AbstractSet[str]) -> list[str]:
    """Kinds of units there are that ask for nothing."""
    book = book_of(register)
    used = {unit.kind for unit in register.units.values() if unit.site in sites}
    return [code for code, kind in book.kinds.items() if code in used and not kind.rules]


def people_concerns(register: Register, lines: Sequence[PersonLine]) -> Iterator[Concern]:
    """What looks wrong with some people; lines: those whom the visitor looks after."""
    wanting = [
        line.email
        for line in lines
        if line.account is None and any(p.role in _NEED_ACCOUNT for p in line.people)
    ]
    yield Concern("no account", About.PERSON, wanting)
    known = {person.email for person in register.people.values()}
    known |= {site.lead_email for site in register.sites.values()}
    deputies: dict[str, set[str]] = defaultdict(set)
    for line in lines:
        deputies[line.email] |= {person.deputy for person in line.people if person.deputy}
    unknown = [email for email, some in deputies.items() if some - known]
    yield Concern("unknown deputy", About.PERSON, unknown)
