"""What makes an entry doubtful: possible, but probably a slip?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from fleet.domain.records import Entry, Mark, Unit
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker
from fleet.services.columns import book_of, fleet_columns
from fleet.services.failed_checks import FailedCheck, failed_check
from fleet.services.outages import outage_on
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.readings import is_pass, problem_words, trespass
from fleet.services.standing import today_of
from schedules.dates import day_of
from schedules.rules import Basis, Rule

__all__ = ["day_doubts", "doubts"]


def doubts(
    record: Record,
    register: Register,
    public_holidays: PublicHolidays,
    unit: Unit,
    rule: Rule | None,
    entry: Entry,
    stamp: Stamp,
    *,
    beside: bool = False,
) -> Iterator[str]:
    """What makes an entry doubtful, one sentence each, the gravest first.

    A pass of the check that took the unit out of use is not doubtful for coming in its outage, nor
    for being the second mark of the day it failed on. beside: a mark may stand beside another of
    the same day, as where two people saw to it.
    """
    failed = failed_check(register, unit, entry.task, entry.on)
    is_return = failed is not None and is_pass(entry, rule)
    is_cell = rule is not None and rule.basis is Basis.CELL
    yield from day_doubts(record, register, public_holidays, unit, rule, entry, stamp)
    if rule is not None and not is_cell and entry.mark is not Mark.DONE:
        yield f"'{entry.task}' counts the days it was done, and '{entry.mark}' says nothing of them"
    if failed is not None and not is_return and entry.mark is Mark.DONE:
        yield _no_pass(failed, entry, rule)
    outage = outage_on(register, unit, entry.on)
    if outage is not None and not is_return:
        yield f"unit {unit.property_number} was out of service on {entry.on}"
    is_second_look = is_return and failed is not None and failed.action.opened_on == entry.on
    if not beside and not is_second_look:
        yield from _marked_already(record, entry, rule)


def _no_pass(failed: FailedCheck, entry: Entry, rule: Rule | None) -> str:
    """Why a done mark does not bring back a unit whose check failed."""
    since = f"'{entry.task}' failed on {failed.action.opened_on}"
    limits = trespass(entry, rule)
    if limits is None:
        return f"{since}, and only a reading within limits passes it (--reading)"
    again = "say so with --failed --note if it failed again"
    return f"{since} and {problem_words(entry, limits)} does not pass it; {again}"


def day_doubts(
    record: Record,
    register: Register,
    public_holidays: PublicHolidays,
    unit: Unit,
    rule: Rule | None,
    entry: Entry,
    stamp: Stamp,
) -> Iterator[str]:
    """What makes the day of an entry doubtful, whatever was found on it."""
    name, on = unit.property_number, entry.on
    today = today_of(register, unit, stamp.at)
    is_cell = rule is not None and rule.basis is Basis.CELL
    if on > today:
        yield f"{on} lies in the future (today is {today})"
    if rule is None:
        yield f"no rule of '{entry.task}' is in force on {on}"
    if on < unit.in_service_on and (is_cell or entry.mark is not Mark.DONE):
        yield f"{on} lies before unit {name} entered service on {unit.in_service_on}"
    if unit.retired_on is not None and on >= unit.retired_on:
        yield f"unit {name} was retired on {unit.retired_on}"
    if is_cell:
        yield from _closed_day(record, register, public_holidays, unit, on)


def _closed_day(
    record: Record,
    register: Register,
    public_holidays: PublicHolidays,
    unit: Unit,
    on: dt.date,
) -> Iterator[str]:
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    fleet = fleet_columns(register, book_of(register), calendars, [unit])
    site = fleet.sites[int(fleet.columns.calendars_on(day_of(on))[0])]
    closed = fleet.calendar(site, on, on).why_closed(on)
    if closed is not None:
        yield f"site {site.site} is closed on {on} ({closed.reason})"


def _marked_already(record: Record, entry: Entry, rule: Rule | None) -> Iterator[str]:
    """A day that has as many marks as the rule asks for (one, for a dated rule's done).

    A span counts for each of its days; a closed one among them is doubtful for that reason.
    """
    unit_id = record.unit_ids()[entry.property_number]
    entries = [stored.entry for stored in record.entries([unit_id], entry.task)]
    struck = {other.strikes for other in entries if other.strikes}
    is_cell = rule is not None and rule.basis is Basis.CELL
    standing = [
        other
        for other in entries
        if other.mark is not None and other.key not in struck
        if other.on <= entry.on <= (other.to_on or other.on)
        if other.mark is entry.mark or (is_cell and other.mark is not Mark.FILLED)
    ]
    if len(standing) >= (rule.times if rule is not None else 1):
        last = standing[-1]
        by = f" by {last.initials}" if last.initials else ""
        yield f"{entry.on} is marked {last.mark} already{by} (entry {last.key})"
