"""How firmly does a visit stand? Free, announced or confirmed, and cancelled or in the way of days.

A trip's stops hang together, so it is confirmed and freed as a whole; a site is told of its own
visit alone.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

from fleet.domain.register import Register
from fleet.domain.texts import NAME_LENGTH
from fleet.domain.visits import SiteVisit, TechnicianDaysOff, UnsuitableDays, VisitState
from fleet.services.narrow import check_names
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.questions import Narrow
from fleet.services.register_changes import (
    change_register,
    checked_text,
    reason_given,
    refused,
)
from fleet.services.visits.kept_plan import key_of, planned_visits, trips_of, visit_of
from notifications.digests.words import joined
from schedules.visits.model import Grade

__all__ = ["Graded", "announce", "cancel", "confirm", "days_off", "free", "unsuitable"]

_ACT = "visits"


@dataclass(frozen=True, slots=True)
class Graded:
    """Visits after an act, and those of them that were otherwise before, as they were."""

    visits: tuple[SiteVisit, ...]
    were: tuple[SiteVisit, ...]


def announce(
    record: Record, public_holidays: PublicHolidays, numbers: Sequence[str], stamp: Stamp
) -> Graded:
    """Say that sites were told of visits; they move only at the price of a change from now on.

    Confirmed ones stay confirmed. Raises NotFound, BadInput as all acts here do. The caller
    commits.
    """
    register = record.register()
    visits = list({one.number: one for one in (_open(register, n) for n in numbers)}.values())
    return _graded(
        record,
        public_holidays,
        visits,
        [
            one
            if one.grade is Grade.CONFIRMED
            else replace(one, grade=Grade.ANNOUNCED, told_on=one.on)
            for one in visits
        ],
        stamp,
    )


def confirm(
    record: Record, public_holidays: PublicHolidays, numbers: Sequence[str], stamp: Stamp
) -> Graded:
    """Confirm the trips that visits belong to, whole; from now on nothing moves them."""
    register = record.register()
    visits = _of_trips(register, [_open(register, number) for number in numbers])
    today = stamp.at.date()
    past = [one.number for one in visits if one.on < today]
    if past:
        problem = f"the day of {joined(past)} has passed"
        raise refused(_ACT, "confirm", problem, "hand it back or cancel it: dueward visits --help")
    _check_days_suit(register, visits)
    after = [replace(one, grade=Grade.CONFIRMED, told_on=one.on) for one in visits]
    return _graded(record, public_holidays, visits, after, stamp)


def _check_days_suit(register: Register, visits: Sequence[SiteVisit]) -> None:
    """Refuse to tell sites of days that are known not to suit them or the technician."""
    for one in visits:
        spells = [
            (f"{one.site} wants no visit", spell)
            for spell in register.unsuitable_days.values()
            if spell.site == one.site
        ] + [
            (f"{one.technician} cannot come", spell)
            for spell in register.technician_days_off.values()
            if spell.technician == one.technician
        ]
        for what, spell in spells:
            if one.on <= spell.to_on and one.to_on >= spell.from_on:
                problem = f"visit {one.number} is on {one.on}, when {what} ({spell.reason})"
                raise refused(_ACT, "confirm", problem, "make the plan anew: dueward visits replan")


def free(
    record: Record, public_holidays: PublicHolidays, numbers: Sequence[str], stamp: Stamp
) -> Graded:
    """Let visits move again: announced ones alone, of a confirmed trip every stop."""
    register = record.register()
    named = [_open(register, number) for number in numbers]
    firm = [one for one in named if one.grade is Grade.CONFIRMED]
    visits = list({one.number: one for one in [*named, *_of_trips(register, firm)]}.values())
    after = [replace(one, grade=Grade.FREE) for one in visits]
    return _graded(record, public_holidays, visits, after, stamp)


def cancel(
    record: Record, public_holidays: PublicHolidays, number: str, why: str, stamp: Stamp
) -> Graded:
    """Cancel one visit; its services are planned again when the plan is made anew."""
    visit = _open(record.register(), number)
    after = replace(visit, state=VisitState.CANCELLED, reason=reason_given(_ACT, why))
    return _graded(record, public_holidays, [visit], [after], stamp)


def unsuitable(
    record: Record, public_holidays: PublicHolidays, days: UnsuitableDays, stamp: Stamp
) -> list[SiteVisit]:
    """Keep days on which a site wants no visit; the visits that lie in them still."""
    register = record.register()
    check_names(record, Narrow(sites=(days.site,)))
    site = next(one for (one,) in register.sites if one.casefold() == days.site.casefold())
    _check_days(days.from_on, days.to_on, stamp)
    _check_longer(register.unsuitable_days.get((site, days.from_on.isoformat())), days.to_on)
    wanted = replace(days, site=site, reason=reason_given(_ACT, days.reason))
    change_register(record, public_holidays, _ACT, [wanted], stamp)
    return [
        one
        for one in planned_visits(register)
        if one.site == site and one.on <= days.to_on and one.to_on >= days.from_on
    ]


def days_off(
    record: Record, public_holidays: PublicHolidays, days: TechnicianDaysOff, stamp: Stamp
) -> list[SiteVisit]:
    """Keep days on which a technician cannot come; the visits of trips that lie in them still."""
    register = record.register()
    name = checked_text(_ACT, "technician", days.technician.strip(), NAME_LENGTH)
    known = sorted({one.technician for one in planned_visits(register)})
    if name not in known:
        listed = ", ".join(known) or "nobody: no plan is kept"
        raise refused(_ACT, "technician", f"{name} makes no visit", f"planned are: {listed}")
    _check_days(days.from_on, days.to_on, stamp)
    _check_longer(register.technician_days_off.get((name, days.from_on.isoformat())), days.to_on)
    wanted = replace(days, technician=name, reason=reason_given(_ACT, days.reason))
    change_register(record, public_holidays, _ACT, [wanted], stamp)
    own = [one for one in planned_visits(register) if one.technician == name]
    return [
        one
        for some in trips_of(register, own).values()
        if some[0].trip_on <= days.to_on and some[-1].to_on >= days.from_on
        for one in some
    ]


def _check_longer(known: UnsuitableDays | TechnicianDaysOff | None, to_on: dt.date) -> None:
    """Refuse to make days that are kept fewer."""
    if known is not None and known.to_on > to_on:
        problem = f"days from {known.from_on} to {known.to_on} are kept already ({known.reason})"
        raise refused(_ACT, "to", problem, "name their last day or a later one")


def _check_days(from_on: dt.date, to_on: dt.date, stamp: Stamp) -> None:
    if to_on < from_on:
        raise refused(_ACT, "to", f"{to_on} is before {from_on}", "exchange the two")
    if to_on < stamp.at.date():
        raise refused(_ACT, "to", f"{to_on} has passed", "name days to come")


def _open(register: Register, number: str) -> SiteVisit:
    """A visit that is still to be made."""
    visit = visit_of(register, number)
    if visit.state is not VisitState.PLANNED:
        problem = f"visit {visit.number} is {visit.state.value}"
        raise refused(_ACT, "number", problem, "see those to be made: dueward visits list")
    return visit


def _of_trips(register: Register, visits: Iterable[SiteVisit]) -> list[SiteVisit]:
    """All visits of the trips that some visits belong to, in the order they are made."""
    trips = trips_of(register, planned_visits(register))
    keys = dict.fromkeys(map(key_of, visits))
    return [one for key in keys for one in trips[key]]


def _graded(
    record: Record,
    public_holidays: PublicHolidays,
    before: Sequence[SiteVisit],
    after: Sequence[SiteVisit],
    stamp: Stamp,
) -> Graded:
    changed = [new for old, new in zip(before, after, strict=True) if old != new]
    were = [old for old, new in zip(before, after, strict=True) if old != new]
    if changed:
        change_register(record, public_holidays, _ACT, changed, stamp)
    return Graded(tuple(after), tuple(were))
