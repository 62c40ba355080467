"""Who among the people of some sites may open the pages, and who looks after whom?

A consultant looks after the leads and the bench of the own region; a manager after everybody.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from fleet.domain.access import Account
from fleet.domain.records import Person, Role
from fleet.domain.register import Register
from fleet.services.access.visitor import Visitor, account_name
from fleet.services.access_ports import Access

__all__ = ["PersonLine", "may_look_after", "people_lines"]

_WITHOUT_ACCOUNT = frozenset({Role.VENDOR, Role.INSPECTOR})
"""They come by a link that ends."""


@dataclass(frozen=True, slots=True)
class PersonLine:
    """One address with all its roles, and the account it has, if any."""

    email: str
    name: str
    people: Sequence[Person]
    account: Account | None

    @property
    def may_have_account(self) -> bool:
        """Say whether any of the roles comes with an account."""
        return any(person.role not in _WITHOUT_ACCOUNT for person in self.people)


def people_lines(register: Register, access: Access, visitor: Visitor) -> list[PersonLine]:
    """The people whom a visitor looks after, by name."""
    by_address: dict[str, list[Person]] = {}
    for person in _everybody(register):
        by_address.setdefault(account_name(person.email), []).append(person)
    accounts = {account.email: account for account in access.accounts()}
    lines = [
        PersonLine(email, next((p.name for p in some if p.name), ""), some, accounts.get(email))
        for email, some in by_address.items()
        if _looks_after(visitor, some)
    ]
    return sorted(lines, key=lambda line: (line.name.casefold() or "~", line.email))


def may_look_after(register: Register, visitor: Visitor, email: str) -> bool:
    """Say whether a visitor may invite an address, or end its account."""
    some = [p for p in _everybody(register) if account_name(p.email) == account_name(email)]
    return bool(some) and _looks_after(visitor, some)


def _everybody(register: Register) -> list[Person]:
    """All rows of people, and each site's lead_email as one."""
    found = list(register.people.values())
    leads = {(account_name(p.email), p.site) for p in found if p.role is Role.SITE_LEAD}
    for site in register.sites.values():
        if site.lead_email and (account_name(site.lead_email), site.site) not in leads:
            lead = Person(email=site.lead_email, name="", role=Role.SITE_LEAD, site=site.site)
            found.append(lead)
    return found


def _looks_after(visitor: Visitor, some: Sequence[Person]) -> bool:
    if Role.MANAGER in visitor.roles:
        return True
    own = visitor.sites(Role.CONSULTANT)
    return all(
        person.role in (Role.SITE_LEAD, Role.BENCH) and person.site in own for person in some
    )
