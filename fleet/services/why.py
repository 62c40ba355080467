"""Why is this unit due when it is? One row of `due`, and the way to it in sentences (design 6)."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict

import numpy as np

from fleet.domain.answers import StatusRow
from fleet.domain.numbers import formers_of, present_numbers
from fleet.domain.records import Site, Unit
from fleet.domain.register import Register
from fleet.errors import NotFound, Unanswered
from fleet.services.columns import FleetColumns
from fleet.services.due import Sheet, answer_sheet, sheets
from fleet.services.extensions import extension_words, in_force_of
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Explanation, Question
from notifications.digests.words import joined
from schedules.cells import in_force
from schedules.dates import NEVER, day_of
from schedules.explain import cell_words, dated_steps, dated_words, in_words, rule_words
from schedules.rules import DueAfter, Rule
from schedules.status import prepare

__all__ = ["explain_row", "unit_of"]

Facts = dict[str, str | int | None]


def unit_of(register: Register, property_number: str) -> Unit:
    """The unit of a property number, present or former; NotFound otherwise."""
    present = present_numbers(register.renumberings.values())
    unit = register.units.get((present.get(property_number, property_number),))
    if unit is None:
        raise NotFound("unit", property_number, "property numbers are written as in the units file")
    return unit


def explain_row(
    record: Record,
    public_holidays: PublicHolidays,
    property_number: str,
    task: str,
    question: Question,
) -> Explanation:
    """Answer for one unit × task.

    Raises NotFound where there is no such unit, task or rule in force, Unanswered where its due
    date cannot be told, as for a site that never opens.
    """
    register = record.register(question.known_at)
    unit = unit_of(register, property_number)
    (sheet,) = sheets(record, public_holidays, question, [unit])
    fleet, on = sheet.fleet, sheet.on
    if task not in fleet.tasks:
        raise NotFound("task", task, f"a {unit.kind} has: {', '.join(sorted(fleet.tasks))}")
    place = fleet.tasks.index(task)
    rule = in_force(fleet.duties.versions[place], day_of(on))
    if rule is None:
        raise NotFound("rule", task, f"no version of it is in force on {on}")
    rows, failures = answer_sheet(sheet)
    if place in failures:
        raise Unanswered(failures[place])
    row = rows[place]
    facts, words = _reasons(sheet, place, rule, row)
    site = fleet.sites[int(fleet.columns.calendars_on(day_of(on))[0])]
    granted = in_force_of(row, sheet.extensions.get((unit.property_number, task), ()), on)
    if granted is not None:
        words.append(extension_words(granted))
    formers = formers_of(register.renumberings.values(), unit.property_number)
    stands = _standing_words(unit, formers, site, on)
    steps = [stands, rule_words(rule), *words, _answer_words(row, on)]
    return Explanation(row, facts, steps, list(rule.cautions))


def _reasons(sheet: Sheet, place: int, rule: Rule, row: StatusRow) -> tuple[Facts, list[str]]:
    if row.state in ("retired", "not in service yet", "out of service"):
        return {}, []
    fleet, on = sheet.fleet, sheet.on
    prepared = prepare(fleet.duties, fleet.columns, sheet.marks, day_of(on))
    first_on, last_on = prepared.span()
    site = fleet.sites[int(fleet.columns.calendars_on(day_of(on))[0])]
    calendar = fleet.calendar(site, first_on, last_on)
    if rule.each is not None:
        own = (row.opens, row.limit) if row.opens and row.limit else None
        done = row.state == "done"
        return {}, cell_words(rule, own, done, row.missed or 0, calendar, on)
    event, sorts = _event(fleet, rule, day_of(on))
    steps = dated_steps(
        rule,
        fleet.columns,
        fleet.index(first_on, last_on),
        sheet.marks.done_days(place, 1)[1].tolist(),
        event,
        day_of(on),
    )
    facts = {name: _plain(value) for name, value in asdict(steps).items() if name not in _IN_ROW}
    in_service_on = fleet.units[0].in_service_on
    return facts, dated_words(rule, steps, sorts, calendar, in_service_on, row.last_done)


_IN_ROW = ("due", "limit", "opens")
"""The steps' values that stand in the row of `due` already."""


def _plain(value: object) -> str | int | None:
    if isinstance(value, dt.date):
        return value.isoformat()
    return value if isinstance(value, int | None) else str(value)


def _event(fleet: FleetColumns, rule: Rule, on: int) -> tuple[int, list[DueAfter]]:
    """The latest event the rule names, from the start of service to the day, and its sort.

    NEVER for none; two sorts where both fall on that day.
    """
    columns = fleet.columns
    named = {
        name: int(np.max(runs.latest(on), initial=NEVER))
        for name, runs in ((DueAfter.MOVED, columns.moves), (DueAfter.REPAIRED, columns.returns))
        if name in rule.due_after
    }
    latest = max(named.values(), default=NEVER)
    if latest < int(columns.in_service[0]):
        return NEVER, []
    return latest, [name for name, day in named.items() if day == latest]


def _standing_words(unit: Unit, formers: list[str], site: Site, on: dt.date) -> str:
    model = f"{unit.manufacturer} {unit.model}".strip()
    formerly = f"formerly {joined(formers)}; " if formers else ""
    what = f"Unit {unit.property_number} ({formerly}{unit.kind}{', ' + model if model else ''})"
    if on < unit.in_service_on:
        return f"{what} enters service on {in_words(unit.in_service_on)} at {site.name}."
    since = f"has been in service since {in_words(unit.in_service_on)}"
    return f"{what} {since} and stands at {site.name}, {site.county}, on {in_words(on)}."


def _answer_words(row: StatusRow, on: dt.date) -> str:
    counted = ""
    if row.state == "overdue" and row.missed:
        counted = f", {row.missed} missed"
        if row.basis == "cell":
            counted = f", {row.missed} {'mark' if row.missed == 1 else 'marks'} missing"
    if row.days_past_due:
        counted += f", {_days(row.days_past_due)} past its due date"
        counted += f" ({_days(row.open_days_past_due or 0, 'open ')})"
    return f"So on {in_words(on)} it is {row.state}{counted}."


def _days(count: int, sort: str = "") -> str:
    return f"{count} {sort}day{'' if count == 1 else 's'}"
