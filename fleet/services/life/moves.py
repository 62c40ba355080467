"""How does a unit move to another site, for good or lent until a day?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence

from fleet.domain.records import Placement, Unit
from fleet.domain.register import Register
from fleet.services.life.acts import (
    FAR_AHEAD_DAYS,
    Act,
    answered,
    before_use,
    charted_tasks,
    closed_for_good_on,
    named,
    refuse_doubts,
    reopened_words,
    rules_of,
)
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused
from fleet.services.standing import moves_of_unit, site_of, today_of
from fleet.services.why import unit_of
from notifications.digests.words import day
from schedules.rules import DueAfter

__all__ = ["move"]

_ONE_DAY = dt.timedelta(days=1)


def move(
    record: Record,
    public_holidays: PublicHolidays,
    property_number: str,
    site: str,
    on: dt.date,
    until_on: dt.date | None,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Move a unit to a site; with `until_on` it is lent, and back where it stood from that day on.

    The same move again answers with what stands. Raises NotFound, BadInput, and Doubtful unless
    `anyway`. The caller commits.
    """
    register = record.register()
    unit = unit_of(register, property_number)
    home = site_of(register, unit, on - _ONE_DAY)
    if until_on is not None and until_on <= on:
        mend = "say the day on which it is back where it stood"
        raise refused("move", "until", f"{until_on} is not after {on}", mend)
    moves = _moves(unit, site, on, home, until_on)
    is_new = any(register.placements.get(one.key) != one for one in moves)
    today = today_of(register, unit, stamp.at)
    if is_new:
        refuse_doubts(_doubts(register, unit, moves, home, today), anyway=anyway)
        change_register(record, public_holidays, "move", moves, stamp)
    end = f" until {day(until_on)}, when it is back at {home}" if until_on else ""
    verb = ("is" if is_new else "was already") + (" lent" if until_on else " moved")
    reopened = reopened_words(register, {home, site}, on, max(today, until_on or on))
    return Act(
        facts={
            "property_number": unit.property_number,
            "site": site,
            "from": on,
            "until": until_on,
            "home": home,
        },
        said=[f"{named(unit, property_number)} {verb} from {home} to {site} on {day(on)}{end}."],
        todo=[*_todo(register, unit, site, on), *(f"{words}." for words in reopened)],
        rows=answered(record, public_holidays, unit, stamp.at, max(on, today)),
    )


def _moves(
    unit: Unit, site: str, on: dt.date, home: str, until_on: dt.date | None
) -> list[Placement]:
    number = unit.property_number
    there = Placement(property_number=number, site=site, from_on=on)
    if until_on is None:
        return [there]
    return [there, Placement(property_number=number, site=home, from_on=until_on)]


def _doubts(
    register: Register, unit: Unit, moves: Sequence[Placement], home: str, today: dt.date
) -> Iterator[str]:
    number, site, on = unit.property_number, moves[0].site, moves[0].from_on
    if home == site:
        yield f"unit {number} stands at {site} already"
    if unit.retired_on is not None and moves[-1].from_on >= unit.retired_on:
        yield f"unit {number} is retired from {unit.retired_on} on"
    closed_on = closed_for_good_on(register, site, moves[-1].from_on)
    if closed_on is not None:
        yield f"site {site} is closed for good from {closed_on} on"
    if (moves[-1].from_on - today).days > FAR_AHEAD_DAYS:
        yield f"{moves[-1].from_on} is more than a year ahead (today is {today})"
    for other in moves_of_unit(register, unit):
        if other.from_on >= on and other not in moves:
            yield f"unit {number} moves to {other.site} on {other.from_on} already"


def _todo(register: Register, unit: Unit, site: str, on: dt.date) -> Iterator[str]:
    for rule in rules_of(register, unit, on).values():
        if DueAfter.MOVED in rule.due_after:
            yield before_use(rule, on, unit.property_number)
    if charted_tasks(register, unit, on):
        yield f"A chart for {on.year} is wanted at {site}; the one begun stays where it was filled."
