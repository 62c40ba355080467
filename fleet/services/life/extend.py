"""How is a due date put off, with a reason and an end?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from fleet.domain.answers import StatusRow
from fleet.domain.evidence import Extension
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.domain.texts import NAME_LENGTH
from fleet.errors import NotFound
from fleet.services.extensions import extension_words
from fleet.services.life.acts import Act, answered, named, refuse_doubts, rules_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, checked_text, reason_given, refused
from fleet.services.standing import today_of
from fleet.services.why import unit_of
from notifications.digests.words import day

__all__ = ["LONGEST_DAYS", "extend"]

LONGEST_DAYS = 366
"""A due date is put off by so many days at most."""
_ACT = "extend"


def extend(
    record: Record,
    public_holidays: PublicHolidays,
    wanted: Extension,
    on: dt.date | None,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Put a due date off until a day; `on`: the day it is granted (None: today at the unit).

    Only unit, task, `until_on`, `reason` and `granted_by` of what is wanted are used. The same
    again answers with what stands. Raises NotFound, BadInput for a cell rule, an end that has
    passed or lies more than 366 days on, and Doubtful unless `anyway`. The caller commits.
    """
    register = record.register()
    unit = unit_of(register, wanted.property_number)
    today = today_of(register, unit, stamp.at)
    extension = replace(
        wanted,
        property_number=unit.property_number,
        from_on=on or today,
        reason=reason_given(_ACT, wanted.reason),
        granted_by=checked_text(_ACT, "by", wanted.granted_by.strip(), NAME_LENGTH),
    )
    _check(extension, today)
    task = _check_task(register, unit, extension)
    is_new = register.extensions.get(extension.key) != extension
    if is_new:
        rows = answered(record, public_holidays, unit, stamp.at, extension.from_on)
        refuse_doubts(_doubts(unit, extension, _of(task, rows)), anyway=anyway)
        change_register(record, public_holidays, _ACT, [extension], stamp)
    after = _of(task, answered(record, public_holidays, unit, stamp.at))
    name = named(unit, wanted.property_number)
    return _put_off(extension, name, [after] if after else [], is_new=is_new)


def _put_off(extension: Extension, name: str, rows: list[StatusRow], *, is_new: bool) -> Act:
    return Act(
        facts={
            "property_number": extension.property_number,
            "task": extension.task,
            "from": extension.from_on,
            "until": extension.until_on,
            "reason": extension.reason,
            "granted_by": extension.granted_by,
        },
        said=[
            f"{name}, {extension.task}: put off until"
            f" {day(extension.until_on)}{'' if is_new else ', as it was already'}.",
            extension_words(extension),
        ],
        todo=[f"See that it is done by {day(extension.until_on)}: then it is overdue again."],
        rows=rows,
    )


def _of(task: str, rows: list[StatusRow]) -> StatusRow | None:
    return next((row for row in rows if row.task == task), None)


def _check_task(register: Register, unit: Unit, extension: Extension) -> str:
    """The task of a rule that has a due date to put off."""
    rules = rules_of(register, unit, extension.from_on)
    rule = rules.get(extension.task)
    if rule is None:
        known = ", ".join(sorted(task for task, one in rules.items() if one.each is None))
        raise NotFound("task", extension.task, f"a {unit.kind} has: {known}")
    if rule.each is not None:
        problem = f"'{rule.task}' is a chart's row, and a cell that closed empty is a gap"
        mend = "say why it is empty: dueward mark ... --as explained --note '...'"
        raise refused(_ACT, "TASK", problem, mend)
    return rule.task


def _check(extension: Extension, today: dt.date) -> None:
    until_on, from_on = extension.until_on, extension.from_on
    if not extension.granted_by:
        raise refused(_ACT, "by", "nobody granted it", "say who with --by")
    if from_on > today:
        problem = f"{from_on} lies in the future (today is {today})"
        raise refused(_ACT, "on", problem, "say the day on which it was granted")
    if until_on < today:
        problem = f"{until_on} has passed (today is {today})"
        raise refused(_ACT, "until", problem, "put it off until a day to come, or have it done")
    if (until_on - from_on).days > LONGEST_DAYS:
        problem = f"{until_on} is more than {LONGEST_DAYS} days after {from_on}"
        raise refused(_ACT, "until", problem, "put it off for less, and look at it again then")


def _doubts(unit: Unit, extension: Extension, row: StatusRow | None) -> Iterator[str]:
    number, task = unit.property_number, extension.task
    if row is None or row.limit is None:
        state = row.state if row else "without an answer"
        yield f"unit {number} is {state}: '{task}' has no due date to put off"
    elif extension.until_on <= row.limit:
        yield f"'{task}' of unit {number} is not overdue before {row.limit} is over anyhow"
