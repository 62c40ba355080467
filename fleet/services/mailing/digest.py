"""Who gets which digest on a day? Site leads, consultants and managers, one mail each a kind."""

from __future__ import annotations

import datetime as dt
import hashlib
import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.services.charts.status import MissingChart
from fleet.services.mailing.digest_facts import FleetFacts, fleet_facts
from fleet.services.mailing.next_visits import next_visits
from fleet.services.mailing.readers import READERS, MailReader, readers
from fleet.services.reviews import ReviewRow
from notifications import digests as written
from notifications.addresses import normal_address
from notifications.digests.frame import weekly_period
from notifications.errors import BadAddress
from notifications.facts import (
    Away,
    ConsultantFacts,
    Duty,
    Escalated,
    Ladder,
    ManagerFacts,
    MonthGaps,
    NotReached,
    Reader,
    ReportIn,
    SiteFacts,
    SiteLeadFacts,
    Standing,
    UnitArrived,
    Visit,
)
from notifications.languages import speaking
from notifications.messages import Kind, Message, Rendered, Skipped
from notifications.mime import mail
from notifications.rendering import Templates, render, templates_of
from notifications.settings import Settings
from schedules.rules import RuleBook

__all__ = ["READERS", "Beside", "DigestRun", "RecordRoot", "digests", "write_folder"]

_Fact = TypeVar("_Fact")
_SEND_HOUR = dt.time(7, 0)


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


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside:
    """What is told beside the state of the fleet; nothing of it in a digest that is only shown."""

    told: Mapping[str, Mapping[str, str]] | None = None
    """What each reader was told before, by address: item to standing; None: nothing is folded."""
    ladder: Ladder | None = None
    escalated: Mapping[tuple[str, str], tuple[Escalated, ...]] = field(default_factory=dict)
    """Who was told what is overdue, by property number and task."""
    news: Mapping[str, Mapping[str, tuple[UnitArrived | ReportIn, ...]]] = field(
        default_factory=dict
    )
    """By address, then by the short name of the site."""
    month_gaps: Mapping[str, Mapping[str, MonthGaps]] = field(default_factory=dict)
    """As `news`, where the month's mail about gaps joins the digest."""
    not_reached: Mapping[str, tuple[NotReached, ...]] = field(default_factory=dict)
    """By the consultant's address."""
    away: tuple[Away, ...] = ()


_NOTHING = Beside()


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
    beside: Beside = _NOTHING,
    chosen: Collection[tuple[str, Kind]] | None = None,
    send_at: Mapping[Kind, dt.time] | None = None,
) -> DigestRun:
    """Write every digest of a day, in the order of kind and address.

    rows: all of `due` on the day; gaps: the findings of GAP_DAYS days before it (more do no harm);
    root: the record's, for managers; months: rows of `reviews`, of which those that wait are told;
    visits: the next visit of a site, by its short name, None for the record's; roles: only to
    people in these, empty for all; unprinted: charts to be printed, for consultants; chosen: only
    these readers and kinds.
    The Date of a mail is the hour at which it is planned, 07:00 where its reader is if `send_at`
    says nothing else, so that the same question gives the same bytes.
    """
    facts = fleet_facts(register, book, rows, gaps, on, months, unprinted, beside.escalated)
    kinds = {READERS[role] for role in roles or READERS}
    coming = next_visits(register, on) if visits is None else visits
    asked = _Asked(facts, on, settings, root, coming, beside, send_at or {})
    noon = dt.datetime.combine(on, dt.time(12), dt.UTC)
    wanted = sorted(
        (kind, email, reader)
        for email, reader in readers(register, noon).all.items()
        for kind in reader.people
        if kind in kinds and (chosen is None or (email, kind) in chosen)
    )
    results = [asked.written(kind, reader) for kind, _, reader in wanted]
    return DigestRun(
        on,
        tuple(one for one in results if isinstance(one, Rendered)),
        tuple(one for one in results if isinstance(one, Skipped)),
        settings,
    )


@dataclass(frozen=True, slots=True)
class _Asked:
    """One day's facts, and what they are told with."""

    facts: FleetFacts
    on: dt.date
    settings: Settings
    root: RecordRoot
    visits: Mapping[str, Visit]
    beside: Beside
    send_at: Mapping[Kind, dt.time]

    @property
    def templates(self) -> Templates:
        """How mails are laid out."""
        return templates_of(self.settings.templates)

    def written(self, kind: Kind, reader: MailReader) -> Rendered | Skipped:
        """One digest of one reader, from all their rows of one kind, in their language."""
        try:
            normal_address(reader.email)
        except BadAddress as error:
            return Skipped(kind, reader.email, weekly_period(self.on), str(error))
        with speaking(reader.language):
            message = self._message(kind, reader)
            return message if isinstance(message, Skipped) else render(message, self.templates)

    def _message(self, kind: Kind, reader: MailReader) -> Message | Skipped:
        if kind is Kind.SITE_LEAD:
            return self._site_lead(reader)
        regions = {person.region for person in reader.people[kind]}
        chosen = () if "" in regions else tuple(sorted(regions))
        if kind is Kind.MANAGER:
            return self._manager(reader, chosen)
        return self._consultant(reader, chosen)

    def _reader(self, kind: Kind, reader: MailReader) -> Reader:
        at = self.send_at.get(kind, _SEND_HOUR)
        return Reader(
            email=reader.email,
            name=reader.name,
            dated_at=dt.datetime.combine(self.on, at, ZoneInfo(reader.zone)),
            language=reader.language,
        )

    def _told(self, reader: MailReader) -> Mapping[str, str] | None:
        told = self.beside.told
        return None if told is None else told.get(reader.email, {})

    def _within(
        self, by_site: Mapping[str, Sequence[_Fact]], regions: Sequence[str]
    ) -> tuple[_Fact, ...]:
        """The facts of the sites in some regions; of all where none is named."""
        places = self.facts.places.values()
        some = [place.site for place in places if not regions or place.region in regions]
        return tuple(fact for site in some for fact in by_site.get(site, ()))

    def _manager(self, reader: MailReader, regions: tuple[str, ...]) -> Message | Skipped:
        told = self._reader(Kind.MANAGER, reader)
        duties = self._within(self.facts.duties, regions)
        asked = ManagerFacts(
            reader=told,
            on=self.on,
            regions=regions,
            services=tuple(duty for duty in duties if duty.is_annual_service),
            root=self.root.root,
            root_on=self.root.at.astimezone(told.dated_at.tzinfo).date(),
            other_overdue=self._others(duties),
            told=self._told(reader),
            stand_in=reader.stand_in.get(Kind.MANAGER, ()),
            ladder=self.beside.ladder,
        )
        return written.manager(asked, self.settings.base_url)

    def _others(self, duties: Iterable[Duty]) -> tuple[Duty, ...]:
        """What is overdue beside annual services, where the ladder is climbed."""
        if self.beside.ladder is None:
            return ()
        return tuple(
            duty
            for duty in duties
            if duty.standing is Standing.OVERDUE and not duty.is_annual_service
        )

    def _consultant(self, reader: MailReader, regions: tuple[str, ...]) -> Message | Skipped:
        facts, beside = self.facts, self.beside
        asked = ConsultantFacts(
            reader=self._reader(Kind.CONSULTANT, reader),
            on=self.on,
            regions=regions,
            duties=self._within(facts.duties, regions),
            charts=self._within(facts.charts, regions),
            silent=self._within(facts.silent, regions),
            months=self._within(facts.months, regions),
            actions=self._within(facts.actions, regions),
            to_print=self._within(facts.to_print, regions),
            not_reached=beside.not_reached.get(reader.email, ()),
            away=tuple(
                one
                for one in beside.away
                if not regions or any(place.region in regions for place in one.places)
            ),
            told=self._told(reader),
            stand_in=reader.stand_in.get(Kind.CONSULTANT, ()),
            ladder=beside.ladder,
        )
        return written.consultant(asked, self.settings.base_url)

    def _site_lead(self, reader: MailReader) -> Message | Skipped:
        facts, beside = self.facts, self.beside
        people = reader.people[Kind.SITE_LEAD]
        sites = sorted({person.site for person in people} & facts.places.keys())
        if not sites:
            reason = "no site is named for this site lead; give one in the people file"
            return Skipped(Kind.SITE_LEAD, reader.email, weekly_period(self.on), reason)
        news = beside.news.get(reader.email, {})
        gaps = beside.month_gaps.get(reader.email, {})
        told = tuple(
            SiteFacts(
                place=facts.places[site],
                duties=tuple(facts.duties.get(site, ())),
                charts=tuple(facts.charts.get(site, ())),
                visit=self.visits.get(site),
                actions=tuple(facts.actions.get(site, ())),
                outages=tuple(facts.outages.get(site, ())),
                news=news.get(site, ()),
                month_gaps=gaps.get(site),
            )
            for site in sites
        )
        asked = SiteLeadFacts(
            reader=self._reader(Kind.SITE_LEAD, reader),
            on=self.on,
            sites=told,
            told=self._told(reader),
            stand_in=reader.stand_in.get(Kind.SITE_LEAD, ()),
            ladder=beside.ladder,
        )
        return written.site_lead(asked, self.settings.base_url)


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
