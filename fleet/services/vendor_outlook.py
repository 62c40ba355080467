"""What will vendors have to do month by month, and what did their visits cost against the plan?

Counted are the next services of each unit: what comes after them is not due yet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from fleet.domain.answers import StatusRow
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, VisitState
from fleet.services.columns import book_of
from fleet.services.months import month_of
from fleet.services.readings import rule_on
from fleet.services.visits.kept_plan import trips_of
from fleet.services.visits.numbers import unit_and_task
from schedules.rules import Rule, RuleBook
from schedules.visits.told import ToldPlan

__all__ = ["DueSum", "MonthLine", "SpentLine", "by_kind", "months_ahead", "spent"]

_MONTHS = 12


@dataclass(slots=True)
class DueSum:
    """Some vendor services together, at the rule book's minutes and fees."""

    services: int = 0
    overdue: int = 0
    minutes: int = 0
    fee_cents: int = 0

    def add(self, rule: Rule, *, is_overdue: bool) -> None:
        """Count one more."""
        self.services += 1
        self.overdue += is_overdue
        self.minutes += rule.minutes or 0
        self.fee_cents += rule.fee_cents or 0


@dataclass(slots=True)
class MonthLine(DueSum):
    """The vendor services that fall due in one month; month '' for those that are overdue."""

    month: str = ""
    kinds: dict[str, DueSum] = field(default_factory=dict)
    """By the kind's name, the most first."""


def by_kind(lines: Iterable[MonthLine]) -> dict[str, DueSum]:
    """The services of some months together, by the kind's name, the most first."""
    sums: dict[str, DueSum] = {}
    for line in lines:
        for name, one in line.kinds.items():
            whole = sums.setdefault(name, DueSum())
            whole.services += one.services
            whole.overdue += one.overdue
            whole.minutes += one.minutes
            whole.fee_cents += one.fee_cents
    return _most_first(sums)


def _most_first(sums: dict[str, DueSum]) -> dict[str, DueSum]:
    return dict(sorted(sums.items(), key=lambda one: (-one[1].services, one[0])))


def months_ahead(register: Register, rows: Iterable[StatusRow], on: dt.date) -> list[MonthLine]:
    """What is overdue, then the next twelve months, this one first; each unit's next service."""
    book, names = book_of(register), [""]
    first = on.replace(day=1)
    for _ in range(_MONTHS):
        names.append(month_of(first))
        first = (first + dt.timedelta(days=31)).replace(day=1)
    lines = {name: MonthLine(month=name) for name in names}
    for row in rows:
        rule = _vendor_rule(register, book, row.property_number, row.task, on)
        if rule is None or row.due is None or row.state not in ("upcoming", "due", "overdue"):
            continue
        is_overdue = row.state == "overdue"
        name = "" if is_overdue else month_of(max(row.due, on))
        if (line := lines.get(name)) is not None:
            line.add(rule, is_overdue=is_overdue)
            kind = line.kinds.setdefault(book.kinds[row.kind].name, DueSum())
            kind.add(rule, is_overdue=is_overdue)
    for line in lines.values():
        line.kinds = _most_first(line.kinds)
    return list(lines.values())


def _vendor_rule(
    register: Register, book: RuleBook, number: str, task: str, on: dt.date
) -> Rule | None:
    """The rule of a unit's task, where a vendor does it."""
    unit = register.units.get((number,))
    kind = book.kinds.get(unit.kind) if unit is not None else None
    rule = rule_on(kind.tasks(unit.model).get(task, ()), on) if kind and unit else None
    return rule if rule is not None and rule.vendor else None


@dataclass(slots=True)
class SpentLine:
    """One month of a plan: what was planned for it, and what of it was made.

    Road money is that of whole trips, in the month a trip starts: of trips whose every stop was
    made or fell out. Fees are the rule book's, of each service that was reported.
    """

    month: str
    trips: int = 0
    trips_made: int = 0
    road_cents: int = 0
    road_made_cents: int = 0
    services: int = 0
    services_made: int = 0
    fee_cents: int = 0
    fee_made_cents: int = 0


def spent(register: Register, plan: str, told: ToldPlan, on: dt.date) -> list[SpentLine]:
    """A plan's months: planned against made; sums are for whoever shows them."""
    lines: dict[str, SpentLine] = {}
    visits = [one for one in register.visits.values() if one.plan == plan]
    made_of = {
        (key.technician, key.start_on): all(v.state is not VisitState.PLANNED for v in some)
        and any(v.state is VisitState.DONE for v in some)
        for key, some in trips_of(register, visits).items()
    }
    for trip in told.trips:
        line = lines.setdefault(month_of(trip.starts_on), SpentLine(month_of(trip.starts_on)))
        road = trip.costs.total - trip.costs.lost_days - trip.costs.changes
        is_made = made_of.get((trip.technician, trip.starts_on), False)
        line.trips += 1
        line.road_cents += road
        line.trips_made += is_made
        line.road_made_cents += road if is_made else 0
    _add_services(register, visits, lines, on)
    return [lines[name] for name in sorted(lines)]


def _add_services(
    register: Register, visits: Sequence[SiteVisit], lines: dict[str, SpentLine], on: dt.date
) -> None:
    """Count the services of visits that stand or were made, with their fees."""
    book = book_of(register)
    for visit in visits:
        if visit.state is VisitState.CANCELLED:
            continue
        line = lines.setdefault(month_of(visit.trip_on), SpentLine(month_of(visit.trip_on)))
        for name in visit.need_names:
            number, task = unit_and_task(name)
            rule = _vendor_rule(register, book, number, task, on)
            fee = rule.fee_cents or 0 if rule is not None else 0
            is_made = visit.state is VisitState.DONE and name not in visit.reasons
            line.services += 1
            line.fee_cents += fee
            line.services_made += is_made
            line.fee_made_cents += fee if is_made else 0
