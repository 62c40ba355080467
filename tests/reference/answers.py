"""What is the status of each duty, where are the gaps, and by which steps (design 4 and 6)?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import NamedTuple

from tests.reference.calendars import RefCalendar, RefNoOpenDay
from tests.reference.cells import cell_of_day, expected_cells, gap_run
from tests.reference.records import RefFleet, RefRule
from tests.reference.timed import RefSteps, anchored_steps, fixed_steps, missed_occurrences
from tests.reference.units import UnitOfFleet

__all__ = ["RefAnswer", "RefError", "RefGap", "RefRow", "gaps", "status", "steps"]


@dataclass(frozen=True, kw_only=True)
class RefRow:
    """One unit × task on one day; the fields, in order, are those of design section 6."""

    site: str
    county: str
    region: str
    property_number: str
    kind: str
    task: str
    basis: str
    state: str
    last_done: dt.date | None
    nominal: dt.date | None = None
    opens: dt.date | None = None
    due: dt.date | None = None
    limit: dt.date | None = None
    days_past_due: int | None = None
    open_days_past_due: int | None = None
    missed: int | None = None


class RefError(NamedTuple):
    """A unit × task that has no answer, and why."""

    property_number: str
    task: str
    message: str


class RefAnswer(NamedTuple):
    """The rows that have an answer, and those that have none."""

    rows: list[RefRow]
    errors: list[RefError]


class RefGap(NamedTuple):
    """An expected cell that closed with no mark; all four dates are included."""

    property_number: str
    task: str
    period_from: dt.date
    period_to: dt.date
    opens: dt.date
    closes: dt.date


class _Dates(NamedTuple):
    """The changing part of a row: state, nominal, opens, due, limit, day counts, missed."""

    state: str
    nominal: dt.date | None = None
    opens: dt.date | None = None
    due: dt.date | None = None
    limit: dt.date | None = None
    days_past_due: int | None = None
    open_days_past_due: int | None = None
    missed: int | None = None


def status(fleet: RefFleet, on: dt.date, known_at: dt.datetime | None = None) -> RefAnswer:
    """One row a unit × task for which a version is in force, units then tasks in their order."""
    rows, errors = [], []
    for of in _units(fleet, known_at):
        for task in of.tasks():
            rule = of.version_on(task, on)
            if rule is None:
                continue
            try:
                rows.append(_row(of, rule, on))
            except RefNoOpenDay as error:
                errors.append(RefError(of.unit.property_number, task, str(error)))
    return RefAnswer(rows, errors)


def gaps(
    fleet: RefFleet,
    from_on: dt.date,
    to_on: dt.date,
    on: dt.date,
    known_at: dt.datetime | None = None,
) -> list[RefGap]:
    """The gaps whose closing day lies within from..to, both included, and before `on`."""
    return [
        RefGap(
            of.unit.property_number, task, cell.period_from, cell.period_to, cell.opens, cell.closes
        )
        for of in _units(fleet, known_at)
        for task in of.tasks()
        for cell in expected_cells(of, task, on)
        if cell.is_gap(on) and from_on <= cell.closes <= to_on
    ]


def steps(
    fleet: RefFleet,
    property_number: str,
    task: str,
    on: dt.date,
    known_at: dt.datetime | None = None,
) -> RefSteps | None:
    """The steps of an anchored or fixed rule; None for cells and where no dates are shown.

    Raises RefNoOpenDay as the row would.
    """
    (of,) = [u for u in _units(fleet, known_at) if u.unit.property_number == property_number]
    rule = of.version_on(task, on)
    if rule is None or rule.basis == "cell" or _absence(of, on) is not None:
        return None
    return anchored_steps(of, rule, on) if rule.basis == "anchored" else fixed_steps(of, rule, on)


def _units(fleet: RefFleet, known_at: dt.datetime | None) -> list[UnitOfFleet]:
    calendars = {site.site: RefCalendar(fleet, site) for site in fleet.sites}
    return [UnitOfFleet(fleet, unit, calendars, known_at) for unit in fleet.units]


def _row(of: UnitOfFleet, rule: RefRule, on: dt.date) -> RefRow:
    site = of.calendar_on(on).site
    done = of.done_dates(rule.task, on)
    return RefRow(
        site=site.site,
        county=site.county,
        region=site.region,
        property_number=of.unit.property_number,
        kind=of.unit.kind,
        task=rule.task,
        basis=rule.basis,
        last_done=done[-1] if done else None,
        **_dates(of, rule, on)._asdict(),
    )


def _dates(of: UnitOfFleet, rule: RefRule, on: dt.date) -> _Dates:
    absence = _absence(of, on)
    if absence is not None:
        return _Dates(absence)
    if rule.basis == "cell":
        return _cell_dates(of, rule, on)
    if rule.basis == "anchored":
        return _timed_dates(of, anchored_steps(of, rule, on), on, None)
    missed = missed_occurrences(of, rule, on)
    return _timed_dates(of, fixed_steps(of, rule, on), on, missed)


def _absence(of: UnitOfFleet, on: dt.date) -> str | None:
    """The states that leave the dates empty, the first that holds; None where none does."""
    if of.is_retired(on):
        return "retired"
    if on < of.start_on:
        return "not in service yet"
    return None if of.outage_on(on) is None else "out of service"


def _timed_dates(of: UnitOfFleet, found: RefSteps, on: dt.date, missed: int | None) -> _Dates:
    if found.due is None or found.limit is None or found.opens is None:
        return _Dates("upcoming", missed=missed)
    has_opened, is_late = on >= found.opens, on > found.limit
    state = "upcoming" if not has_opened else "overdue" if is_late else "due"
    return _Dates(
        state,
        found.nominal_after_step_4,
        found.opens,
        found.due,
        found.limit,
        max(0, (on - found.due).days),
        of.calendar_on(on).open_days_in(found.due, on),
        missed,
    )


def _cell_dates(of: UnitOfFleet, rule: RefRule, on: dt.date) -> _Dates:
    cells = expected_cells(of, rule.task, on)
    own = cell_of_day(of, rule, cells, on)
    run = gap_run(cells, on)
    if own is not None and own.is_filled:
        state = "done"
    elif run > 0:
        state = "overdue"
    else:
        state = "due" if own is not None and own.opens <= on <= own.closes else "upcoming"
    return _Dates(
        state,
        opens=own.opens if own else None,
        limit=own.closes if own else None,
        missed=run if state == "overdue" else 0,
    )
