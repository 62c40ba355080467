"""How does a new unit enter service?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleet.domain.numbers import present_numbers
from fleet.domain.records import Entry, Mark, Unit
from fleet.domain.register import Register
from fleet.domain.texts import NAME_LENGTH, WORD_LENGTH
from fleet.services.life.acts import (
    FAR_AHEAD_DAYS,
    Act,
    answered,
    charted_tasks,
    closed_for_good_on,
    mark_command,
    refuse_doubts,
    rules_of,
)
from fleet.services.mark import mark
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, checked_text, refused
from fleet.services.standing import day_at
from notifications.digests.words import day

__all__ = ["Serviced", "issue"]

_ACT = "issue"


@dataclass(frozen=True, slots=True)
class Serviced:
    """The central service of a unit before its issue; an empty task means the vendor's only one."""

    on: dt.date
    task: str = ""
    initials: str = ""


def issue(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    serviced: Serviced | None,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Put a new unit into service at a site, with the service it had before as its first anchor.

    The same unit again answers with what stands. Raises BadInput for a number that a unit bears or
    has borne, an unknown kind or site; Doubtful unless `anyway`. The caller commits.
    """
    unit = _checked(unit)
    register = record.register()
    is_new = register.units.get(unit.key) != unit
    if is_new:
        _refuse_borne(register, unit)
        refuse_doubts(_doubts(register, unit, stamp), anyway=anyway)
        change_register(record, public_holidays, _ACT, [unit], stamp)
        register = record.register()
    if serviced is not None:
        entry = _service_entry(register, unit, serviced)
        mark(record, public_holidays, entry, anyway=anyway, stamp=stamp)
    site = register.sites[(unit.site,)]
    on = max(unit.in_service_on, day_at(site, stamp.at))
    stands = "is" if is_new else "was already"
    what = " ".join(filter(None, (unit.manufacturer, unit.model))) or unit.kind
    said = (
        f"Unit {unit.property_number} ({what}) {stands} issued to {site.name} ({site.site}), in"
        f" service from {day(unit.in_service_on)}."
    )
    return Act(
        facts={
            "property_number": unit.property_number,
            "kind": unit.kind,
            "site": unit.site,
            "in_service_on": unit.in_service_on,
        },
        said=[said],
        todo=list(_todo(register, unit, serviced)),
        rows=answered(record, public_holidays, unit, stamp.at, on),
    )


def _checked(unit: Unit) -> Unit:
    """A unit whose words and dates a file could hold."""
    words = {}
    for name in ("property_number", "kind", "manufacturer", "model", "serial", "site"):
        most = WORD_LENGTH if name in ("property_number", "kind", "site") else NAME_LENGTH
        words[name] = checked_text(_ACT, name, getattr(unit, name).strip(), most)
    if not words["property_number"]:
        raise refused(_ACT, "property_number", "the unit has no number", "write its number")
    start = unit.in_service_on
    if unit.record_from_on is not None and unit.record_from_on < start:
        problem = f"{unit.record_from_on} is before the unit enters service on {start}"
        raise refused(_ACT, "record-from", problem, "leave it out if the record begins that day")
    return replace(unit, **words)  # type: ignore[arg-type]


def _refuse_borne(register: Register, unit: Unit) -> None:
    number = unit.property_number
    present = present_numbers(register.renumberings.values()).get(number, number)
    standing = register.units.get((present,))
    if standing is None:
        return
    if present != number:
        problem = f"'{number}' is a former number of unit {present}"
        raise refused(_ACT, "property_number", problem, "give it a number that no unit has borne")
    problem = f"unit {number} stands already, a {standing.kind} issued to {standing.site}"
    problem += f" on {standing.in_service_on}"
    mend = "to change what is known of it, load its row of units; to move it: dueward move"
    raise refused(_ACT, "property_number", problem, mend)


def _doubts(register: Register, unit: Unit, stamp: Stamp) -> Iterator[str]:
    site = register.sites.get((unit.site,))
    if site is None:
        return
    today = day_at(site, stamp.at)
    if (unit.in_service_on - today).days > FAR_AHEAD_DAYS:
        yield f"{unit.in_service_on} is more than a year ahead (today is {today})"
    closed_on = closed_for_good_on(register, unit.site, unit.in_service_on)
    if closed_on is not None:
        yield f"site {unit.site} is closed for good from {closed_on} on"
    for other in register.units.values():
        is_same = (other.manufacturer, other.serial) == (unit.manufacturer, unit.serial)
        if unit.serial and is_same and other.kind == unit.kind:
            yield f"serial {unit.serial} is that of unit {other.property_number}"


def _service_entry(register: Register, unit: Unit, serviced: Serviced) -> Entry:
    """The service before issue as an entry, always under the same key, so that twice is once."""
    if serviced.on > unit.in_service_on:
        problem = f"{serviced.on} is after the unit enters service on {unit.in_service_on}"
        mend = f"mark it: {mark_command(unit.property_number, 'TASK', serviced.on)}"
        raise refused(_ACT, "serviced-on", problem, mend)
    tasks = [task for task, rule in rules_of(register, unit, serviced.on).items() if rule.vendor]
    task = serviced.task or (tasks[0] if len(tasks) == 1 else "")
    if not task:
        count = "no service" if not tasks else "several services"
        known = ", ".join(tasks) or ", ".join(rules_of(register, unit, serviced.on))
        problem = f"a {unit.kind} has {count} by a vendor"
        raise refused(_ACT, "serviced-on", problem, f"say which with --serviced-task: {known}")
    return Entry(
        key=f"{unit.property_number}/{task}/{serviced.on}/1",
        property_number=unit.property_number,
        task=task,
        on=serviced.on,
        mark=Mark.DONE,
        initials=serviced.initials,
    )


def _todo(register: Register, unit: Unit, serviced: Serviced | None) -> Iterator[str]:
    start = unit.in_service_on
    charted = charted_tasks(register, unit, start)
    if charted:
        yield f"A chart for {start.year} is wanted: {', '.join(charted)}."
    vendor = [task for task, rule in rules_of(register, unit, start).items() if rule.vendor]
    if vendor and serviced is None:
        command = mark_command(unit.property_number, vendor[0], start).replace(str(start), "DATE")
        yield f"If it was serviced before its issue, say when, or it counts from issue: {command}"
