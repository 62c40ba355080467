"""How does a mail get into the outbox? Written, frozen and noted in the transaction that reads it.

What a mail tells, its bytes, the reader's memory of it and the record's root are of one moment: all
of it is kept or none. Who finds a mail's place taken adds none, and notes nothing.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace

from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.printing import Means
from fleet.services.columns import book_of
from fleet.services.due import due_rows
from fleet.services.mailing.beside import away, escalated, not_reached
from fleet.services.mailing.digest import Beside, DigestRun, RecordRoot
from fleet.services.mailing.digest_facts import place_of
from fleet.services.mailing.digest_run import digest_run
from fleet.services.mailing.events import told_news
from fleet.services.mailing.letters import Letters
from fleet.services.mailing.news import Untold
from fleet.services.mailing.readers import MailReader
from fleet.services.mailing.wanted import People, Wanted
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.questions import Narrow, Question
from notifications.cadence import WEEKLY, week_period
from notifications.facts import Ladder, MonthGaps, ReportIn, UnitArrived
from notifications.messages import Kind, Rendered, Skipped
from notifications.mime import mail
from notifications.outbox import Planned, outbox_key
from notifications.rendering import templates_of
from notifications.settings import Settings

__all__ = ["STALE_AFTER", "Planner", "Planning", "Tools", "is_weekly"]

STALE_AFTER = dt.timedelta(days=3)
"""A mail is not tried any longer after it was planned."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Tools:
    """What the planner is given from outside."""

    public_holidays: PublicHolidays
    settings: Settings
    means: Callable[[], Means]
    """With what charts are made prints."""
    draw: Callable[[Sequence[PrintedChart], dt.datetime], bytes]
    """Prints to the bytes of a PDF."""
    stamp: Callable[[], Stamp]


@dataclass(slots=True)
class Planning:
    """What was decided in one transaction."""

    planned: int = 0
    suppressed: int = 0
    remarks: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Planner:
    """Plans mails in one unit of work; the caller commits."""

    record: Record
    people: People
    tools: Tools
    now: dt.datetime
    result: Planning = field(default_factory=Planning)

    def digests(
        self, some: Sequence[Wanted], on: dt.date, untold: Mapping[str, Untold]
    ) -> DigestRun:
        """Write the weekly digests of one day; news, and the gaps of a month that join one, are
        told in them. Where there is no digest after all they go by themselves.
        """
        chosen = {(one.reader.email, one.period.kind) for one in some if one.joins is None}
        joined = [one for one in some if one.joins is not None]
        run, failures = digest_run(
            self.record,
            self.tools.public_holidays,
            Question(now=self.now, on=on),
            on,
            self.tools.settings,
            root=self._root(chosen),
            beside=self.beside(chosen, joined, on, untold),
            chosen=chosen,
            send_at=self.people.times.send_at,
        )
        self.result.remarks += failures
        written = {
            message.email
            for message in run.messages
            if self.add(message, on) and message.kind is Kind.SITE_LEAD
        }
        for skipped in run.skipped:
            self._skip(skipped)
        for one in joined:
            if one.reader.email in written:
                reason = f"told in the digest of {week_period(on)}"
                self._add_none(one.reader, one.period.kind, one.period.name, reason)
            else:
                self.letter(replace(one, joins=None))
        for email, news in untold.items():
            if email in written:
                self._tell(news)
        return run

    def letter(self, one: Wanted) -> None:
        """Write one mail that is no digest, or decide that there is none."""
        reader, period, on = one.reader, one.period, one.on
        url, letters = self.tools.settings.base_url, self._letters()
        if one.reason:
            self._add_none(reader, period.kind, period.name, one.reason)
        elif self._is_settled(reader.email, period.kind, period.name, on):
            return  # decided meanwhile; charts must not be printed for a mail that is not sent
        elif period.kind is Kind.GAPS:
            self._write(letters.gaps(reader, period.name, on, url), on)
        else:
            means, draw, stamp = self.tools.means(), self.tools.draw, self.tools.stamp()
            year = int(period.name)
            self._write(letters.new_charts(reader, year, on, url, means, draw, stamp), on)

    def _is_settled(self, email: str, kind: Kind, period: str, on: dt.date) -> bool:
        """Say whether a mail was decided meanwhile, or another has taken the reader's day."""
        mails = self.record.mail
        is_decided = mails.row(outbox_key(email, kind, period)) is not None
        return is_decided or (email, on) in mails.days(on)

    def news(self, untold: Untold) -> None:
        """Write what has happened since as a mail of its own."""
        told = self._news_of(untold)
        url = self.tools.settings.base_url
        if self._write(self._letters().news(untold.reader, told, untold.on, url), untold.on):
            self._tell(untold)

    def _tell(self, untold: Untold) -> None:
        items = {event.item: "told" for event in untold.events}
        self.record.mail.tell(untold.reader.email, items, untold.on)

    def _news_of(self, untold: Untold) -> dict[str, tuple[UnitArrived | ReportIn, ...]]:
        """The events of one reader as they are told, by site."""
        register, book = self.people.register, book_of(self.people.register)
        numbers = {event.record.property_number for event in untold.events}
        question = Question(
            now=self.now,
            on=untold.on,
            narrow=Narrow(sites=tuple(sorted({event.site for event in untold.events}))),
        )
        rows = due_rows(self.record, self.tools.public_holidays, question).rows
        dues = {(r.property_number, r.task): (r.opens, r.due) for r in rows}
        places = {site.site: place_of(site) for site in register.sites.values()}
        found: dict[str, list[UnitArrived | ReportIn]] = defaultdict(list)
        for one in told_news(untold.events, register, book, places, dues):
            if one.property_number in numbers:
                found[one.place.site].append(one)
        return {site: tuple(some) for site, some in found.items()}

    def _letters(self) -> Letters:
        """What writes the mails that are no digest."""
        templates = templates_of(self.tools.settings.templates)
        return Letters(self.record, self.people, self.tools.public_holidays, self.now, templates)

    def add(self, message: Rendered, day: dt.date | None) -> bool:
        """Put a mail that is laid out into the outbox, and note what it tells."""
        planned = Planned(
            recipient=message.email,
            kind=message.kind,
            period=message.period,
            name=message.name,
            language=message.language,
            day=day,
            subject=message.subject,
            mail=mail(message, self.tools.settings),
            reason="",
            planned_at=self.now,
            stale_at=self.now + STALE_AFTER,
        )
        (is_new,) = self.record.mail.add([planned])
        if is_new:
            on = day or self.now.date()
            self.record.mail.tell(message.email, message.items, on)
            self.result.planned += 1
        return is_new

    def _write(self, message: Rendered | Skipped, day: dt.date) -> bool:
        """Plan what came of one mail: the mail, or that there is none."""
        if isinstance(message, Skipped):
            self._skip(message)
            return False
        return self.add(message, day)

    def _skip(self, skipped: Skipped) -> None:
        reader = self.people.readers.all[skipped.email]
        self._add_none(reader, skipped.kind, skipped.period, skipped.reason)

    def _add_none(self, reader: MailReader, kind: Kind, period: str, reason: str) -> None:
        planned = Planned(
            recipient=reader.email,
            kind=kind,
            period=period,
            name=reader.name,
            language=reader.language,
            day=None,
            subject="",
            mail=None,
            reason=reason,
            planned_at=self.now,
            stale_at=self.now,
        )
        (is_new,) = self.record.mail.add([planned])
        self.result.suppressed += is_new

    def _root(self, chosen: Iterable[tuple[str, Kind]]) -> RecordRoot | None:
        """The record's root, kept as one that is given out where a manager is written to."""
        if all(kind is not Kind.MANAGER for _, kind in chosen):
            return None
        seal = self.record.seal(self.tools.stamp())
        return RecordRoot(seal.root, seal.sealed_at)

    def beside(
        self,
        chosen: Collection[tuple[str, Kind]],
        joined: Iterable[Wanted],
        on: dt.date,
        untold: Mapping[str, Untold],
    ) -> Beside:
        """What is told to some readers beside the state of the fleet; nothing is written."""
        mails, people = self.record.mail, self.people
        told = {
            email: {item: told.standing for item, told in mails.told(email).items()}
            for email, _ in chosen
        }
        gaps: dict[str, dict[str, MonthGaps]] = {}
        for one in joined:
            gaps[one.reader.email] = self._letters().month_gaps(one.reader, one.period.name, on)
        return Beside(
            told=told,
            ladder=Ladder(people.times.ladder_consultant_days, people.times.ladder_manager_days),
            escalated=escalated(mails, people.readers),
            news={email: self._news_of(one) for email, one in untold.items()},
            month_gaps=gaps,
            not_reached=not_reached(mails, people.register, people.readers, self.now),
            away=away(people.register, people.readers.away_alone),
        )


def is_weekly(one: Wanted) -> bool:
    """Say whether it is one of the weekly digests, or joins one."""
    return one.period.kind in WEEKLY or one.joins is not None
