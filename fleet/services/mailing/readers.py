"""Who reads which mail today? People by address, and deputies for those who are away."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from zoneinfo import ZoneInfo

from fleet.domain.mail_times import Absence
from fleet.domain.records import Person, Role
from fleet.domain.register import Register
from notifications.addresses import normal_address
from notifications.errors import BadAddress
from notifications.facts import StandIn
from notifications.messages import Kind

__all__ = ["READERS", "AwayAlone", "MailReader", "Readers", "address_of", "readers"]

READERS: Mapping[Role, Kind] = {
    Role.SITE_LEAD: Kind.SITE_LEAD,
    Role.CONSULTANT: Kind.CONSULTANT,
    Role.MANAGER: Kind.MANAGER,
}
"""The roles that get a digest, each its own kind."""


@dataclass(frozen=True, slots=True, kw_only=True)
class MailReader:
    """One address and all that is written to it for."""

    email: str
    """In its normal form where it has one."""
    name: str
    language: str
    zone: str
    people: Mapping[Kind, Sequence[Person]]
    """The rows that count today, by the kind of digest; those stood in for with them."""
    stand_in: Mapping[Kind, tuple[StandIn, ...]] = field(default_factory=dict)

    def today(self, now: dt.datetime) -> dt.date:
        """The reader's day."""
        return now.astimezone(ZoneInfo(self.zone)).date()


@dataclass(frozen=True, slots=True, kw_only=True)
class AwayAlone:
    """Somebody who is away and has no deputy who is there; their mail goes to them."""

    email: str
    name: str
    absence: Absence
    people: Sequence[Person]


@dataclass(frozen=True, slots=True)
class Readers:
    """Everybody who is written to, by address, and who is away without a deputy."""

    all: Mapping[str, MailReader]
    away_alone: Sequence[AwayAlone]


def address_of(email: str) -> str:
    """The form in which two spellings of one address are the same; a bad one stays as it is."""
    try:
        return normal_address(email)
    except BadAddress:
        return email


def readers(register: Register, now: dt.datetime) -> Readers:
    """Everybody who is written to at an instant, after absences and deputies (one step only)."""
    rows: dict[str, list[Person]] = defaultdict(list)
    for person in _rows(register):
        rows[address_of(person.email)].append(person)
    away = {email: _absence(register, email, some, now) for email, some in rows.items()}
    handed: dict[str, list[Person]] = defaultdict(list)
    stand_ins: dict[str, dict[Kind, list[StandIn]]] = defaultdict(lambda: defaultdict(list))
    alone: list[AwayAlone] = []
    for email, some in rows.items():
        absence = away[email]
        deputy = "" if absence is None else _deputy(absence, some)
        if absence is None:
            handed[email] += some
        elif not deputy or deputy == email or away.get(deputy) is not None:
            handed[email] += some
            alone.append(_alone(email, some, absence))
        else:
            handed[deputy] += some
            told = StandIn(_name(some) or email, absence.to_on)
            for kind in {READERS[person.role] for person in some}:
                stand_ins[deputy][kind].append(told)
    found = {
        email: _reader(register, email, rows.get(email) or some, some, stand_ins[email])
        for email, some in handed.items()
    }
    return Readers(dict(sorted(found.items())), alone)


def _rows(register: Register) -> Iterator[Person]:
    """The people who get digests; a site's lead_email is a row if it has none."""
    leads: set[tuple[str, str]] = set()
    for person in register.people.values():
        if person.role in READERS:
            yield person
            if person.role is Role.SITE_LEAD:
                leads.add((address_of(person.email), person.site))
    for site in register.sites.values():
        if site.lead_email and (address_of(site.lead_email), site.site) not in leads:
            yield Person(email=site.lead_email, name="", role=Role.SITE_LEAD, site=site.site)


def _absence(
    register: Register, email: str, some: Sequence[Person], now: dt.datetime
) -> Absence | None:
    """Why a person is not there today, where they are; of two that overlap the longer one."""
    on = now.astimezone(ZoneInfo(_zone(register, some))).date()
    found = [
        absence
        for absence in register.absences.values()
        if address_of(absence.email) == email and absence.from_on <= on <= absence.to_on
    ]
    return max(found, key=lambda absence: absence.to_on, default=None)


def _deputy(absence: Absence, some: Sequence[Person]) -> str:
    named = absence.deputy or next((p.deputy for p in some if p.deputy), "")
    return address_of(named) if named else ""


def _alone(email: str, some: Sequence[Person], absence: Absence) -> AwayAlone:
    return AwayAlone(email=email, name=_name(some), absence=absence, people=some)


def _reader(
    register: Register,
    email: str,
    own: Sequence[Person],
    some: Sequence[Person],
    stand_in: Mapping[Kind, Sequence[StandIn]],
) -> MailReader:
    """A reader; name, language and zone are from their own rows, if they have any."""
    by_kind: dict[Kind, list[Person]] = defaultdict(list)
    for person in some:
        by_kind[READERS[person.role]].append(replace(person, email=email))
    is_deputy_only = all(address_of(person.email) != email for person in own)
    return MailReader(
        email=email,
        name="" if is_deputy_only else _name(own),
        language=own[0].language,
        zone=_zone(register, own),
        people=dict(by_kind),
        stand_in={kind: tuple(told) for kind, told in stand_in.items()},
    )


def _name(some: Sequence[Person]) -> str:
    return next((person.name for person in some if person.name), "")


def _zone(register: Register, some: Sequence[Person]) -> str:
    """A person's own time zone, else their site's, else that of most sites of their regions."""
    zones = [person.time_zone for person in some]
    zones += [
        register.sites[(person.site,)].time_zone
        for person in some
        if (person.site,) in register.sites
    ]
    regions = {person.region for person in some if not person.site}
    counts = Counter(
        site.time_zone
        for site in register.sites.values()
        if site.region in regions or "" in regions
    )
    return next(filter(None, [*zones, *(zone for zone, _ in counts.most_common(1))]), "UTC")
