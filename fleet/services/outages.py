"""How does a unit go out of service, and come back?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from operator import attrgetter

from fleet.domain.records import Entry, Outage, Unit
from fleet.domain.register import Register
from fleet.services.columns import book_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, reason_given, refused
from schedules.rules import Rule

__all__ = [
    "begin_outage",
    "cell_marks",
    "day_out",
    "end_outage",
    "first_day_out",
    "live_cell_marks",
    "outage_on",
    "outages_of",
]

_ONE_DAY = dt.timedelta(days=1)


def begin_outage(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    on: dt.date,
    reason: str,
    stamp: Stamp,
) -> Outage:
    """Put a unit out of service from `on` until it is brought back.

    The same day and reason again answer with the outage that stands. Raises BadInput where the
    unit is out of service on that day already, or will be later. The caller commits.
    """
    reason = reason_given("broken", reason)
    outage = Outage(property_number=unit.property_number, from_on=on, to_on=None, reason=reason)
    register = record.register()
    standing = outage_on(register, unit, on)
    if standing == outage:
        return standing
    if standing is not None:
        number, ends_on = unit.property_number, standing.to_on
        until = f", until {ends_on}" if ends_on else ""
        problem = f"unit {number} is out of service since {standing.from_on}{until} already"
        mend = f"bring it back first: dueward back {number} --on DATE"
        raise refused("broken", "on", f"{problem} ({standing.reason})", mend)
    change_register(record, public_holidays, "broken", [outage], stamp)
    return outage


def end_outage(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    back_on: dt.date,
    stamp: Stamp,
) -> Outage:
    """Bring a unit back into service: on `back_on` it is in service again.

    The same day again answers with the outage as it stands. Raises BadInput where the unit has no
    outage to end, or `back_on` is not after the outage's first day. The caller commits.
    """
    outages, number = outages_of(record.register(), unit), unit.property_number
    for outage in outages:
        if outage.to_on == back_on:
            return outage
    begun = [o for o in outages if o.to_on is None or o.from_on < back_on < o.to_on]
    if not begun:
        last = f"; its last outage ended on {outages[-1].to_on}" if outages else ""
        problem = f"unit {number} is not out of service on {back_on}{last}"
        mend = f"if it broke, say so: dueward broken {number} --on DATE --why '...'"
        raise refused("back", "on", problem, mend)
    outage = begun[-1]
    if back_on <= outage.from_on:
        first = outage.from_on + _ONE_DAY
        problem = f"unit {number} is out of service from {outage.from_on} on"
        mend = f"the first day it can be in service again is {first}: say --on {first}"
        raise refused("back", "on", problem, mend)
    ended = replace(outage, to_on=back_on)
    change_register(record, public_holidays, "back", [ended], stamp)
    return ended


def outages_of(register: Register, unit: Unit) -> list[Outage]:
    """The outages of a unit, the earliest first."""
    number = unit.property_number
    outages = [outage for outage in register.outages.values() if outage.property_number == number]
    return sorted(outages, key=attrgetter("from_on"))


def outage_on(register: Register, unit: Unit, on: dt.date) -> Outage | None:
    """The outage a unit is in on a day; None where it is in service."""
    for outage in outages_of(register, unit):
        if outage.from_on <= on and (outage.to_on is None or on < outage.to_on):
            return outage
    return None


def first_day_out(record: Record, register: Register, unit: Unit, on: dt.date) -> dt.date:
    """The first day of an outage that begins on `on`: the day after, where a cell of that day is
    marked already.

    The unit was worked with that day, and a cell mark in an outage is a conflict (design 4.7).
    """
    return day_out(live_cell_marks(record, register, unit), on)


def day_out(marks: Iterable[Entry], on: dt.date) -> dt.date:
    """The first day of an outage that begins on `on`, with the live cell marks of the unit."""
    is_marked = any(entry.on <= on <= (entry.to_on or entry.on) for entry in marks)
    return on + _ONE_DAY if is_marked else on


def live_cell_marks(record: Record, register: Register, unit: Unit) -> list[Entry]:
    """The marks of a unit's cells that are not struck."""
    stored = record.entries([record.unit_ids()[unit.property_number]])
    kind = book_of(register).kinds.get(unit.kind)
    return cell_marks(kind.tasks(unit.model) if kind else {}, [one.entry for one in stored])


def cell_marks(tasks: Mapping[str, tuple[Rule, ...]], entries: Sequence[Entry]) -> list[Entry]:
    """Which of all entries of a unit with these tasks are marks of cells that are not struck."""
    with_cells = {task for task, rules in tasks.items() if any(rule.each for rule in rules)}
    struck = {entry.strikes for entry in entries if entry.strikes}
    return [
        entry
        for entry in entries
        if entry.mark is not None and entry.key not in struck and entry.task in with_cells
    ]
