"""Who gives whom which role, and what becomes of a role that ends?

A manager gives any role; a consultant gives those of leads and benches at the sites of the region.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from fleet.domain.access import Act
from fleet.domain.records import Person, RegisterRecord, Role
from fleet.domain.register import Register
from fleet.services.access.caller import Caller
from fleet.services.access.visitor import Visitor, account_name, people_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused

__all__ = ["GIVEN_BY_CONSULTANTS", "change_person", "end_role", "give_role", "may_give", "sign_out"]

GIVEN_BY_CONSULTANTS = frozenset({Role.SITE_LEAD, Role.BENCH})
_ACT = "people"


def may_give(visitor: Visitor, person: Person) -> bool:
    """Say whether a visitor may give, change or end a role."""
    if Role.MANAGER in visitor.roles:
        return True
    return person.role in GIVEN_BY_CONSULTANTS and person.site in visitor.sites(Role.CONSULTANT)


def give_role(
    record: Record, public_holidays: PublicHolidays, person: Person, stamp: Stamp
) -> None:
    """Give somebody a role; an address that has one keeps the name and language it has.

    Raises BadInput as `load` would, and where the role stands already. The caller commits.
    """
    standing = people_of(record.register(), account_name(person.email))
    if any(_is_same(person, other) for other in standing):
        raise refused(
            _ACT, "role", f"{person.email} has this role already", "nothing is to be done"
        )
    change_register(record, public_holidays, _ACT, [person], stamp)


def change_person(
    record: Record, public_holidays: PublicHolidays, email: str, as_said: Person, stamp: Stamp
) -> None:
    """Write name, language, time zone and deputy into every role of an address.

    as_said: holds them; its role and site say nothing. The caller commits.
    """
    rows = [
        replace(
            person,
            name=as_said.name,
            language=as_said.language,
            time_zone=as_said.time_zone,
            deputy=as_said.deputy,
        )
        for person in people_of(record.register(), email)
    ]
    change_register(
        record, public_holidays, _ACT, list({one.key: one for one in rows}.values()), stamp
    )


def end_role(record: Record, public_holidays: PublicHolidays, person: Person, stamp: Stamp) -> None:
    """Take a role from somebody, and the site its lead where it was that; the caller commits.

    Raises BadInput for the last manager: nobody could set anything up any more.
    """
    register = record.register()
    managers = {account_name(p.email) for p in register.people.values() if p.role is Role.MANAGER}
    if person.role is Role.MANAGER and managers == {account_name(person.email)}:
        mend = "make somebody else a manager first"
        raise refused(_ACT, "role", f"{person.email} is the last manager", mend)
    withdrawn = [other for other in register.people.values() if _is_same(person, other)]
    unled = _unled(register, person)
    change_register(record, public_holidays, _ACT, unled, stamp, withdrawn=withdrawn)


def _unled(register: Register, person: Person) -> Sequence[RegisterRecord]:
    site = register.sites.get((person.site,))
    is_lead = site is not None and account_name(site.lead_email) == account_name(person.email)
    if site is None or person.role is not Role.SITE_LEAD or not is_lead:
        return ()
    return [replace(site, lead_email="")]


def _is_same(person: Person, other: Person) -> bool:
    return (
        account_name(person.email) == account_name(other.email) and person.key[1:] == other.key[1:]
    )


def sign_out(record: Record, caller: Caller, email: str, by: str) -> int:
    """End every browser that is signed in to an account; how many. The caller commits."""
    ended = record.access.end_sessions(email=account_name(email))
    caller.log(record.access, Act.SESSIONS_ENDED, account_name(email), f"by {by}")
    return ended
