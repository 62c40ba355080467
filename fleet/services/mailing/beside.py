"""What is told beside the state of the fleet: who was told already, and what did not arrive?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping

from fleet.domain.records import Person, Site
from fleet.domain.register import Register
from fleet.services.mail_ports import MailRecord, OutboxRow
from fleet.services.mailing.digest_facts import place_of
from fleet.services.mailing.readers import AwayAlone, MailReader, Readers, address_of
from notifications.facts import Away, Escalated, NotReached
from notifications.messages import Kind
from notifications.outbox import State

__all__ = ["STEP", "away", "escalated", "not_reached"]

STEP = "step"
"""How the item of a duty begins that stays overdue and is told to consultant or manager."""
_LOOKS_BACK = dt.timedelta(days=28)
_LOST = (State.DEAD, State.SUPPRESSED)


def escalated(mail: MailRecord, readers: Readers) -> dict[tuple[str, str], tuple[Escalated, ...]]:
    """Who beside the lead was told what is overdue, and on which day first, by unit and task."""
    first: dict[tuple[str, str, bool], dt.date] = {}
    for reader in readers.all.values():
        for kind in (Kind.CONSULTANT, Kind.MANAGER):
            if kind not in reader.people:
                continue
            for item, told in mail.told(reader.email).items():
                parts = item.split("/")
                if parts[0] == STEP and len(parts) == 3:
                    key = parts[1], parts[2], kind is Kind.MANAGER
                    first[key] = min(first.get(key, told.first_on), told.first_on)
    found: dict[tuple[str, str], list[Escalated]] = defaultdict(list)
    for (number, task, is_manager), on in sorted(first.items(), key=lambda one: one[1]):
        found[number, task].append(Escalated(is_manager, on))
    return {key: tuple(some) for key, some in found.items()}


def not_reached(
    mail: MailRecord, register: Register, readers: Readers, now: dt.datetime
) -> dict[str, tuple[NotReached, ...]]:
    """What did not reach whom in the last weeks, by the address of the consultant who is told.

    Told are those who answer for a region of the reader's; of readers without a region, as a
    manager, every consultant but themselves.
    """
    suspended = {one.address for one in mail.addresses() if one.suspended_at is not None}
    lost = [
        (row, _regions(register, readers.all.get(row.recipient)))
        for row in mail.rows(_LOST, since_at=now - _LOOKS_BACK)
        if row.state is State.DEAD or row.envelope_to in suspended
        if row.attempts or row.envelope_to in suspended
    ]
    found: dict[str, tuple[NotReached, ...]] = {}
    for email, reader in readers.all.items():
        if Kind.CONSULTANT in reader.people:
            own = {person.region for person in reader.people[Kind.CONSULTANT]}
            found[email] = tuple(
                _told(row, row.envelope_to in suspended)
                for row, regions in lost
                if row.recipient != email and (not regions or "" in own or own & regions)
            )
    return found


def _regions(register: Register, reader: MailReader | None) -> set[str]:
    """The regions of the sites and roles of a reader."""
    rows = [person for some in reader.people.values() for person in some] if reader else []
    sites = [register.sites.get((person.site,)) for person in rows]
    return {site.region for site in sites if site} | {p.region for p in rows if p.region}


def _told(row: OutboxRow, is_suspended: bool) -> NotReached:
    return NotReached(
        key=row.key[:8],
        name=row.name,
        email=row.recipient,
        subject=row.subject,
        day_on=row.day,
        why=row.answer or row.reason,
        is_suspended=is_suspended,
    )


def away(register: Register, alone: Iterable[AwayAlone]) -> tuple[Away, ...]:
    """Who is away without a deputy who is there, with the sites that they answer for."""
    return tuple(_away(register, one) for one in alone)


def _away(register: Register, one: AwayAlone) -> Away:
    named = one.absence.deputy or next((p.deputy for p in one.people if p.deputy), "")
    return Away(
        name=one.name,
        email=one.email,
        from_on=one.absence.from_on,
        until_on=one.absence.to_on,
        deputy=address_of(named) if named else "",
        places=tuple(place_of(site) for site in _sites(register, one.people)),
    )


def _sites(register: Register, people: Iterable[Person]) -> list[Site]:
    rows = list(people)
    names = {person.site for person in rows}
    regions = {person.region for person in rows if not person.site}
    sites: Mapping[tuple[str, ...], Site] = register.sites
    return [
        site
        for site in sites.values()
        if site.site in names or site.region in regions or "" in regions
    ]
