"""Which mails are due at an instant, to whom? Readers, their good days, and what was decided."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import partial
from zoneinfo import ZoneInfo

from fleet.domain.records import Site
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker
from fleet.services.mail_settings import MailTimes, mail_times
from fleet.services.mailing.readers import MailReader, Readers, readers
from fleet.services.ports import HolidayYear, PublicHolidays
from notifications.cadence import NOW, WAIT, Period, decision, first_good, instant, periods
from notifications.messages import Kind
from schedules.calendars import SiteCalendar

__all__ = ["ORDER", "People", "Wanted", "wanted"]

ORDER = (Kind.SITE_LEAD, Kind.CONSULTANT, Kind.MANAGER, Kind.NEW_CHARTS, Kind.GAPS)
"""Which goes first where several wait for one day; news comes last, or inside one of them."""
_LEADS = (Kind.NEW_CHARTS, Kind.GAPS)


@dataclass(frozen=True, slots=True)
class Wanted:
    """One mail that is decided now: to be written, or not and for what reason."""

    reader: MailReader
    period: Period
    on: dt.date
    """The reader's day."""
    reason: str
    """'' where it is to be written."""
    joins: Period | None = None
    """The digest of the same day that tells it."""


@dataclass(slots=True)
class People:
    """A register's readers with their good days, made once and kept while it stays as it is."""

    register: Register
    times: MailTimes
    readers: Readers
    _maker: CalendarMaker
    _calendars: dict[tuple[str, int], SiteCalendar] = field(default_factory=dict)

    @classmethod
    def of(
        cls,
        register: Register,
        snapshot: Sequence[HolidayYear],
        public_holidays: PublicHolidays,
        now: dt.datetime,
    ) -> People:
        """Everybody who is written to at an instant."""
        return cls(
            register,
            mail_times(register.mail_settings.values()),
            readers(register, now),
            CalendarMaker(register, snapshot, public_holidays),
        )

    def send_instant(self, reader: MailReader, kind: Kind, on: dt.date) -> dt.datetime:
        """When mail of a kind goes to a reader on a day."""
        return instant(on, self.times.send_at[kind], ZoneInfo(reader.zone))

    def is_good(self, reader: MailReader, kind: Kind, on: dt.date) -> bool:
        """Say whether mail may go on a day: a site of theirs is open and not quiet.

        Somebody without any site, as the manager of a state without units, has no closed days.
        """
        sites = self._sites(reader, Kind.SITE_LEAD if kind not in reader.people else kind)
        if not sites:
            return True
        return any(self._is_open(site, on) and not self._is_quiet(site, on) for site in sites)

    def _sites(self, reader: MailReader, kind: Kind) -> list[Site]:
        """The sites whose days count for a reader: their own, or those of their regions."""
        rows = reader.people.get(kind, ())
        own = {person.site for person in rows if person.site}
        regions = {person.region for person in rows if not person.site}
        return [
            site
            for site in self.register.sites.values()
            if site.site in own or "" in regions or site.region in regions
        ]

    def _is_open(self, site: Site, on: dt.date) -> bool:
        key = site.site, on.year
        if key not in self._calendars:
            self._calendars[key] = self._maker.calendar(site, on.year, on.year)
        return self._calendars[key].why_closed(on) is None

    def _is_quiet(self, site: Site, on: dt.date) -> bool:
        return any(
            quiet.from_on <= on <= quiet.to_on
            for quiet in self.register.quiet_periods.values()
            if quiet.site in ("", site.site)
        )


def wanted(
    people: People,
    now: dt.datetime,
    decided: Collection[tuple[str, Kind, str]],
    taken: Collection[tuple[str, dt.date]],
    begun_at: dt.datetime,
) -> list[Wanted]:
    """Every mail that is decided at an instant, reader by reader, in the order in which they go.

    decided: recipient, kind and period of what stands in the outbox; taken: the days of each
    recipient; begun_at: what should have gone before is not looked at.
    """
    found: list[Wanted] = []
    for email, reader in people.readers.all.items():
        days = {day for address, day in taken if address == email}
        undecided = _undecided(people, reader, now, decided, begun_at)
        found += _of_reader(people, reader, now, undecided, days)
    return found


def _undecided(
    people: People,
    reader: MailReader,
    now: dt.datetime,
    decided: Collection[tuple[str, Kind, str]],
    begun_at: dt.datetime,
) -> Iterator[Period]:
    """The reader's periods whose day and hour may have come, the first to go first."""
    today = reader.today(now)
    for kind in ORDER:
        if not (kind in reader.people or (kind in _LEADS and Kind.SITE_LEAD in reader.people)):
            continue
        if now < people.send_instant(reader, kind, today):
            continue
        for period in periods(kind, today, people.times.cadence):
            if period.nominal_on > today or (reader.email, kind, period.name) in decided:
                continue
            good_on = first_good(period, partial(people.is_good, reader, kind))
            should_go_on = good_on or period.last_on
            if people.send_instant(reader, kind, should_go_on) >= begun_at:
                yield period


def _of_reader(
    people: People,
    reader: MailReader,
    now: dt.datetime,
    undecided: Iterable[Period],
    taken: set[dt.date],
) -> Iterator[Wanted]:
    """What is decided of one reader's periods; a mail takes the day for those after it."""
    today = reader.today(now)
    digest: Period | None = None
    for period in undecided:
        kind = period.kind
        verdict = decision(
            period,
            today,
            partial(people.is_good, reader, kind),
            taken.__contains__,
            people.times.cadence.late_days,
        )
        if kind is Kind.GAPS and digest is not None and verdict == WAIT:
            # The day is taken by this reader's own digest, which tells the gaps too.
            yield Wanted(reader, period, today, "", joins=digest)
        elif verdict == NOW:
            taken.add(today)
            digest = period if kind is Kind.SITE_LEAD else digest
            yield Wanted(reader, period, today, "")
        elif verdict != WAIT:
            yield Wanted(reader, period, today, verdict)
