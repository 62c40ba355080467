"""Which charts do the units in service want in hand, printed or not?

A chart of the year at each site where a unit stands or will stand; in the year's last
CHARTS_AHEAD_DAYS one of the next year too, and until the year's last week is over that of the year.
A kind that has nothing to mark wants none (`rows.RowPlans.is_chart`).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from fleet.domain.records import Placement, Site, Unit
from fleet.domain.register import Register
from fleet.services.charts.periods import paper_span
from fleet.services.charts.rows import row_plans
from fleet.services.columns import FleetColumns
from fleet.services.narrow import lets_through
from fleet.services.questions import Question
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
    """The days of the year, and of its weeks, on which the unit may be marked at the site."""
    on: dt.date
    """The day asked about, where the unit then stands."""


def wanted_charts(
    register: Register, book: RuleBook, fleet: FleetColumns, question: Question, year: int | None
) -> Iterator[WantedChart]:
    """The charts of units that are in service by the day asked about, at the sites asked about.

    year: charts of this year alone; None: of those that are in hand by rule. Whether a cell is left
    on them after that day is not looked at.
    """
    todays = {one.site: question.on or day_at(one, question.now) for one in fleet.sites}
    asked = {one.site: one for one in fleet.sites if lets_through(question.narrow, one)}
    moves_by_unit = moves_of(register)
    for place, unit in enumerate(fleet.units):
        moves = moves_by_unit.get(unit.property_number, ())
        on = _today(unit, moves, todays)
        if on < unit.in_service_on:
            continue
        ahead = (on + dt.timedelta(days=CHARTS_AHEAD_DAYS)).year
        for one in {on.isocalendar().year, on.year, ahead} if year is None else {year}:
            for site, spans in _places(book, unit, moves, one).items():
                if site in asked:
                    yield WantedChart(place, asked[site], one, spans, on)


def _today(unit: Unit, moves: Sequence[Placement], todays: Mapping[str, dt.date]) -> dt.date:
    """The day asked about where the unit then stands."""
    site = unit.site
    for move in moves:
        if move.from_on <= todays[move.site]:
            site = move.site
    return todays[site]


def _places(
    book: RuleBook, unit: Unit, moves: Sequence[Placement], year: int
) -> dict[str, list[Span]]:
    """The sites where a unit may be marked on its charts of a year, each with its days there."""
    kind = book.kinds.get(unit.kind)
    plans = row_plans(kind, unit.model, year) if kind else None
    found: dict[str, list[Span]] = defaultdict(list)
    if plans is None or not plans.is_chart:
        return found
    for stay in stays(unit, moves):
        span = common((stay.from_on, stay.to_on), paper_span(year), charted(unit))
        if span is not None:
            found[stay.site].append(span)
    return found
