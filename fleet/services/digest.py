"""Who gets which digest on a day? Site leads, consultants and managers, one mail each a kind."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.records import Person, Role
from fleet.domain.register import Register
from fleet.services.charts.status import MissingChart
from fleet.services.digest_facts import FleetFacts, fleet_facts
from fleet.services.reviews import ReviewRow
from notifications import digests as written
from notifications.addresses import normal_address
from notifications.digests.frame import weekly_period
from notifications.errors import BadAddress
from notifications.facts import (
    ConsultantFacts,
    ManagerFacts,
    Reader,
    SiteFacts,
    SiteLeadFacts,
    Visit,
)
from notifications.messages import Kind, Message, Rendered, Skipped
from notifications.mime import mail
from notifications.rendering import render
from notifications.settings import Settings
from schedules.rules import RuleBook

__all__ = ["READERS", "DigestRun", "RecordRoot", "digests", "write_folder"]

_Fact = TypeVar("_Fact")
_SEND_HOUR = dt.time(7, 0)
READERS = {
    Role.SITE_LEAD: Kind.SITE_LEAD,
    Role.CONSULTANT: Kind.CONSULTANT,
    Role.MANAGER: Kind.MANAGER,
}
"""The roles that get a digest, each its own kind."""


@dataclass(frozen=True, slots=True)
class RecordRoot:
    """The record's root (`fleet.domain.chain`) and the instant at which it had it."""

    root: str
    at: dt.datetime


@dataclass(frozen=True, slots=True)
class DigestRun:
    """What each person would get on a day, laid out, and who gets nothing, with the reason."""

    on: dt.date
    messages: tuple[Rendered, ...]
    skipped: tuple[Skipped, ...]
    settings: Settings


def digests(
    register: Register,
    book: RuleBook,
    rows: Iterable[StatusRow],
    gaps: Iterable[FindingRow],
    on: dt.date,
    settings: Settings,
    root: RecordRoot,
    months: Iterable[ReviewRow] = (),
    visits: Mapping[str, Visit] | None = None,
    roles: Collection[Role] = (),
    unprinted: Iterable[MissingChart] = (),
) -> DigestRun:
    """Write every digest of a day, in the order of kind and address.

    rows: all of `due` on the day; gaps: the findings of GAP_DAYS days before it (more do no harm);
    root: the record's, for managers; months: rows of `reviews`, of which those that wait are told;
    visits: the next visit of a site, by its short name; roles: only to people in these, empty for
    all; unprinted: charts to be printed, for consultants. The Date of a mail is the hour at which
    it is planned, 07:00 where its reader is, so that the same question gives the same bytes.
    """
    facts = fleet_facts(register, book, rows, gaps, on, months, unprinted)
    kinds = {READERS[role] for role in roles or READERS}
    results = [
        _written(kind, people, register, facts, on, settings, root, visits or {})
        for (kind, _), people in sorted(_people(register).items())
        if kind in kinds
    ]
    return DigestRun(
        on,
        tuple(render(one) for one in results if isinstance(one, Message)),
        tuple(one for one in results if isinstance(one, Skipped)),
        settings,
    )


def _people(register: Register) -> dict[tuple[Kind, str], list[Person]]:
    """The rows of each reader, by kind and address; a site's lead_email is a row if it has none."""
    found: dict[tuple[Kind, str], list[Person]] = defaultdict(list)
    for person in register.people.values():
        if person.role in READERS:
            found[READERS[person.role], _address(person.email)].append(person)
    for site in register.sites.values():
        if not site.lead_email:
            continue
        named = found[Kind.SITE_LEAD, _address(site.lead_email)]
        if all(person.site != site.site for person in named):
            row = Person(email=site.lead_email, name="", role=Role.SITE_LEAD, site=site.site)
            named.append(row)
    return found


def _address(email: str) -> str:
    """The form in which two spellings of one address are the same; a bad one stays as it is."""
    try:
        return normal_address(email)
    except BadAddress:
        return email


def _written(
    kind: Kind,
    people: Sequence[Person],
    register: Register,
    facts: FleetFacts,
    on: dt.date,
    settings: Settings,
    root: RecordRoot,
    visits: Mapping[str, Visit],
) -> Message | Skipped:
    """One digest of one person, from all their rows of one kind."""
    email = people[0].email
    try:
        address = normal_address(email)
    except BadAddress as error:
        return Skipped(kind, email, weekly_period(on), str(error))
    name = next((person.name for person in people if person.name), "")
    reader = Reader(email=address, name=name, dated_at=_planned_at(people, register, on))
    if kind is Kind.SITE_LEAD:
        return _site_lead(reader, people, facts, on, settings, visits)
    regions = {person.region for person in people}
    chosen = () if "" in regions else tuple(sorted(regions))
    if kind is Kind.MANAGER:
        return _manager(reader, chosen, facts, on, settings, root)
    return _consultant(reader, chosen, facts, on, settings)


def _within(
    by_site: Mapping[str, Sequence[_Fact]], facts: FleetFacts, regions: Sequence[str]
) -> tuple[_Fact, ...]:
    """The facts of the sites in some regions; of all where none is named."""
    places = [p.site for p in facts.places.values() if not regions or p.region in regions]
    return tuple(fact for site in places for fact in by_site.get(site, ()))


def _manager(
    reader: Reader,
    regions: tuple[str, ...],
    facts: FleetFacts,
    on: dt.date,
    settings: Settings,
    root: RecordRoot,
) -> Message | Skipped:
    duties = _within(facts.duties, facts, regions)
    asked = ManagerFacts(
        reader=reader,
        on=on,
        regions=regions,
        services=tuple(duty for duty in duties if duty.is_annual_service),
        root=root.root,
        root_on=root.at.astimezone(reader.dated_at.tzinfo).date(),
    )
    return written.manager(asked, settings.base_url)


def _consultant(
    reader: Reader, regions: tuple[str, ...], facts: FleetFacts, on: dt.date, settings: Settings
) -> Message | Skipped:
    asked = ConsultantFacts(
        reader=reader,
        on=on,
        regions=regions,
        duties=_within(facts.duties, facts, regions),
        charts=_within(facts.charts, facts, regions),
        silent=_within(facts.silent, facts, regions),
        months=_within(facts.months, facts, regions),
        actions=_within(facts.actions, facts, regions),
        to_print=_within(facts.to_print, facts, regions),
    )
    return written.consultant(asked, settings.base_url)


def _site_lead(
    reader: Reader,
    people: Sequence[Person],
    facts: FleetFacts,
    on: dt.date,
    settings: Settings,
    visits: Mapping[str, Visit],
) -> Message | Skipped:
    sites = sorted({person.site for person in people} & facts.places.keys())
    if not sites:
        reason = "no site is named for this site lead; give one in the people file"
        return Skipped(Kind.SITE_LEAD, reader.email, weekly_period(on), reason)
    told = tuple(
        SiteFacts(
            place=facts.places[site],
            duties=tuple(facts.duties.get(site, ())),
            charts=tuple(facts.charts.get(site, ())),
            visit=visits.get(site),
            actions=tuple(facts.actions.get(site, ())),
            outages=tuple(facts.outages.get(site, ())),
        )
        for site in sites
    )
    return written.site_lead(SiteLeadFacts(reader=reader, on=on, sites=told), settings.base_url)


def _planned_at(people: Sequence[Person], register: Register, on: dt.date) -> dt.datetime:
    """07:00 in the reader's time zone: their own, else their site's, else UTC."""
    zones = [person.time_zone for person in people]
    zones += [
        register.sites[(person.site,)].time_zone
        for person in people
        if (person.site,) in register.sites
    ]
    zone = next(filter(None, zones), "UTC")
    return dt.datetime.combine(on, _SEND_HOUR, ZoneInfo(zone))


def write_folder(run: DigestRun, folder: Path) -> list[Path]:
    """Write each message as KIND/ADDRESS.eml and KIND/ADDRESS.html; the paths, in order."""
    paths = []
    for message in run.messages:
        place = folder / message.kind.value
        place.mkdir(parents=True, exist_ok=True)
        stem = _file_stem(message.email)
        eml, html = place / f"{stem}.eml", place / f"{stem}.html"
        eml.write_bytes(mail(message, run.settings).content)
        html.write_text(message.html, encoding="utf-8", newline="")
        paths += [eml, html]
    return paths


def _file_stem(email: str) -> str:
    """A file name that every system takes; a changed one gets a hash, so that it stays its own."""
    safe = re.sub(r"[^a-z0-9@._+-]", "_", email.lower())[:100]
    if safe == email:
        return safe
    return f"{safe}-{hashlib.sha256(email.encode()).hexdigest()[:8]}"
