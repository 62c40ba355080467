"""What follows when a unit breaks, and what is due before it is used again?"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator, Sequence

from fleet.domain.answers import StatusRow
from fleet.domain.records import Outage, Unit
from fleet.domain.register import Register
from fleet.services.failed_checks import failed_outage, unpassed
from fleet.services.life.acts import (
    Act,
    answered,
    before_use,
    named,
    readers_at,
    refuse_doubts,
    reopened_words,
    rules_of,
)
from fleet.services.outages import (
    begin_outage,
    end_outage,
    first_day_out,
    live_cell_marks,
    outages_of,
)
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused
from fleet.services.standing import site_of, today_of
from fleet.services.why import unit_of
from notifications.digests.words import day
from schedules.rules import DueAfter, Rule

__all__ = ["CAUTIONS", "back", "broken"]

CAUTIONS = (
    "Do not use it. Tag it 'out of service' with the day and your initials, so that nobody does.",
    "Leave repairs to people trained or licensed for them; follow the manufacturer's manual, the"
    " site's safety officer and local rules.",
)


def broken(
    record: Record,
    public_holidays: PublicHolidays,
    property_number: str,
    on: dt.date | None,
    why: str,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Put a unit out of service from a day (None: today where it stands) until it is back.

    A day whose cell is marked was worked: then the outage begins on the next. The same again
    answers with what stands. Raises NotFound, BadInput, and Doubtful unless `anyway`. The caller
    commits.
    """
    register = record.register()
    unit = unit_of(register, property_number)
    today = today_of(register, unit, stamp.at)
    on = on or today
    start = first_day_out(record, register, unit, on)
    is_told = any(one.from_on == start for one in outages_of(register, unit))
    if not is_told:
        refuse_doubts(_doubts_broken(record, register, unit, on, today), anyway=anyway)
    outage = begin_outage(record, public_holidays, unit, start, why, stamp)
    site = site_of(register, unit, start)
    stands = "was already" if is_told else "is"
    said = [f"{named(unit, property_number)} {stands} out of service from {day(start)}."]
    if start > on:
        said.append(
            f"It was worked with on {day(on)}: a cell of that day is marked, and a mark on a day"
            " out of service would be the finding 'conflict'. So it counts as out from the next."
        )
    if readers := readers_at(register, site):
        said.append(f"Seen in the next digests by {readers}.")
    reopened = reopened_words(register, {site}, start, today)
    number = shlex.quote(unit.property_number)
    return Act(
        facts=_facts(unit, outage),
        said=said,
        todo=[
            *CAUTIONS,
            *(f"{words}." for words in reopened),
            f"When it is back: dueward back {number} --on DATE",
        ],
    )


def _facts(unit: Unit, outage: Outage) -> dict[str, str | dt.date | None]:
    return {
        "property_number": unit.property_number,
        "from": outage.from_on,
        "to": outage.to_on,
        "reason": outage.reason,
    }


def _doubts_broken(
    record: Record, register: Register, unit: Unit, on: dt.date, today: dt.date
) -> Iterator[str]:
    number = unit.property_number
    if on > today:
        yield f"{on} lies in the future (today is {today})"
    if on < unit.in_service_on:
        yield f"{on} lies before unit {number} entered service on {unit.in_service_on}"
    if unit.retired_on is not None and on >= unit.retired_on:
        yield f"unit {number} was retired on {unit.retired_on}"
    later = [
        entry for entry in live_cell_marks(record, register, unit) if (entry.to_on or entry.on) > on
    ]
    if later:
        last = max(later, key=lambda entry: entry.on)
        yield f"unit {number} was worked with later: {last.on} is marked (entry {last.key})"


def back(
    record: Record,
    public_holidays: PublicHolidays,
    property_number: str,
    on: dt.date | None,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Bring a unit back into service (None: today where it stands), with what is due before use.

    An outage that counts from this day or the next is withdrawn: no day was lost to it. The same
    again answers with what stands. Raises NotFound, BadInput (also where a function check failed
    and was not passed since, whatever is said), and Doubtful unless `anyway`. The caller commits.
    """
    register = record.register()
    unit = unit_of(register, property_number)
    today = today_of(register, unit, stamp.at)
    on = on or today
    rules = rules_of(register, unit, on)
    _refuse_failed(record, register, unit, rules, on)
    if on > today:
        refuse_doubts(iter([f"{on} lies in the future (today is {today})"]), anyway=anyway)
    if (spared := _begun_today(register, unit, on)) is not None:
        return _same_day(record, public_holidays, unit, property_number, spared, on, stamp)
    is_told = any(one.to_on == on for one in outages_of(register, unit))
    outage = end_outage(record, public_holidays, unit, on, stamp)
    rows = answered(record, public_holidays, unit, stamp.at, on)
    owed = list(_owed(unit, rules, rows, on))
    reopened = reopened_words(register, {site_of(register, unit, on)}, outage.from_on, today)
    stands = "was already" if is_told else "is"
    return Act(
        facts=_facts(unit, outage),
        said=[
            f"{named(unit, property_number)} {stands} back in service from {day(on)}; it was out"
            f" from {day(outage.from_on)} ({outage.reason}).",
            *(() if owed else ("Nothing of its rules is due before it is used.",)),
        ],
        todo=[*owed, *(f"{words}." for words in reopened)],
        rows=rows,
    )


def _owed(
    unit: Unit, rules: dict[str, Rule], rows: Sequence[StatusRow], on: dt.date
) -> Iterator[str]:
    """What is due before use: after a repair, every function check, and whatever is past due."""
    for row in rows:
        rule = rules.get(row.task)
        if rule is None or (row.last_done is not None and row.last_done >= on):
            continue
        is_late = row.state == "overdue" and rule.each is None
        is_due = row.state == "due" and DueAfter.REPAIRED in rule.due_after
        if is_late or is_due or rule.stops_use:
            yield before_use(rule, on, unit.property_number)


def _refuse_failed(
    record: Record, register: Register, unit: Unit, rules: dict[str, Rule], on: dt.date
) -> None:
    """Function checks come before use (42 CFR 493.1254(b)(2)); no word of a person skips them."""
    number = unit.property_number
    for outage in outages_of(register, unit):
        failed = [task for task in rules if failed_outage(register, outage, task)]
        if outage.to_on is None and failed:
            failed = [action.task for action in unpassed(record, unit)] or failed
            problem = f"unit {number} failed '{failed[0]}' and no pass is recorded since"
            mend = (
                "function checks come before use (42 CFR 493.1254(b)(2)): mark the check as done"
                f" once it passes, which brings the unit back: dueward mark {shlex.quote(number)}"
                f" {shlex.quote(failed[0])} --on {on} --as done"
            )
            raise refused("back", None, problem, mend)


def _begun_today(register: Register, unit: Unit, on: dt.date) -> Outage | None:
    """An outage without an end that counts from this day or the next."""
    for outage in outages_of(register, unit):
        if outage.to_on is None and on <= outage.from_on <= on + dt.timedelta(days=1):
            return outage
    return None


def _same_day(
    record: Record,
    public_holidays: PublicHolidays,
    unit: Unit,
    property_number: str,
    outage: Outage,
    on: dt.date,
    stamp: Stamp,
) -> Act:
    """Take back an outage that no day was lost to; its change lines keep what happened."""
    change_register(record, public_holidays, "back", [], stamp, withdrawn=[outage])
    said = (
        f"{named(unit, property_number)} is back the day it broke, {day(on)} ({outage.reason}):"
        " it counts as in service, and its cells are to be marked."
    )
    rows = answered(record, public_holidays, unit, stamp.at, on)
    owed = list(_owed(unit, rules_of(record.register(), unit, on), rows, on))
    return Act(facts=_facts(unit, outage), said=[said], todo=owed, rows=rows)
