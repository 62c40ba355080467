"""Which charts of a year are asked for, and which units have none?

A unit has a chart at each site where it may be marked on a day of the year: in service there, and
within its record. It may have one too where it is only on days of the year's weeks that are none
of the year; whether a week closes there is told once its cells are made.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from fleet.domain.records import Placement, Site, Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault
from fleet.services.charts.periods import paper_span
from fleet.services.charts.rows import RowPlans, row_plans
from fleet.services.narrow import lets_through, numbers_now
from fleet.services.questions import Narrow
from fleet.services.stays import Span, charted, common, moves_of, stays
from schedules.rules import FIRST_YEAR, LAST_YEAR, Kind, RuleBook

__all__ = ["AskedChart", "AskedCharts", "ChartQuestion", "asked_charts"]


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartQuestion:
    """Which charts are asked for: those of a year, of some units, of what `narrow` lets through.

    on: the day the record is looked at; None: today at each site at instant `now`, or at the one it
    is known at if that is earlier. numbers: property numbers, former ones too; of `narrow` tasks
    and states do not count.
    """

    year: int
    now: dt.datetime
    on: dt.date | None = None
    known_at: dt.datetime | None = None
    numbers: tuple[str, ...] = ()
    narrow: Narrow = field(default_factory=Narrow)


class AskedChart(NamedTuple):
    """One unit's chart at one site, before anything is looked up for it."""

    unit: Unit
    kind: Kind
    site: Site
    plans: RowPlans
    is_of_weeks: bool
    """It may be marked there only on days of the year's weeks that are none of the year."""


@dataclass(frozen=True, slots=True)
class AskedCharts:
    """The charts in the order they are answered in, and why other units have none, in sentences.

    nothing_left: why there is no chart at all, if none `is_of_weeks` turns out to have a cell.
    """

    charts: Sequence[AskedChart]
    passed_over: Sequence[str]
    nothing_left: Sequence[Fault]


def asked_charts(register: Register, book: RuleBook, asked: ChartQuestion) -> AskedCharts:
    """The charts by county, site and property number.

    Raises BadInput for a year out of reach, for property numbers nobody bears or bore, and where no
    chart is left.
    """
    if not FIRST_YEAR <= asked.year <= LAST_YEAR:
        mend = f"give a year from {FIRST_YEAR} to {LAST_YEAR}"
        raise BadInput([Fault("--year", None, None, f"{asked.year} is out of reach", mend)])
    chooser, units = _Chooser(register, book, asked), _units(register, asked)
    for unit in units:
        chooser.choose(unit)
    charts = chooser.charts
    faults = [] if any(not one.is_of_weeks for one in charts) else chooser.nothing_left(units)
    if not charts:
        raise BadInput(faults)
    charts.sort(key=lambda one: (one.site.county, one.site.site, one.unit.property_number))
    return AskedCharts(charts, list(chooser.passed_over()), faults)


def _units(register: Register, asked: ChartQuestion) -> list[Unit]:
    """The units that the numbers and kinds of a question mean."""
    kinds = {kind.casefold() for kind in asked.narrow.kinds}
    found = list(register.units.values())
    if asked.numbers:
        numbers = dict.fromkeys(numbers_now(register, asked.numbers))
        found = [register.units[(number,)] for number in numbers]
    return [unit for unit in found if not kinds or unit.kind.casefold() in kinds]


class _Chooser:
    def __init__(self, register: Register, book: RuleBook, asked: ChartQuestion) -> None:
        self._register, self._book, self._year = register, book, asked.year
        self._moves: Mapping[str, Sequence[Placement]] = moves_of(register)
        self._sites = {
            site.site: site for site in register.sites.values() if lets_through(asked.narrow, site)
        }
        self.charts: list[AskedChart] = []
        self._plans: dict[tuple[str, str], RowPlans | None] = {}
        self._without = Counter[str]()

    def choose(self, unit: Unit) -> None:
        """Take a unit's charts of the year, or count it among those without."""
        plans = self._plans_of(unit)
        in_year = self._places(unit, (dt.date(self._year, 1, 1), dt.date(self._year, 12, 31)))
        if plans is None or not plans.is_chart:
            if in_year:
                self._without[unit.kind] += 1
            return
        kind, whole = self._book.kinds[unit.kind], paper_span(self._year)
        for site in self._places(unit, whole):
            is_of_weeks = site not in in_year
            self.charts.append(AskedChart(unit, kind, self._sites[site], plans, is_of_weeks))

    def _places(self, unit: Unit, whole: Span) -> list[str]:
        """The sites asked about where a unit may be marked within a span, each once."""
        places = (site for site, span in self._spans(unit) if common(span, whole))
        return list(dict.fromkeys(places))

    def _spans(self, unit: Unit) -> Iterator[tuple[str, Span]]:
        """The sites asked about where a unit may be marked, and when."""
        for stay in stays(unit, self._moves.get(unit.property_number, ())):
            span = common((stay.from_on, stay.to_on), charted(unit))
            if span is not None and stay.site in self._sites:
                yield stay.site, span

    def _plans_of(self, unit: Unit) -> RowPlans | None:
        sort = unit.kind, unit.model
        if sort not in self._plans:
            kind = self._book.kinds.get(unit.kind)
            self._plans[sort] = row_plans(kind, unit.model, self._year) if kind else None
        return self._plans[sort]

    def passed_over(self) -> Iterator[str]:
        """A sentence for each kind with units that have no chart."""
        for what, mend in self._reasons():
            yield f"{what}, so no chart: {mend}"

    def _reasons(self) -> Iterator[tuple[str, str]]:
        """What is the case with each kind without charts, and what to do about it."""
        for kind, count in sorted(self._without.items()):
            units = f"{count} unit{'' if count == 1 else 's'} of kind {kind}"
            if kind in self._book.kinds:
                has = "has" if count == 1 else "have"
                due = f"what is due of {'it' if count == 1 else 'them'} by date is in"
                yield (
                    f"{units} {has} nothing to mark by day, week or month",
                    f"{due} `dueward due --kind {kind}`",
                )
            else:
                yield f"{units}: the rule book has no such kind", "load one that has it"

    def nothing_left(self, units: Sequence[Unit]) -> list[Fault]:
        """Why there is no chart at all."""
        if not self._register.units:
            mend = "load some files first"
            return [Fault("chart", None, None, "there is no unit yet", mend)]
        if self._without:
            return [Fault("chart", None, None, what, mend) for what, mend in self._reasons()]
        spans = [span for unit in units for _, span in self._spans(unit)]
        if not spans:
            problem = "no unit is all that was asked for"
            return [Fault("chart", None, None, problem, "ask for less at once")]
        first, last = min(span[0].year for span in spans), max(span[1].year for span in spans)
        years = f"from {first} on" if last == dt.date.max.year else f"from {first} to {last}"
        problem = f"no unit asked for was in service in {self._year}"
        return [Fault("--year", None, None, problem, f"give a year {years}")]
