"""What do the mails say that are no weekly digest: gaps of a month, new charts, news?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.printing import Means, missing_prints
from fleet.services.charts.prints import keep_prints
from fleet.services.mailing.digest_facts import place_of
from fleet.services.mailing.month_gaps import month_gaps, return_to
from fleet.services.mailing.readers import MailReader
from fleet.services.mailing.wanted import People
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.questions import Narrow, Question
from notifications import digests as written
from notifications.event_facts import GapsFacts, NewChart, NewChartsFacts, NewsFacts, SiteCharts
from notifications.facts import MonthGaps, Reader, ReportIn, UnitArrived
from notifications.languages import speaking
from notifications.messages import Attached, Kind, Message, Rendered, Skipped
from notifications.rendering import Templates, render

__all__ = ["MOST_BYTES", "Letters"]

MOST_BYTES = 8_000_000
"""With more than this of PDFs a mail goes without them: servers take 10 MB (Postfix's default)."""


@dataclass(frozen=True, slots=True)
class Letters:
    """Writes mails to one reader at a time, in their language."""

    record: Record
    people: People
    public_holidays: PublicHolidays
    now: dt.datetime
    templates: Templates

    def month_gaps(self, reader: MailReader, month: str, on: dt.date) -> dict[str, MonthGaps]:
        """The gaps of a month at the reader's sites."""
        return month_gaps(
            self.record,
            self.public_holidays,
            self.people.readers,
            month,
            self._sites(reader),
            self.now,
            on,
        )

    def gaps(
        self, reader: MailReader, month: str, on: dt.date, base_url: str
    ) -> Rendered | Skipped:
        """Look for the gaps of the month that ended, and return its charts."""
        facts = GapsFacts(
            reader=self._reader(reader, Kind.GAPS, on),
            on=on,
            sites=tuple(self.month_gaps(reader, month, on).values()),
            stand_in=reader.stand_in.get(Kind.SITE_LEAD, ()),
        )
        return self._said(reader, lambda: written.gaps(facts, base_url))

    def news(
        self,
        reader: MailReader,
        news: Mapping[str, Sequence[UnitArrived | ReportIn]],
        on: dt.date,
        base_url: str,
    ) -> Rendered | Skipped:
        """What has happened since; by site."""
        facts = NewsFacts(
            reader=self._reader(reader, Kind.NEWS, on),
            on=on,
            news=tuple(one for some in news.values() for one in some),
            stand_in=reader.stand_in.get(Kind.SITE_LEAD, ()),
        )
        return self._said(reader, lambda: written.news(facts, base_url))

    def new_charts(
        self,
        reader: MailReader,
        year: int,
        on: dt.date,
        base_url: str,
        means: Means,
        draw: Callable[[Sequence[PrintedChart], dt.datetime], bytes],
        stamp: Stamp,
    ) -> Rendered | Skipped:
        """The charts of a year that are not in hand yet, kept as prints, with their PDFs."""
        printed: list[PrintedChart] = []
        sites: list[SiteCharts] = []
        files: list[Attached] = []
        for site in self._sites(reader):
            question = Question(now=self.now, on=on, narrow=Narrow(sites=(site,)))
            some = missing_prints(self.record, question, (), year, means).printed
            if some:
                name = f"charts-{year}-{site}.pdf"
                files.append(Attached(name, "application/pdf", draw(some, self.now)))
                sites.append(self._site_charts(site, some, name))
                printed += some
        if not printed:
            reason = f"the charts of {year} are printed already"
            return Skipped(Kind.NEW_CHARTS, reader.email, str(year), reason)
        if sum(len(file.content) for file in files) > MOST_BYTES:
            # They are too large for a mail, so nothing of them has left: they stay to be printed.
            files, sites = [], [replace(one, file="") for one in sites]
        else:
            keep_prints(self.record, printed, stamp)
        facts = NewChartsFacts(
            reader=self._reader(reader, Kind.NEW_CHARTS, on),
            on=on,
            year=year,
            sites=tuple(sites),
            stand_in=reader.stand_in.get(Kind.SITE_LEAD, ()),
        )
        return self._said(reader, lambda: written.new_charts(facts, base_url), tuple(files))

    def _site_charts(self, site: str, some: Sequence[PrintedChart], file: str) -> SiteCharts:
        place = place_of(self.people.register.sites[(site,)])
        charts = tuple(
            NewChart(
                property_number=one.print.property_number,
                kind=one.chart.kind.name,
                pages=one.print.pages,
            )
            for one in some
        )
        back = return_to(self.people.readers, place)
        return SiteCharts(place=place, charts=charts, file=file, return_to=back)

    def _sites(self, reader: MailReader) -> list[str]:
        """The short names of the sites that a lead answers for today."""
        rows = reader.people.get(Kind.SITE_LEAD, ())
        return sorted({p.site for p in rows if (p.site,) in self.people.register.sites})

    def _reader(self, reader: MailReader, kind: Kind, on: dt.date) -> Reader:
        at = self.people.times.send_at[kind]
        return Reader(
            email=reader.email,
            name=reader.name,
            dated_at=dt.datetime.combine(on, at, ZoneInfo(reader.zone)),
            language=reader.language,
        )

    def _said(
        self,
        reader: MailReader,
        write: Callable[[], Message | Skipped],
        files: tuple[Attached, ...] = (),
    ) -> Rendered | Skipped:
        """Write and lay out a mail in the reader's language."""
        with speaking(reader.language):
            message = write()
            if isinstance(message, Skipped):
                return message
            attached = (*message.attached, *files)
            return render(replace(message, attached=attached), self.templates)
