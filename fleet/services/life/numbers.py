"""How does a unit get a new property number, while the old one stays findable?"""

from __future__ import annotations

import datetime as dt

from fleet.domain.evidence import Renumbering
from fleet.domain.numbers import formers_of, present_numbers
from fleet.domain.register import Register
from fleet.domain.texts import WORD_LENGTH
from fleet.services.life.acts import Act
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, checked_text, refused
from fleet.services.standing import today_of
from fleet.services.why import unit_of
from notifications.digests.words import day, joined

__all__ = ["renumber"]

_ACT = "renumber"


def renumber(
    record: Record,
    public_holidays: PublicHolidays,
    old: str,
    new: str,
    on: dt.date | None,
    *,
    stamp: Stamp,
) -> Act:
    """Give a unit another property number, from a day (None: today where it stands).

    It is shown under the new number from now on, also in answers about the past, and found under
    every number it bore; keys of entries stay as they were written. Back to a number of its own is
    possible. The same again answers with what stands. Raises NotFound, and BadInput for a number
    that another unit bears or has borne. The caller commits.
    """
    register = record.register()
    unit = unit_of(register, old)
    number, today = unit.property_number, today_of(register, unit, stamp.at)
    new = checked_text(_ACT, "NEW", new.strip(), WORD_LENGTH)
    is_new = new != number
    if is_new:
        step = Renumbering(former=number, property_number=new, from_on=on or today)
        _check(register, step, today)
        change_register(record, public_holidays, _ACT, [step], stamp)
    register = record.register()
    formers = formers_of(register.renumberings.values(), new)
    stands = "bears" if is_new else "bore already"
    since = f" from {day(on or today)}" if is_new else ""
    said = f"The unit that was {joined(formers) or old} {stands} the number {new}{since}."
    return Act(
        facts={
            "property_number": new,
            "formerly": ", ".join(formers),
            "from": on or today if is_new else None,
        },
        said=[said, f"It is shown as {new} everywhere, and found under its former numbers too."],
        todo=[
            "Put the new number on the unit and on its charts; let the old label stay readable.",
            f"Keys of entries written before stay as they are, as {number}/TASK/DATE/1.",
        ],
    )


def _check(register: Register, step: Renumbering, today: dt.date) -> None:
    number, new = step.former, step.property_number
    if not new:
        raise refused(_ACT, "NEW", "the new number is empty", "write the number it bears now")
    if step.from_on > today:
        mend = "a new number counts at once: renumber the unit on the day it gets it"
        raise refused(_ACT, "on", f"{step.from_on} lies in the future (today is {today})", mend)
    present = present_numbers(register.renumberings.values())
    bearer = present.get(new, new)
    if bearer != number and (bearer,) in register.units:
        problem = f"another unit bears the number '{new}'"
        if bearer != new:
            problem = f"'{new}' is a former number of unit {bearer}"
        raise refused(_ACT, "NEW", problem, "choose a number that no other unit bears or has borne")
    of_unit = [r for r in register.renumberings.values() if present[r.former] == number]
    last_on = max((one.from_on for one in of_unit), default=dt.date.min)
    is_back = bearer == number
    if step.from_on < last_on or (is_back and step.from_on == last_on):
        problem = f"unit {number} got its present number on {last_on}"
        raise refused(_ACT, "on", problem, "say a later day with --on, which has come")
