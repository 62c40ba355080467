"""How does a unit leave service for good, and how is a site closed for good?"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator
from dataclasses import replace

from fleet.domain.evidence import Action
from fleet.domain.records import Closure, Unit
from fleet.domain.register import Register
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.calendars import FOR_GOOD_ON
from fleet.services.life.acts import FAR_AHEAD_DAYS, Act, kept_until, named, refuse_doubts
from fleet.services.load_checks import nearest
from fleet.services.outages import outages_of
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, reason_given, refused
from fleet.services.standing import day_at, moves_of_unit, site_of, today_of, units_at
from fleet.services.why import unit_of
from notifications.digests.words import counted, day, joined

__all__ = ["close_site", "retire"]


def retire(
    record: Record,
    public_holidays: PublicHolidays,
    property_number: str,
    on: dt.date,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Take a unit out of service for good: from that day on it is no more in use.

    The same again answers with what stands. Raises NotFound, BadInput, and Doubtful unless
    `anyway`. The caller commits.
    """
    register = record.register()
    unit = unit_of(register, property_number)
    if on <= unit.in_service_on:
        problem = f"{on} is not after it entered service on {unit.in_service_on}"
        raise refused("retire", "on", problem, "a unit is in service for a day at least")
    is_new = unit.retired_on != on
    if is_new:
        today = today_of(register, unit, stamp.at)
        refuse_doubts(_doubts(record, register, unit, on, today), anyway=anyway)
        retired = replace(unit, retired_on=on)
        change_register(record, public_holidays, "retire", [retired], stamp)
    keep_on = kept_until(on)
    stands = "is" if is_new else "was already"
    return Act(
        facts={
            "property_number": unit.property_number,
            "retired_on": on,
            "keep_records_until": keep_on,
        },
        said=[f"{named(unit, property_number)} {stands} retired from {day(on)} on."],
        todo=[
            f"Keep its records until {day(keep_on)} at least: two years (42 CFR 493.1105(a)(3)),"
            " and data of its performance validation for its life and two years more"
            " (493.1105(a)(3)(i), read in a reprint). Local rules may ask for longer.",
            "Tag it 'retired', so that nobody uses it; before it leaves, ask the site's safety"
            " officer how it is decontaminated.",
            *_open_actions(register, unit),
        ],
    )


def _open_actions(register: Register, unit: Unit) -> Iterator[str]:
    for action in register.actions.values():
        if action.property_number == unit.property_number and _is_open(action):
            yield f"Corrective action {action.number} is open: {' '.join(action.problem.split())}"


def _is_open(action: Action) -> bool:
    return action.closed_on is None


def _doubts(
    record: Record, register: Register, unit: Unit, on: dt.date, today: dt.date
) -> Iterator[str]:
    number = unit.property_number
    if unit.retired_on is not None:
        yield f"unit {number} is retired from {unit.retired_on} on already"
    if (on - today).days > FAR_AHEAD_DAYS:
        yield f"{on} is more than a year ahead (today is {today})"
    for outage in outages_of(register, unit):
        if outage.to_on is None:
            yield f"unit {number} is out of service since {outage.from_on} ({outage.reason})"
    for other in moves_of_unit(register, unit):
        if other.from_on >= on:
            yield f"unit {number} is to move to {other.site} on {other.from_on}"
    entries = [s.entry for s in record.entries([record.unit_ids()[number]])]
    struck = {entry.strikes for entry in entries if entry.strikes}
    for entry in entries:
        is_live = entry.mark is not None and entry.key not in struck
        if is_live and (entry.to_on or entry.on) >= on:
            yield f"unit {number} is marked {entry.mark} on {entry.on} (entry {entry.key})"


def close_site(
    record: Record,
    public_holidays: PublicHolidays,
    site: str,
    on: dt.date,
    why: str,
    *,
    anyway: bool,
    stamp: Stamp,
) -> Act:
    """Close a site for good from a day on, and end the roles that people have there.

    Raises BadInput, a line a unit, while units stand there or are to come; NotFound; Doubtful
    unless `anyway`. The same again answers with what stands. The caller commits.
    """
    register = record.register()
    place = register.sites.get((site,))
    if place is None:
        known = [key[0] for key in register.sites]
        raise NotFound("site", site, nearest(site, known, "sites are named as in the sites file"))
    why = reason_given("close-site", why)
    _refuse_units(register, site, on)
    today = day_at(place, stamp.at)
    if (on - today).days > FAR_AHEAD_DAYS:
        doubt = f"{on} is more than a year ahead (today is {today})"
        refuse_doubts(iter([doubt]), anyway=anyway)
    closure = Closure(site=site, from_on=on, to_on=FOR_GOOD_ON, reason=why)
    people = [person for person in register.people.values() if person.site == site]
    unled = replace(place, lead_email="")
    changes = change_register(
        record, public_holidays, "close-site", [unled, closure], stamp, withdrawn=people
    )
    stands = "is" if changes else "was already"
    said = [f"{place.name} ({site}) {stands} closed for good from {day(on)} on: {why}."]
    if people:
        names = joined([person.name or person.email for person in people])
        said.append(f"{counted(len(people), 'role')} ended there, and the mail with it: {names}.")
    return _closed(site, on, said)


def _closed(site: str, on: dt.date, said: list[str]) -> Act:
    keep_on = kept_until(on)
    return Act(
        facts={"site": site, "from": on, "to": FOR_GOOD_ON, "keep_records_until": keep_on},
        said=said,
        todo=[
            f"Keep its charts, marks, reports and reviews until {day(keep_on)} at least (42 CFR"
            " 493.1105(a)(3)); local rules may ask for longer. The record here stays as it is.",
            "Say who keeps its papers; print its evidence while it can be signed: dueward packet",
        ],
    )


def _refuse_units(register: Register, site: str, on: dt.date) -> None:
    """Name each unit that is in the way, with the commands that move or retire it."""
    faults = []
    for unit in units_at(register, site, on):
        number = shlex.quote(unit.property_number)
        stands = "stands there" if site_of(register, unit, on) == site else "is to come there"
        problem = f"unit {unit.property_number} ({unit.kind}) {stands}"
        mend = f"dueward move {number} SITE --on {on}, or dueward retire {number} --on {on}"
        faults.append(Fault(f"close-site {site}", None, None, problem, mend))
    if faults:
        raise BadInput(faults)
