"""What has happened that a site lead is told of by itself? A unit came, a service report is in.

An event is told once to each reader (`told`), for as long as it is news: so many days after it was
stored, and only if that was after the timetable began.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from fleet.domain.evidence import ServiceReport
from fleet.domain.records import Placement, Unit
from fleet.domain.register import Register
from fleet.services.ports import ChangeLine
from fleet.services.stays import moves_of, site_on
from notifications.facts import Place, ReportIn, UnitArrived
from schedules.rules import Rule, RuleBook

__all__ = ["NEWS_DAYS", "Event", "events", "told_news"]

NEWS_DAYS = 14
"""So long what was stored is news."""


@dataclass(frozen=True, slots=True)
class Event:
    """One thing that happened: at which site, when it was stored, and by which name it is told."""

    item: str
    site: str
    stored_at: dt.datetime
    record: Placement | Unit | ServiceReport


def events(
    register: Register, lines: Iterable[ChangeLine], since_at: dt.datetime, now: dt.datetime
) -> list[Event]:
    """What was stored since an instant, NEWS_DAYS ago at most, and stands, in the order it came.

    A first load is no news; nor is what lies ahead, before its day has come, or a unit that has
    left the site again.
    """
    since_at = max(since_at, now - dt.timedelta(days=NEWS_DAYS))
    moves = moves_of(register)
    today = now.date()
    found: list[Event] = []
    for line in lines:
        record = line.change.new
        if line.stored_at < since_at or line.change.initial or line.change.old is not None:
            continue
        if isinstance(record, Placement) and _is_there(register, record, moves, today):
            item = f"placement/{record.property_number}/{record.from_on}"
            found.append(Event(item, record.site, line.stored_at, record))
        elif isinstance(record, Unit) and record.in_service_on <= today:
            item = f"unit/{record.property_number}"
            found.append(Event(item, record.site, line.stored_at, record))
        elif isinstance(record, ServiceReport) and (record.property_number,) in register.units:
            unit = register.units[(record.property_number,)]
            site = site_on(unit, moves.get(unit.property_number, ()), record.on)
            item = f"report/{record.property_number}/{record.task}/{record.on}"
            found.append(Event(item, site, line.stored_at, record))
    return found


def _is_there(
    register: Register, placement: Placement, moves: Mapping[str, Iterable[Placement]], on: dt.date
) -> bool:
    unit = register.units.get((placement.property_number,))
    if unit is None or placement.from_on > on:
        return False
    return site_on(unit, moves.get(unit.property_number, ()), on) == placement.site


def told_news(
    some: Iterable[Event],
    register: Register,
    book: RuleBook,
    places: Mapping[str, Place],
    dues: Mapping[tuple[str, str], tuple[dt.date | None, dt.date | None]],
) -> Iterator[UnitArrived | ReportIn]:
    """Events as a mail tells them. dues: when a task opens and is due, by unit and task."""
    for event in some:
        record = event.record
        unit = register.units.get((record.property_number,))
        place = places.get(event.site)
        if unit is None or place is None or unit.kind not in book.kinds:
            continue
        if isinstance(record, ServiceReport):
            yield _report(record, unit, place, book, dues)
        else:
            yield _arrival(record, unit, place, register, book)


def _report(
    report: ServiceReport,
    unit: Unit,
    place: Place,
    book: RuleBook,
    dues: Mapping[tuple[str, str], tuple[dt.date | None, dt.date | None]],
) -> ReportIn:
    rule = next((rule for rule in _rules(book, unit, report.on) if rule.task == report.task), None)
    opens_on, due_on = dues.get((report.property_number, report.task), (None, None))
    return ReportIn(
        place=place,
        property_number=report.property_number,
        kind=book.kinds[unit.kind].name,
        task=report.task,
        title=rule.title if rule else report.task,
        title_es=(rule.title_es or "") if rule else "",
        done_on=report.on,
        opens_on=opens_on,
        due_on=due_on,
        vendor=report.vendor,
        remarks=report.findings,
    )


def _arrival(
    record: Placement | Unit, unit: Unit, place: Place, register: Register, book: RuleBook
) -> UnitArrived:
    from_on = record.from_on if isinstance(record, Placement) else record.in_service_on
    came_from = ""
    if isinstance(record, Placement):
        others = moves_of(register).get(unit.property_number, ())
        before = site_on(unit, others, from_on - dt.timedelta(days=1))
        site = register.sites.get((before,))
        came_from = "" if site is None or before == record.site else site.name or site.site
    rules = [rule for rule in _rules(book, unit, from_on) if rule.each is not None]
    return UnitArrived(
        place=place,
        property_number=unit.property_number,
        kind=book.kinds[unit.kind].name,
        from_on=from_on,
        from_site=came_from,
        tasks=tuple(dict.fromkeys(rule.title for rule in rules)),
        tasks_es=tuple(dict.fromkeys(rule.title_es or rule.title for rule in rules)),
    )


def _rules(book: RuleBook, unit: Unit, on: dt.date) -> Iterator[Rule]:
    """The version in force on a day of every task of a unit."""
    for versions in book.kinds[unit.kind].tasks(unit.model).values():
        rule = next((rule for rule in versions if rule.speaks_on(on)), None)
        if rule is not None:
            yield rule
