"""What does confirming visits set going, and whom do changes of them concern?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, NamedTuple

from fleet.domain.visits import SiteVisit
from fleet.services.ports import Record, Stamp
from fleet.services.visits import grading
from fleet.services.visits.grading import Graded
from fleet.services.visits.kept_plan import content_of, plan_named, planned_visits, trips_of
from fleet.services.visits.notices import Told, mail_planner, send_stop_list, tell_of
from notifications.event_facts import Change
from schedules.visits.model import Grade

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["Confirmed", "confirmed", "told_of"]


@dataclass(frozen=True, slots=True)
class Confirmed:
    """Visits that are confirmed now, how many mails tell it, and the stop lists by file name."""

    graded: Graded
    mails: int
    lists: Mapping[str, bytes]


def confirmed(
    program: Program,
    record: Record,
    numbers: Sequence[str],
    stamp: Stamp,
    paper: Literal["letter", "a4"] = "letter",
) -> Confirmed:
    """Confirm the trips of some visits, and plan the mails that tell it; the caller commits."""
    graded = grading.confirm(record, program.public_holidays, numbers, stamp)
    planner = mail_planner(record, program.public_holidays, program.mail_tools(), stamp.at)
    were = {one.number for one in graded.were}
    fresh = [one for one in graded.visits if one.number in were]
    mails = tell_of(planner, [Told(one, Change.CONFIRMED) for one in fresh])
    register, lists = record.register(), dict[str, bytes]()
    for some in trips_of(register, graded.visits).values():
        stops = _stops(program, record, some, paper, stamp.at)
        lists[f"stop-list-{some[0].trip_on}-{some[0].number}.pdf"] = stops.pdf
        if any(one.number in were for one in some):
            mails += send_stop_list(planner, some, stops.email, stops.pdf, stops.depot)
    return Confirmed(graded, mails, lists)


def told_of(program: Program, record: Record, told: Sequence[Told], stamp: Stamp) -> int:
    """Plan the mails about visits that moved or fell out; how many.

    Of a confirmed trip that is no longer what it was, the stop list goes out anew.
    """
    planner = mail_planner(record, program.public_holidays, program.mail_tools(), stamp.at)
    mails = tell_of(planner, told)
    register = record.register()
    touched = {
        (one.technician, one.trip_on)
        for change in told
        for one in (change.visit, change.was or change.visit)
    }
    for key, some in trips_of(register, planned_visits(register)).items():
        is_firm = some[0].grade is Grade.CONFIRMED
        if is_firm and (key.technician, key.start_on) in touched:
            stops = _stops(program, record, some, "letter", stamp.at)
            mails += send_stop_list(planner, some, stops.email, stops.pdf, stops.depot)
    return mails


class _Stops(NamedTuple):
    """A trip's stop list, where its technician gets mail ('': nowhere), and the depot's name."""

    pdf: bytes
    email: str
    depot: str


def _stops(
    program: Program,
    record: Record,
    visits: Sequence[SiteVisit],
    paper: Literal["letter", "a4"],
    made_at: dt.datetime,
) -> _Stops:
    from fleet.pictures.trip_stop_list import stop_list_of, tells

    register = record.register()
    plan = plan_named(register, visits[0].plan)
    content = content_of(record, plan)
    # A trip under way goes on in a plan that follows; the one that made it tells its stops.
    while not tells(content, visits[0]) and plan.follows:
        plan = plan_named(register, plan.follows)
        content = content_of(record, plan)
    pdf = stop_list_of(register, content, visits, paper, made_at)
    technicians = {one.name: one for one in program.sources_of(content).technicians}
    known = technicians.get(visits[0].technician)
    return _Stops(pdf, known.email if known else "", known.depot if known else "")
