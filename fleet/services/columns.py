"""How does a register become the columns that `schedules` works on?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from fleet.domain.records import Site, Unit
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker
from schedules.calendars import CalendarIndex, SiteCalendar
from schedules.dates import FAR, day_of
from schedules.rulebook import read_book, shipped_book
from schedules.rules import Rule, RuleBook
from schedules.status import Duties
from schedules.units import UnitColumns, UnitSpan

__all__ = ["FleetColumns", "book_of", "fleet_columns"]


def book_of(register: Register) -> RuleBook:
    """The rule book in force: the one that was loaded last, or else the shipped one."""
    return shipped_book() if register.book is None else read_book(register.book.text)


@dataclass(frozen=True, slots=True)
class FleetColumns:
    """Some units of a register, ready to be answered.

    sites: those where the units ever stand, in the numbers their calendars use; units: in the
    places of `columns`; duties: a row a unit × task of the book.
    """

    sites: Sequence[Site]
    units: Sequence[Unit]
    columns: UnitColumns
    duties: Duties
    tasks: Sequence[str]
    """The task of each of the duties' versions."""
    calendars: CalendarMaker

    def index(self, first_on: dt.date, last_on: dt.date) -> CalendarIndex:
        """The calendars of all sites over a span."""
        return CalendarIndex(
            [self.calendar(site, first_on, last_on) for site in self.sites], first_on, last_on
        )

    def calendar(self, site: Site, first_on: dt.date, last_on: dt.date) -> SiteCalendar:
        """One site's calendar, with the years that a search beyond the span may reach."""
        return self.calendars.calendar(site, first_on.year - 2, last_on.year + 2)


def fleet_columns(
    register: Register, book: RuleBook, calendars: CalendarMaker, units: Iterable[Unit]
) -> FleetColumns:
    """Lay out some units; kinds that the book does not know bring no duties."""
    chosen = list(units)
    names = {unit.property_number for unit in chosen}
    stands = {unit.site for unit in chosen} | {
        move.site for move in register.placements.values() if move.property_number in names
    }
    sites = [register.sites[(site,)] for site in sorted(stands)]
    numbers = {site.site: number for number, site in enumerate(sites)}
    spans = _spans(register, chosen, numbers)
    rows: dict[tuple[Rule, ...], list[int]] = defaultdict(list)
    places_of: dict[tuple[str, str], list[list[int]]] = {}
    for place, unit in enumerate(chosen):
        sort = (unit.kind, unit.model)
        if sort not in places_of:
            kind = book.kinds.get(unit.kind)
            tasks = kind.tasks(unit.model).values() if kind else ()
            places_of[sort] = [rows[versions] for versions in tasks]
        for places in places_of[sort]:
            places.append(place)
    groups = list(rows.values())
    starts = np.cumsum([0, *(len(group) for group in groups)]).tolist()
    flat = np.fromiter((place for group in groups for place in group), dtype=np.int64)
    return FleetColumns(
        sites=sites,
        units=chosen,
        columns=UnitColumns.build(spans),
        duties=Duties(list(rows), starts, flat),
        tasks=[versions[0].task for versions in rows],
        calendars=calendars,
    )


def _spans(register: Register, units: Sequence[Unit], numbers: dict[str, int]) -> list[UnitSpan]:
    moves: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for placement in register.placements.values():
        if placement.site not in numbers:
            continue  # It is no move of these units, whose sites all have numbers.
        move = (day_of(placement.from_on), numbers[placement.site])
        moves[placement.property_number].append(move)
    outages: dict[str, list[tuple[int, int]]] = defaultdict(list)
    for outage in register.outages.values():
        end = FAR if outage.to_on is None else day_of(outage.to_on)
        outages[outage.property_number].append((day_of(outage.from_on), end))
    return [
        UnitSpan(
            in_service=day_of(unit.in_service_on),
            retired=FAR if unit.retired_on is None else day_of(unit.retired_on),
            record_from=day_of(unit.record_from_on or unit.in_service_on),
            calendar=numbers[unit.site],
            moves=tuple(sorted(moves[unit.property_number])),
            outages=tuple(sorted(outages[unit.property_number])),
        )
        for unit in units
    ]
