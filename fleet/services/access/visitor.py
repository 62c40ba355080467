"""Who asks, and which sites may they see and mark?

Roles are those of the register, today; a deputy acts for those who are away. What a visitor may see
is a set of sites, and every question a page asks is asked of those sites alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from fleet.domain.records import Person, Role
from fleet.domain.register import Register
from fleet.services.access_ports import Access
from fleet.services.mailing.readers import READERS, address_of, readers

__all__ = ["NOBODY", "Visitor", "account_name", "at_bench", "people_of", "visitor_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Visitor:
    """Somebody who asks for a page; without roles, somebody who has not signed in."""

    email: str = ""
    name: str = ""
    roles: Mapping[Role, frozenset[str]] = field(default_factory=dict)
    """The sites each role speaks of."""
    device: str = ""
    initials: str = ""
    """Who marks at a bench; '' where a device is enrolled and nobody has given a PIN."""

    token: str = ""
    """The number of what a program asks with in somebody's name; '' for the person."""
    has_factor: bool = False
    """Whether a code of a second factor is asked for at each sign-in."""

    @property
    def is_known(self) -> bool:
        """Say whether they have signed in, or a bench was enrolled."""
        return bool(self.roles)

    @property
    def by(self) -> str:
        """The author of what they write (design 4.6)."""
        if self.token:
            return f"token:{self.token}/{self.email}"
        return f"device:{self.device}/{self.initials}" if self.device else f"account:{self.email}"

    def sites(self, *roles: Role) -> frozenset[str]:
        """The sites that these roles (none named: all they have) let them see."""
        wanted = roles or tuple(self.roles)
        return frozenset().union(*(self.roles.get(role, frozenset()) for role in wanted))


NOBODY = Visitor()


def account_name(email: str) -> str:
    """The form of an address under which an account is kept."""
    return address_of(email.strip()).casefold()


def visitor_of(
    register: Register, access: Access, email: str, now: dt.datetime, token: str = ""
) -> Visitor | None:
    """The visitor of an account; None where it was disabled or has no role left.

    token: the number of the token that a program asks with, '' for somebody who signed in.
    """
    account = access.account(email)
    if account is None or account.disabled_at is not None:
        return None
    people = [*people_of(register, email), *_stood_in_for(register, email, now)]
    roles: dict[Role, frozenset[str]] = {}
    for person in people:
        seen = frozenset(_sites_of(register, person))
        roles[person.role] = roles.get(person.role, frozenset()) | seen
    if not roles:
        return None
    name = next((person.name for person in people if person.name), email)
    return Visitor(
        email=email, name=name, roles=roles, token=token, has_factor=bool(account.totp_key)
    )


def people_of(register: Register, email: str) -> list[Person]:
    """The roles of an address; a site's lead_email is a site lead's."""
    found = [p for p in register.people.values() if account_name(p.email) == email]
    found += [
        Person(email=email, name="", role=Role.SITE_LEAD, site=site.site)
        for site in register.sites.values()
        if site.lead_email and account_name(site.lead_email) == email
    ]
    return found


def _stood_in_for(register: Register, email: str, now: dt.datetime) -> Iterable[Person]:
    """Those who are away today and named this address as their deputy."""
    if not register.absences:
        return ()
    reader = readers(register, now).all.get(address_of(email))
    if reader is None or not reader.stand_in:
        return ()
    roles = {kind: role for role, kind in READERS.items()}
    return [person for kind in reader.stand_in for person in reader.people[kind] if kind in roles]


def _sites_of(register: Register, person: Person) -> Iterable[str]:
    """The sites one role speaks of: its own, those of its region, or all of the state."""
    if person.site:
        return (person.site,)
    everywhere = person.role is Role.MANAGER or (
        person.role is Role.CONSULTANT and not person.region
    )
    return (
        site.site
        for site in register.sites.values()
        if everywhere or (person.region and site.region == person.region)
    )


def at_bench(site: str, device: str, initials: str) -> Visitor:
    """The visitor at an enrolled bench: it sees and marks its own site."""
    return Visitor(roles={Role.BENCH: frozenset({site})}, device=device, initials=initials)
