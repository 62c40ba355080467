"""What does an act of a unit's life answer with: what stands now, what to do, what is due next?"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

import numpy as np

from fleet.domain.answers import StatusRow
from fleet.domain.records import Role, Unit
from fleet.domain.register import Register
from fleet.errors import Doubtful
from fleet.services.calendars import FOR_GOOD_ON
from fleet.services.columns import book_of
from fleet.services.due import answer_sheet, sheets
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from notifications.digests.words import day, joined, month
from schedules.dates import add_months, date_of, day_of
from schedules.rules import Rule

__all__ = [
    "FAR_AHEAD_DAYS",
    "Act",
    "answered",
    "before_use",
    "charted_tasks",
    "closed_for_good_on",
    "kept_until",
    "mark_command",
    "named",
    "readers_at",
    "refuse_doubts",
    "reopened_words",
    "rules_of",
]

FAR_AHEAD_DAYS = 366
"""What is dated later than this is probably a slip of the keyboard."""
_RETENTION_MONTHS = 24


@dataclass(frozen=True, slots=True)
class Act:
    """What was done; the sentences say it to people, the facts to programs."""

    facts: Mapping[str, str | dt.date | None]
    said: list[str]
    todo: list[str]
    """What to do now, the first thing first."""
    rows: list[StatusRow] = field(default_factory=list)
    """What is due next of the unit."""


def refuse_doubts(doubts: Iterator[str], *, anyway: bool) -> None:
    """Raise the first doubt, unless the person says that it is meant."""
    for doubt in doubts if not anyway else ():
        raise Doubtful(doubt)


def answered(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    now: dt.datetime,
    on: dt.date | None = None,
) -> list[StatusRow]:
    """The rows of `due` of one unit, on a day or today where it stands."""
    question = Question(now=now, on=on)
    return [
        row
        for sheet in sheets(record, public_holidays, question, [unit])
        for row in answer_sheet(sheet)[0].values()
    ]


def rules_of(register: Register, unit: Unit, on: dt.date) -> dict[str, Rule]:
    """The version in force on a day of each task of a unit."""
    kind = book_of(register).kinds.get(unit.kind)
    tasks = kind.tasks(unit.model) if kind else {}
    found = ((task, [v for v in versions if v.speaks_on(on)]) for task, versions in tasks.items())
    return {task: speaking[0] for task, speaking in found if speaking}


def charted_tasks(register: Register, unit: Unit, on: dt.date) -> list[str]:
    """The tasks that have cells on a unit's chart."""
    return [task for task, rule in rules_of(register, unit, on).items() if rule.each is not None]


def before_use(rule: Rule, on: dt.date, property_number: str) -> str:
    """A check that is to be done before a unit is used."""
    command = mark_command(property_number, rule.task, on)
    return f"Before it is used: {rule.title}; then {command}"


def mark_command(property_number: str, task: str, on: dt.date) -> str:
    """The command that says a task was done."""
    unit, named_task = shlex.quote(property_number), shlex.quote(task)
    return f"dueward mark {unit} {named_task} --on {on} --as done --initials ..."


def named(unit: Unit, typed: str) -> str:
    """A unit as a sentence begins with it; a former number that was typed is told."""
    formerly = f" (formerly {typed})" if typed != unit.property_number else ""
    return f"Unit {unit.property_number}{formerly}"


def readers_at(register: Register, site: str) -> str:
    """Who answers for a site: 'Lee Alderman (site lead) and Noor Northgate (consultant)'."""
    place = register.sites[(site,)]
    found: dict[str, str] = {}
    for role in (Role.SITE_LEAD, Role.CONSULTANT):
        of_role = [p for p in register.people.values() if p.role is role]
        for person in of_role:
            is_of_site = person.site == site if role is Role.SITE_LEAD else not person.site
            if is_of_site and person.region in ("", place.region):
                found.setdefault(person.email, f"{person.name or person.email} ({role.value})")
    if place.lead_email:
        found.setdefault(place.lead_email, f"{place.lead_email} ({Role.SITE_LEAD.value})")
    return joined(list(found.values()))


def reopened_words(
    register: Register, sites: set[str], from_on: dt.date, to_on: dt.date
) -> Iterator[str]:
    """What becomes of the reviews of the months from one day to another at some sites."""
    for review in register.reviews.values():
        is_within = f"{from_on:%Y-%m}" <= review.month <= f"{to_on:%Y-%m}"
        if review.site not in sites or not is_within:
            continue
        name = month(dt.date.fromisoformat(f"{review.month}-01"))
        if review.reviewed_on is not None:
            signed = f"was signed by {review.reviewed_by} on {day(review.reviewed_on)}"
            yield f"{name} at {review.site} {signed}; this reopens it: look at it again and sign it"
        else:
            yield f"{name} at {review.site} is under review; tell the reviewer of this change"


def closed_for_good_on(register: Register, site: str, on: dt.date) -> dt.date | None:
    """The day from which a site is closed for good, where that has come by `on`."""
    ends = [
        closure.from_on
        for closure in register.closures.values()
        if closure.site == site and not closure.open and closure.to_on == FOR_GOOD_ON
        if closure.from_on <= on
    ]
    return min(ends, default=None)


def kept_until(on: dt.date) -> dt.date:
    """The last day of the two years that records are kept at least (42 CFR 493.1105(a)(3)).

    A record of 26 November 2024 is kept through 26 November 2026.
    """
    return date_of(int(add_months(np.array([day_of(on)], dtype=np.int32), _RETENTION_MONTHS)[0]))
