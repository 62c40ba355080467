"""When does a failed function check take a unit out of use, and what brings it back?

42 CFR 493.1254(b)(2) (read in a reprint): function checks must be within limits before patients are
tested. A rule of the book says with `stops_use` that it is such a check. The outage begins on the
day of the failure, or the day after where a cell of that day is marked; it ends when each check
that failed since is passed. `settle` writes what of that does not stand yet.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from fleet.domain.evidence import Action
from fleet.domain.records import Outage, Unit
from fleet.domain.register import Register
from fleet.services.check_facts import (
    REASON,
    CheckReader,
    UnitChecks,
    may_stop,
    told_action,
    versions_of,
)
from fleet.services.check_outages import Span, passed_on
from fleet.services.columns import book_of
from fleet.services.outages import outages_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register

__all__ = [
    "FailedCheck",
    "failed_check",
    "failed_outage",
    "outage_of",
    "settle",
    "stopped_numbers",
    "unpassed",
]

_REASON_WORDS = 1_500
"""The most characters of what failed that are told in the reason of the outage."""


@dataclass(frozen=True, slots=True)
class FailedCheck:
    """An outage that a failed check began or prolonged, and the action that tells of it."""

    outage: Outage
    action: Action


def failed_outage(register: Register, outage: Outage, task: str) -> FailedCheck | None:
    """What an outage says of a failed check of this task; None for an outage of another cause."""
    told = REASON.fullmatch(outage.reason)
    if told is None or told["task"] != task:
        return None
    action = told_action(_actions_of(register, outage.property_number), outage)
    return FailedCheck(outage, action) if action else None


def _actions_of(register: Register, number: str) -> list[Action]:
    return [one for one in register.actions.values() if one.property_number == number]


def outage_of(register: Register, unit: Unit, action: Action) -> Outage | None:
    """The last outage that the failed check of an action began; None where there is none."""
    found = [failed_outage(register, outage, action.task) for outage in outages_of(register, unit)]
    outages = [one.outage for one in found if one is not None and one.action == action]
    return outages[-1] if outages else None


def failed_check(register: Register, unit: Unit, task: str, on: dt.date) -> FailedCheck | None:
    """The last failure of a check in an outage without an end, which a pass that day would pass.

    The outage may be one that the failure of another check began.
    """
    actions, versions = _actions_of(register, unit.property_number), None
    for outage in outages_of(register, unit):
        began = told_action(actions, outage) if outage.to_on is None else None
        if began is None:
            continue
        versions = versions_of(book_of(register), unit) if versions is None else versions
        tells = [one for one in actions if one == began or may_stop(versions, one)]
        found = [one for one in tells if one.task == task and one.opened_on <= on]
        found = [one for one in found if one.opened_on >= began.opened_on]
        if found:
            return FailedCheck(outage, max(found, key=lambda one: (one.opened_on, one.number)))
    return None


def stopped_numbers(register: Register, since: Mapping[str, dt.date]) -> set[str]:
    """Which of these units are out of use for a failed check on a day of theirs or later."""
    return {
        outage.property_number
        for outage in register.outages.values()
        if outage.property_number in since
        and _reaches(outage, since[outage.property_number])
        and REASON.fullmatch(outage.reason)
    }


def unpassed(record: Record, unit: Unit) -> list[Action]:
    """The actions of the failed checks that keep a unit out of use, the earliest first."""
    reader = CheckReader(record)
    ((_, checks),) = reader.each([unit.property_number])
    open_ones = [span for span in checks.spans() if span.to_on is None]
    numbers = {
        failure.number
        for span in open_ones
        for failure in span.failures
        if passed_on(failure, checks.passes) is None
    }
    found = [one for one in reader.actions(unit) if one.number in numbers]
    return sorted(found, key=lambda one: (one.opened_on, one.number))


def settle(
    record: Record,
    public_holidays: PublicHolidays,
    act: str,
    since: Mapping[str, dt.date],
    stamp: Stamp,
    *,
    fresh: str = "",
) -> list[Outage]:
    """Bring the outages of failed checks up to the record, in one change; answers the withdrawn.

    act: the command's name, for refusals; since: the property number of each unit, and the day
    before which its outages are left as they are; fresh: the key of the entry just written. Raises
    BadInput as `load` would. The caller commits.
    """
    if not since:
        return []
    reader = CheckReader(record, fresh)
    written, withdrawn = list[Outage](), list[Outage]()
    for unit, checks in reader.each(since):
        new, gone = _differences(unit, checks, reader.actions(unit), since[unit.property_number])
        written += new
        withdrawn += gone
    if written or withdrawn:
        change_register(record, public_holidays, act, written, stamp, withdrawn=withdrawn)
    return withdrawn


def _differences(
    unit: Unit, checks: UnitChecks, actions: Sequence[Action], since: dt.date
) -> tuple[list[Outage], list[Outage]]:
    """The outages of a unit to write, and those to withdraw."""
    standing = {outage.from_on: outage for outage in checks.managed}
    due = [_outage(unit, span, checks, standing, actions) for span in checks.spans()]
    new = [one for one in due if _reaches(one, since) and standing.get(one.from_on) != one]
    kept = {one.from_on for one in due}
    gone = [
        one
        for one in checks.managed
        if one.from_on not in kept and (_reaches(one, since) or any(_meet(one, n) for n in new))
    ]
    return new, gone


def _outage(
    unit: Unit,
    span: Span,
    checks: UnitChecks,
    standing: Mapping[dt.date, Outage],
    actions: Sequence[Action],
) -> Outage:
    """A span as an outage; the reason stays where it names a failure that is still in it."""
    if checks.told.get(span.from_on) in {failure.number for failure in span.failures}:
        reason = standing[span.from_on].reason
    else:
        first = span.failures[0].number
        action = next(one for one in actions if one.number == first)
        name = f"entry {action.entry}" if action.entry else f"action {action.number}"
        reason = f"{action.task} failed: {action.problem[:_REASON_WORDS]} ({name})"
    return Outage(
        property_number=unit.property_number,
        from_on=span.from_on,
        to_on=span.to_on,
        reason=reason,
    )


def _reaches(outage: Outage, since: dt.date) -> bool:
    return outage.to_on is None or outage.to_on >= since


def _meet(one: Outage, other: Outage) -> bool:
    last = dt.date.max
    return one.from_on < (other.to_on or last) and other.from_on < (one.to_on or last)
