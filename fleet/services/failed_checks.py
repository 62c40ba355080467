"""When does a failed function check take a unit out of use, and what brings it back?

42 CFR 493.1254(b)(2) (read in a reprint): function checks must be within limits before patients are
tested. A rule of the book says with `stops_use` that it is such a check. The outage begins on the
day of the failure, or the day after where a cell of that day is marked; the next pass ends it.
"""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleet.domain.evidence import Action
from fleet.domain.records import Entry, Outage, Unit
from fleet.domain.register import Register
from fleet.services.columns import book_of
from fleet.services.register_changes import change_register
from fleet.services.outages import end_outage, first_day_out, outage_on, outages_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.readings import is_pass, rule_on

__all__ = [
    "FailedCheck",
    "end_where_passed",
    "failed_check",
    "failed_outage",
    "outage_of",
    "pass_check",
    "reopen",
    "stop_use",
]

_REASON = re.compile(
    r"(?P<task>[a-z0-9-]+) failed: .*\((?P<sort>entry|action) (?P<name>.+)\)", re.DOTALL
)
_ONE_DAY = dt.timedelta(days=1)
_REASON_WORDS = 1_500
"""The most characters of what failed that are told in the reason of the outage."""


@dataclass(frozen=True, slots=True)
class FailedCheck:
    """An outage that a failed check began, and the action that tells of the failure."""

    outage: Outage
    action: Action


def stop_use(
    record: Record, public_holidays: PublicHolidays, unit: Unit, action: Action, stamp: Stamp
) -> None:
    """Put a unit out of use after the failed check that an action tells of.

    The outage ends with the next pass that is on the record already, or where another outage
    begins. Where the unit is out then anyhow, or passed before a day of it, nothing is written.
    Raises BadInput as `load` would. The caller commits.
    """
    register = record.register()
    start = first_day_out(record, register, unit, action.opened_on)
    if outage_on(register, unit, start) or (unit.retired_on and start >= unit.retired_on):
        return
    to_on = _end(record, register, unit, action, start)
    if to_on is not None and to_on <= start:
        return
    name = f"entry {action.entry}" if action.entry else f"action {action.number}"
    reason = f"{action.task} failed: {action.problem[:_REASON_WORDS]} ({name})"
    outage = Outage(property_number=unit.property_number, from_on=start, to_on=to_on, reason=reason)
    change_register(record, public_holidays, "mark", [outage], stamp)


def _end(
    record: Record, register: Register, unit: Unit, action: Action, start: dt.date
) -> dt.date | None:
    """Where an outage from `start` ends: with a pass on the record, or the next outage."""
    ends = [outage.from_on for outage in outages_of(register, unit) if outage.from_on > start]
    return min([*ends, *_passes(record, register, unit, action)], default=None)


def _passes(record: Record, register: Register, unit: Unit, action: Action) -> Iterator[dt.date]:
    """The days after a failure on which the record shows the check as passed."""
    kind = book_of(register).kinds.get(unit.kind)
    versions = kind.tasks(unit.model).get(action.task, ()) if kind else ()
    unit_id = record.unit_ids()[unit.property_number]
    entries = [stored.entry for stored in record.entries([unit_id], action.task)]
    struck = {entry.strikes for entry in entries if entry.strikes}
    for entry in entries:
        is_later = (entry.to_on or entry.on) > action.opened_on
        if is_later and entry.key not in struck and is_pass(entry, rule_on(versions, entry.on)):
            yield max(entry.on, action.opened_on + _ONE_DAY)


def failed_outage(register: Register, outage: Outage, task: str) -> FailedCheck | None:
    """What an outage says of a failed check of this task; None for an outage of another cause."""
    told = _REASON.fullmatch(outage.reason)
    if told is None or told["task"] != task:
        return None
    for action in register.actions.values():
        if told["name"] == (action.entry if told["sort"] == "entry" else action.number):
            return FailedCheck(outage, action)
    return None


def outage_of(register: Register, unit: Unit, action: Action) -> Outage | None:
    """The last outage that the failed check of an action began; None where there is none."""
    found = [failed_outage(register, outage, action.task) for outage in outages_of(register, unit)]
    outages = [one.outage for one in found if one is not None and one.action == action]
    return outages[-1] if outages else None


def failed_check(register: Register, unit: Unit, task: str, on: dt.date) -> FailedCheck | None:
    """The failed check whose outage has no end yet, and which a pass on that day would end."""
    for outage in outages_of(register, unit):
        if outage.to_on is None and (failed := failed_outage(register, outage, task)):
            return failed if on >= failed.action.opened_on else None
    return None


def pass_check(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    failed: FailedCheck,
    back_on: dt.date,
    stamp: Stamp,
) -> Outage:
    """End the outage of a failed check: on the day of the pass the unit is in service again.

    A pass before the outage's second day leaves it no day, and it is withdrawn. Answers it with
    the day of return. The caller commits.
    """
    if back_on > failed.outage.from_on:
        return end_outage(record, public_holidays, unit, back_on, stamp)
    change_register(record, public_holidays, "mark", [], stamp, withdrawn=[failed.outage])
    return replace(failed.outage, to_on=back_on)


def end_where_passed(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    failed: FailedCheck,
    stamp: Stamp,
) -> None:
    """End the outage of a failed check with the first pass that the record shows after its day.

    The caller commits.
    """
    passes = _passes(record, record.register(), unit, failed.action)
    if (back_on := min(passes, default=None)) is not None:
        pass_check(record, public_holidays, unit, failed, back_on, stamp)


def reopen(
    record: Record, public_holidays: PublicHolidays, unit: Unit, struck: Entry, stamp: Stamp
) -> None:
    """Where a struck entry was the pass that ended an outage, that outage goes on without it.

    The caller commits.
    """
    register = record.register()
    for outage in outages_of(register, unit):
        failed = failed_outage(register, outage, struck.task)
        if failed is not None and outage.to_on == struck.on:
            to_on = _end(record, register, unit, failed.action, outage.from_on)
            ended = replace(outage, to_on=to_on)
            change_register(record, public_holidays, "strike", [ended], stamp)
