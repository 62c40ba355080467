"""Who is away, and when, and who reads their mail meanwhile?"""

from __future__ import annotations

import datetime as dt

from fleet.domain.mail_times import Absence
from fleet.services.mailing.readers import address_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused

__all__ = ["absences", "be_away", "be_back"]

_ACT = "dueward away"


def absences(record: Record, on: dt.date) -> list[Absence]:
    """Absences of a day or later, the earliest first."""
    found = [one for one in record.register().absences.values() if one.to_on >= on]
    return sorted(found, key=lambda one: (one.from_on, one.email))


def be_away(
    record: Record,
    public_holidays: PublicHolidays,
    email: str,
    from_on: dt.date,
    to_on: dt.date,
    deputy: str,
    stamp: Stamp,
) -> Absence:
    """Note an absence, both days included, or change the one that begins on that day.

    Raises BadInput as `load` would: for an unknown address, an absence that overlaps another. The
    caller commits.
    """
    if to_on < from_on:
        raise refused(_ACT, "to", f"{to_on} is before --from {from_on}", "check both dates")
    email, deputy = address_of(email), address_of(deputy) if deputy else ""
    if deputy == email:
        raise refused(_ACT, "deputy", "it is the one who is away", "name somebody else")
    absence = Absence(email=email, from_on=from_on, to_on=to_on, deputy=deputy)
    change_register(record, public_holidays, _ACT, [absence], stamp)
    return absence


def be_back(
    record: Record, public_holidays: PublicHolidays, email: str, on: dt.date, stamp: Stamp
) -> Absence:
    """End the absence of a day: the person is back on it. The caller commits.

    One that would begin on that day is taken out. Raises BadInput where there is none.
    """
    found = [
        one
        for one in record.register().absences.values()
        if one.email == address_of(email) and one.from_on <= on <= one.to_on
    ]
    if not found:
        mend = "see dueward away for who is"
        raise refused(_ACT, "back", f"{email} is not away on {on}", mend)
    absence = found[0]
    if absence.from_on == on:
        change_register(record, public_holidays, _ACT, [], stamp, withdrawn=[absence])
        return absence
    ended = Absence(
        email=absence.email,
        from_on=absence.from_on,
        to_on=on - dt.timedelta(days=1),
        deputy=absence.deputy,
    )
    change_register(record, public_holidays, _ACT, [ended], stamp)
    return ended
