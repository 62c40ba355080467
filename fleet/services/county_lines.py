"""Which county owes most: annual service first, then units nobody reports on, then gaps?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass, field

from fleet.domain.records import Site
from fleet.services.months import month_of
from fleet.services.overview import Overview
from fleet.services.reviews import REOPENED, TO_REVIEW, ReviewRow
from notifications.facts import Duty, SilentUnit, Standing

__all__ = ["CountyLine", "county_lines", "review_queue", "silent_units", "two_months"]


@dataclass(slots=True)
class CountyLine:
    """One county: what it owes first, then what its charts lack."""

    county: str
    sites: list[Site] = field(default_factory=list)
    owed: list[Duty] = field(default_factory=list)
    """Vendor services that are overdue, the longest first."""
    soon: list[Duty] = field(default_factory=list)
    """Vendor services that are due and not overdue."""
    others: int = 0
    """Other dated duties that are overdue."""
    gaps_before: int = 0
    gaps: int = 0
    waiting: int = 0
    silent: int = 0

    @property
    def longest(self) -> int:
        """Days past due of the service that is longest overdue."""
        return max((duty.days_past_due for duty in self.owed), default=0)

    @property
    def rank(self) -> tuple[object, ...]:
        """Who owes annual service comes first, the longest overdue before others."""
        gaps = self.gaps + self.gaps_before
        return (-bool(self.owed), -self.longest, -self.silent, -gaps, -len(self.soon), self.county)


def two_months(on: dt.date) -> tuple[str, str]:
    """The month before a day's, and the day's own: those whose gaps are counted."""
    return month_of(on.replace(day=1) - dt.timedelta(days=1)), month_of(on)


def county_lines(seen: Iterable[Overview], months: tuple[str, str]) -> list[CountyLine]:
    """A line a county, in the order of what is owed."""
    lines: dict[str, CountyLine] = {}
    for one in seen:
        line = lines.setdefault(one.site.county, CountyLine(one.site.county))
        line.sites.append(one.site)
        for duty in one.duties:
            if duty.is_annual_service and duty.standing is Standing.OVERDUE:
                line.owed.append(duty)
            elif duty.is_annual_service and duty.standing is Standing.DUE:
                line.soon.append(duty)
            line.others += not duty.is_annual_service and duty.standing is Standing.OVERDUE
        line.gaps_before += one.gap_counts.get(months[0], 0)
        line.gaps += one.gap_counts.get(months[1], 0)
        line.waiting += sum(map(_waits, one.months))
        line.silent += len(one.silent)
    for line in lines.values():
        line.owed.sort(key=lambda duty: -duty.days_past_due)
    return sorted(lines.values(), key=lambda line: line.rank)


def _waits(row: ReviewRow) -> bool:
    return row.state in (TO_REVIEW, REOPENED)


def review_queue(seen: Iterable[Overview]) -> list[ReviewRow]:
    """The months to review: those whose charts are back first, the oldest before others."""
    waiting = [row for one in seen for row in one.months if _waits(row)]
    return sorted(waiting, key=lambda row: (row.returned_on is None, row.month, row.site))


def silent_units(seen: Iterable[Overview]) -> list[SilentUnit]:
    """Units nobody reports on, those silent the longest first."""
    found = [unit for one in seen for unit in one.silent]
    return sorted(found, key=lambda unit: (unit.last_done_on or dt.date.min, unit.property_number))
