"""Who is told of a visit, in which words? Its site's leads and consultants, at once.

A trip's stop list goes to those who plan and to the technician, with the list as PDF.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit, VisitState
from fleet.services.columns import book_of
from fleet.services.mailing.digest_facts import place_of
from fleet.services.mailing.plan import Planner
from fleet.services.mailing.plan import Tools as MailTools
from fleet.services.mailing.wanted import People
from fleet.services.ports import PublicHolidays, Record
from fleet.services.visit_mail import PlannedVisit, tell_visit
from fleet.services.visits.numbers import present_names, unit_and_task
from fleet.services.visits.replanning import Changed
from notifications import digests as written
from notifications.event_facts import Change, StopFacts, StopListFacts, VisitTask
from notifications.facts import Reader
from notifications.languages import speaking
from notifications.messages import Attached
from notifications.rendering import render, templates_of
from schedules.rules import Rule

__all__ = ["Told", "mail_planner", "moved_or_gone", "send_stop_list", "tell_of"]

_FILE = "stop-list.pdf"


@dataclass(frozen=True, slots=True)
class Told:
    """A visit that somebody is told of, what has become of it, and as it was told before."""

    visit: SiteVisit
    change: Change
    was: SiteVisit | None = None
    reason: str = ""


def mail_planner(
    record: Record, public_holidays: PublicHolidays, tools: MailTools, now: dt.datetime
) -> Planner:
    """What plans mails in a unit of work, as people stand now."""
    people = People.of(record.register(), record.holiday_years(), public_holidays, now)
    return Planner(record, people, tools, now)


def tell_of(planner: Planner, told: Iterable[Told]) -> int:
    """Tell of some visits, each by itself; how many mails."""
    return sum(
        tell_visit(
            planner,
            _planned(planner, one.visit),
            one.change,
            was=None if one.was is None else _planned(planner, one.was),
            reason=one.reason,
        )
        for one in told
    )


def moved_or_gone(changes: Iterable[Changed]) -> list[Told]:
    """What sites must be told of a plan made anew: only those that were told of a day before."""
    found = []
    for was, now in ((one.was, one.now) for one in changes):
        if was is None or was.told_on is None:
            continue
        if now is None or now.state is VisitState.CANCELLED:
            found.append(Told(was, Change.CANCELLED))
        elif (now.on, now.from_at, now.to_on, now.to_at) != (
            was.on,
            was.from_at,
            was.to_on,
            was.to_at,
        ):
            found.append(Told(now, Change.MOVED, was))
    return found


def send_stop_list(
    planner: Planner, visits: Sequence[SiteVisit], email: str, pdf: bytes, depot: str
) -> int:
    """Send one trip's stop list to consultants, managers and the technician; how many mails.

    visits: of the trip, in the order they are made; email: the technician's, '' where none is
    known; pdf: the list.
    """
    first, register = visits[0], planner.people.register
    facts = StopListFacts(
        reader=Reader(email=email, name=first.technician, dated_at=planner.now),
        on=planner.now.date(),
        period=_period(visits),
        technician=first.technician,
        vendor=first.vendor,
        depot=depot,
        from_on=first.trip_on,
        to_on=visits[-1].to_on,
        stops=tuple(_stop(register, one) for one in visits),
    )
    part = Attached(_FILE, "application/pdf", pdf)
    readers = [
        replace(
            facts.reader,
            email=one.email,
            name=one.name,
            language=one.language,
            dated_at=planner.now.astimezone(ZoneInfo(one.zone)),
        )
        for one in planner.people.readers.all.values()
        if _plans_for(register, one.email, visits)
    ]
    if email and email not in {one.email for one in readers}:
        readers.append(facts.reader)
    return sum(_send(planner, replace(facts, reader=one), part) for one in readers)


def _send(planner: Planner, facts: StopListFacts, part: Attached) -> bool:
    templates = templates_of(planner.tools.settings.templates)
    with speaking(facts.reader.language):
        message = written.stop_list(facts)
        return planner.add(render(replace(message, attached=(part,)), templates), None)


def _plans_for(register: Register, email: str, visits: Sequence[SiteVisit]) -> bool:
    """Whether a person is a manager, or the consultant of a region that is visited."""
    regions = {register.sites[(one.site,)].region for one in visits} | {""}
    return any(
        person.email == email
        and person.role in (Role.MANAGER, Role.CONSULTANT)
        and person.region in regions
        for person in register.people.values()
    )


def _period(visits: Sequence[SiteVisit]) -> str:
    """Names the list: the trip and everything that its stops say, so that a change is sent anew."""
    first = visits[0]
    stops = ",".join(f"{one.number}@{one.on}T{one.from_at}" for one in visits)
    return f"trip/{first.technician}/{first.trip_on}/{stops}"


def _stop(register: Register, visit: SiteVisit) -> StopFacts:
    return StopFacts(
        place=place_of(register.sites[(visit.site,)]),
        number=visit.number,
        on=visit.on,
        from_at=dt.time.fromisoformat(visit.from_at),
        units=tuple(
            dict.fromkeys(
                unit_and_task(name)[0] for name in present_names(register, visit.need_names)
            )
        ),
    )


def _planned(planner: Planner, visit: SiteVisit) -> PlannedVisit:
    register = planner.people.register
    return PlannedVisit(
        number=visit.number,
        site=visit.site,
        vendor=visit.vendor,
        on=visit.on,
        to_on=visit.to_on,
        from_at=dt.time.fromisoformat(visit.from_at),
        to_at=dt.time.fromisoformat(visit.to_at),
        tasks=tuple(_task(register, name) for name in present_names(register, visit.need_names)),
        contact=visit.technician,
    )


def _task(register: Register, need: str) -> VisitTask:
    number, task = unit_and_task(need)
    unit = register.units[(number,)]
    kind = book_of(register).kinds.get(unit.kind)
    rules: Mapping[str, Sequence[Rule]] = kind.tasks(unit.model) if kind else {}
    rule = next(iter(rules.get(task, ())), None)
    return VisitTask(
        property_number=number,
        kind=kind.name if kind else unit.kind,
        task=task,
        title=rule.title if rule else task,
        cautions=rule.cautions if rule else (),
        due_on=dt.date.fromisoformat(need.rsplit("/", 1)[1]),
        title_es=(rule.title_es or "") if rule else "",
        cautions_es=rule.cautions_es if rule else (),
    )
