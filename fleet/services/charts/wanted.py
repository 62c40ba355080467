"""Which charts do the units in service want in hand, printed or not?

A chart of the year at each site where a unit stands or will stand; in the year's last
CHARTS_AHEAD_DAYS one of the next year too. A kind that has nothing to mark wants none
(`rows.RowPlans.is_chart`).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from fleet.domain.records import Placement, Site, Unit
from fleet.domain.register import Register
from fleet.services.charts.rows import row_plans
from fleet.services.columns import FleetColumns
from fleet.services.questions import Narrow, Question
from fleet.services.standing import day_at
from fleet.services.stays import Span, charted, common, moves_of, stays
from schedules.rules import RuleBook

__all__ = ["CHARTS_AHEAD_DAYS", "WantedChart", "wanted_charts"]

CHARTS_AHEAD_DAYS = 31
"""So long before a year begins its charts are asked for; common practice, no source."""


class WantedChart(NamedTuple):
    """A chart that a unit (a place in the fleet) wants."""

    place: int
    site: Site
    year: int
    spans: Sequence[Span]
    """The days of the year on which the unit may be marked at the site."""
    on: dt.date
    """The day asked about, where the unit then stands."""


def wanted_charts(
    register: Register, book: RuleBook, fleet: FleetColumns, question: Question, year: int | None
) -> Iterator[WantedChart]:
    """The charts of units that are in service by the day asked about, at the sites asked about.

    year: charts of this year alone; None: of those that are in hand by rule. Whether a day is left
    on them after that day is not looked at.
    """
    todays = {one.site: question.on or day_at(one, question.now) for one in fleet.sites}
    asked = {one.site: one for one in fleet.sites if _lets_through(question.narrow, one)}
    moves_by_unit = moves_of(register)
    for place, unit in enumerate(fleet.units):
        moves = moves_by_unit.get(unit.property_number, ())
        on = _today(unit, moves, todays)
        if on < unit.in_service_on:
            continue
        ahead = (on + dt.timedelta(days=CHARTS_AHEAD_DAYS)).year
        for one in {on.year, ahead} if year is None else {year}:
            if _has_chart(book, unit, one):
                for site, spans in _places(unit, moves, one).items():
                    if site in asked:
                        yield WantedChart(place, asked[site], one, spans, on)


def _lets_through(narrow: Narrow, site: Site) -> bool:
    """Say whether a question is about a site, whatever the case of its words."""
    asked = (
        (narrow.sites, site.site),
        (narrow.counties, site.county),
        (narrow.regions, site.region),
    )
    return all(
        not words or name.casefold() in {word.casefold() for word in words} for words, name in asked
    )


def _today(unit: Unit, moves: Sequence[Placement], todays: Mapping[str, dt.date]) -> dt.date:
    """The day asked about where the unit then stands."""
    site = unit.site
    for move in moves:
        if move.from_on <= todays[move.site]:
            site = move.site
    return todays[site]


def _has_chart(book: RuleBook, unit: Unit, year: int) -> bool:
    kind = book.kinds.get(unit.kind)
    return kind is not None and row_plans(kind, unit.model, year).is_chart


def _places(unit: Unit, moves: Sequence[Placement], year: int) -> dict[str, list[Span]]:
    """The sites where a unit may be marked in a year, each with its days there."""
    whole = dt.date(year, 1, 1), dt.date(year, 12, 31)
    found: dict[str, list[Span]] = defaultdict(list)
    for stay in stays(unit, moves):
        span = common((stay.from_on, stay.to_on), whole, charted(unit))
        if span is not None:
            found[stay.site].append(span)
    return found
