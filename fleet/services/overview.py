"""How does a site stand now: what is owed, what is missing, what waits to be signed?

The same facts as a digest's, for a page. Rows of today come from the board; gaps, months and charts
are looked up site by site, and kept in mind until something of the site, or the register, changes.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fleet.domain.answers import FindingRow
from fleet.domain.records import Site
from fleet.services.board import BoardView
from fleet.services.charts.status import MissingChart, missing_charts
from fleet.services.columns import book_of
from fleet.services.findings import finding_rows
from fleet.services.mailing.digest_facts import fleet_facts
from fleet.services.months import first_day, month_of
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Narrow, Question
from fleet.services.reviews import ReviewRow, review_rows
from fleet.services.standing import day_at
from notifications.facts import (
    GAP_DAYS,
    Chart,
    Duty,
    OpenAction,
    OpenOutage,
    SilentUnit,
)

__all__ = ["MONTHS_BACK", "Overview", "Overviews"]

MONTHS_BACK: Final = 6
"""So many months that are over are looked up for their review."""
_ONE_DAY: Final = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Overview:
    """One site on its day."""

    site: Site
    on: dt.date
    duties: Sequence[Duty]
    charts: Sequence[Chart]
    silent: Sequence[SilentUnit]
    actions: Sequence[OpenAction]
    outages: Sequence[OpenOutage]
    gaps: Sequence[FindingRow]
    """Gaps that closed since the beginning of the month before this one."""
    gap_counts: Mapping[str, int]
    """How many of them closed in each month, by its name as '2026-11'."""
    months: Sequence[ReviewRow]
    """The months that are over, signed ones too, the earliest first."""
    missing: Sequence[MissingChart]


class Overviews:
    """What one process keeps in mind of its sites; many threads ask it."""

    def __init__(self, public_holidays: PublicHolidays) -> None:
        self._public_holidays = public_holidays
        self._lock = threading.Lock()
        self._kept: dict[str, tuple[object, Overview]] = {}

    def of(self, record: Record, view: BoardView, site: Site, now: dt.datetime) -> Overview:
        """One site as the record and the board's view of it have it."""
        on = day_at(site, now)
        key = (view.register_version, view.ticks.get(site.site), on)
        with self._lock:
            kept = self._kept.get(site.site)
        if kept is not None and kept[0] == key:
            return kept[1]
        made = self._made(record, view, site, on, now)
        with self._lock:
            self._kept[site.site] = (key, made)
        return made

    def _made(
        self, record: Record, view: BoardView, site: Site, on: dt.date, now: dt.datetime
    ) -> Overview:
        register, name = record.register(), site.site
        question = Question(now=now, narrow=Narrow(sites=(name,)))
        before_on = (on.replace(day=1) - _ONE_DAY).replace(day=1)
        since_on = min(before_on, on - dt.timedelta(days=GAP_DAYS))
        gaps = finding_rows(record, self._public_holidays, since_on, on, question, "gap")
        months = self._months(record, question, on)
        missing = missing_charts(record, self._public_holidays, question, None)
        rows = view.of_site(name)
        facts = fleet_facts(register, book_of(register), rows, gaps, on, months, missing)
        told = [gap for gap in gaps if gap.closes is not None and gap.closes >= before_on]
        return Overview(
            site=site,
            on=on,
            duties=facts.duties.get(name, ()),
            charts=facts.charts.get(name, ()),
            silent=facts.silent.get(name, ()),
            actions=facts.actions.get(name, ()),
            outages=facts.outages.get(name, ()),
            gaps=told,
            gap_counts=Counter(month_of(gap.closes) for gap in told if gap.closes),
            months=months,
            missing=missing,
        )

    def _months(self, record: Record, question: Question, on: dt.date) -> list[ReviewRow]:
        last = month_of(on.replace(day=1) - _ONE_DAY)
        first = last
        for _ in range(MONTHS_BACK - 1):
            first = month_of(first_day(first) - _ONE_DAY)
        return review_rows(record, self._public_holidays, first, last, question)
