"""How does a site stand now: what is owed, what is missing, what waits to be signed?

The same facts as a digest's, for a page. Rows of today come from the board; gaps, months and charts
are looked up site by site, and kept in mind until something of the site, or the register, changes.
"""

from __future__ import annotations

import datetime as dt
import threading
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple, Protocol, TypeVar

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
        self._kept: dict[str, tuple[_Key, Overview]] = {}

    def of(self, record: Record, view: BoardView, site: Site, now: dt.datetime) -> Overview:
        """One site as the record and the board's view of it have it."""
        return self.of_all(record, view, [site], now)[0]

    def of_all(
        self, record: Record, view: BoardView, sites: Sequence[Site], now: dt.datetime
    ) -> list[Overview]:
        """Some sites, in their order; those that changed are looked up together."""
        keys = {site.site: _key(view, site, now) for site in sites}
        with self._lock:
            kept = {name: self._kept.get(name) for name in keys}
        found = {name: one[1] for name, one in kept.items() if one and one[0] == keys[name]}
        stale: dict[dt.date, list[Site]] = defaultdict(list)
        for site in sites:
            if site.site not in found:
                stale[keys[site.site].on].append(site)
        for on, some in stale.items():
            found |= {one.site.site: one for one in self._made(record, view, some, on, now)}
        made = {site.site for some in stale.values() for site in some}
        with self._lock:
            self._kept |= {name: (keys[name], found[name]) for name in made}
        return [found[site.site] for site in sites]

    def _made(
        self,
        record: Record,
        view: BoardView,
        sites: Sequence[Site],
        on: dt.date,
        now: dt.datetime,
    ) -> Iterator[Overview]:
        """Sites where it is the same day."""
        register, names = record.register(), tuple(site.site for site in sites)
        question = Question(now=now, narrow=Narrow(sites=names))
        before_on = (on.replace(day=1) - _ONE_DAY).replace(day=1)
        since_on = min(before_on, on - dt.timedelta(days=GAP_DAYS))
        gaps = finding_rows(record, self._public_holidays, since_on, on, question, "gap")
        months = self._months(record, question, on)
        missing = missing_charts(record, self._public_holidays, question, None)
        rows = [row for name in names for row in view.of_site(name)]
        facts = fleet_facts(register, book_of(register), rows, gaps, on, months, missing)
        told = [gap for gap in gaps if gap.closes is not None and gap.closes >= before_on]
        gaps_of, months_of, missing_of = _by_site(told), _by_site(months), _by_site(missing)
        for site in sites:
            own = gaps_of.get(site.site, [])
            yield Overview(
                site=site,
                on=on,
                duties=facts.duties.get(site.site, ()),
                charts=facts.charts.get(site.site, ()),
                silent=facts.silent.get(site.site, ()),
                actions=facts.actions.get(site.site, ()),
                outages=facts.outages.get(site.site, ()),
                gaps=own,
                gap_counts=Counter(month_of(gap.closes) for gap in own if gap.closes),
                months=months_of.get(site.site, []),
                missing=missing_of.get(site.site, []),
            )

    def _months(self, record: Record, question: Question, on: dt.date) -> list[ReviewRow]:
        last = month_of(on.replace(day=1) - _ONE_DAY)
        first = last
        for _ in range(MONTHS_BACK - 1):
            first = month_of(first_day(first) - _ONE_DAY)
        return review_rows(record, self._public_holidays, first, last, question)


class _Key(NamedTuple):
    """Under what a site was looked up."""

    register: str
    tick: int | None
    on: dt.date


def _key(view: BoardView, site: Site, now: dt.datetime) -> _Key:
    return _Key(view.register_version, view.ticks.get(site.site), day_at(site, now))


class _AtSite(Protocol):
    @property
    def site(self) -> str: ...


Row = TypeVar("Row", bound=_AtSite)


def _by_site(rows: Iterable[Row]) -> dict[str, list[Row]]:
    found: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        found[row.site].append(row)
    return dict(found)
