"""Which calendar events are there? Due dates of services, and visits once they are planned.

An event is kept as it was last told. Its sequence grows, and the instant of its revision moves on,
only when it says something else: so a feed of it is the same bytes until then. What is gone is
cancelled, and forgotten a month later.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from fleet.domain.answers import StatusRow
from fleet.domain.register import Register
from fleet.services.calendar_ports import EventRow
from fleet.services.columns import book_of
from fleet.services.due import due_rows
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Question
from notifications.ics import Event
from schedules.rules import Rule, RuleBook

__all__ = ["KEPT_DAYS", "Happening", "event_of", "happenings_due", "revise_events", "revised"]

KEPT_DAYS = 30
"""So long an event that was cancelled is still told."""
_LEAST_DAYS = 28
"""Duties that come back sooner are for the chart, not for a calendar."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Happening:
    """What an event is to say; `about` names what of ('due/UNIT/TASK', 'visit/NUMBER')."""

    about: str
    site: str
    begins: dt.date
    ends: dt.date
    """Not included; both are dates, or both instants."""
    summary: str
    description: str
    location: str = ""
    is_vendor: bool = False
    """It is a vendor's service or visit, and so the program manager's too."""

    def content(self) -> str:
        """What the event says, as canonical JSON."""
        said = {
            "begins": self.begins.isoformat(),
            "ends": self.ends.isoformat(),
            "summary": self.summary,
            "description": self.description,
            "location": self.location,
            "is_vendor": self.is_vendor,
        }
        return json.dumps(said, ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def revise_events(
    record: Record, public_holidays: PublicHolidays, now: dt.datetime, on: dt.date
) -> int:
    """Bring the events of due dates up to the record as it is; how many are another. The caller
    commits. Visits are left as they are: they change when somebody changes them.
    """
    rows = due_rows(record, public_holidays, Question(now=now, on=on)).rows
    register = record.register()
    there = [row for row in record.events.all() if row.about.startswith("due/")]
    changed, gone = revised(there, happenings_due(register, rows, on), now)
    record.events.put(changed)
    record.events.drop(gone)
    return len(changed) + len(gone)


def revised(
    there: Iterable[EventRow], wanted: Iterable[Happening], now: dt.datetime
) -> tuple[list[EventRow], list[str]]:
    """Which events are to be written, and which forgotten, for all of `wanted` to be told."""
    standing = {row.about: row for row in there}
    changed: list[EventRow] = []
    for one in wanted:
        old = standing.pop(one.about, None)
        if old is None or old.content != one.content() or old.cancelled_at is not None:
            changed.append(
                EventRow(
                    uid=_uid(one.about, now) if old is None else old.uid,
                    about=one.about,
                    site=one.site,
                    content=one.content(),
                    sequence=0 if old is None else old.sequence + 1,
                    revised_at=now,
                )
            )
        elif old.site != one.site:
            changed.append(replace(old, site=one.site))
    gone = []
    for row in standing.values():
        if row.cancelled_at is None:
            end = replace(row, sequence=row.sequence + 1, revised_at=now, cancelled_at=now)
            changed.append(end)
        elif row.cancelled_at < now - dt.timedelta(days=KEPT_DAYS):
            gone.append(row.uid)
    return changed, gone


def _uid(about: str, now: dt.datetime) -> str:
    """A UID that names nobody and nothing (RFC 7986 5.3), for an event that begins to be told now.

    What was forgotten and comes back is another event: its sequence begins at 0 again, which no
    program would take for a later version of the old one (RFC 5545 3.8.7.4). Nor do two fleets with
    the same numbers share one.
    """
    name = f"{about} {now.astimezone(dt.UTC).isoformat()}"
    return f"{hashlib.sha256(name.encode()).hexdigest()[:32]}@dueward"


def event_of(row: EventRow) -> Event:
    """A kept event as a calendar tells it."""
    said = json.loads(row.content)
    return Event(
        uid=row.uid,
        sequence=row.sequence,
        revised_at=row.revised_at,
        begins=_read(said["begins"]),
        ends=_read(said["ends"]),
        summary=said["summary"],
        description=said["description"],
        location=said["location"],
        is_cancelled=row.cancelled_at is not None,
    )


def _read(value: str) -> dt.date:
    """A date, or an instant where it has a time."""
    return dt.datetime.fromisoformat(value) if "T" in value else dt.date.fromisoformat(value)


def happenings_due(
    register: Register, rows: Iterable[StatusRow], on: dt.date
) -> Iterator[Happening]:
    """An all-day event on the due date of every duty that comes back after a month or more.

    It stands on the due date and says the window: a bar over two months would hide the calendar.
    """
    book = book_of(register)
    for row in rows:
        site = register.sites.get((row.site,))
        rule = _rule(register, book, row, on)
        if site is None or rule is None or row.due is None or not _is_long(rule):
            continue
        kind = book.kinds[row.kind].name
        yield Happening(
            about=f"due/{row.property_number}/{row.task}",
            site=row.site,
            begins=row.due,
            ends=row.due + dt.timedelta(days=1),
            summary=f"Due: {rule.title}, {row.property_number}",
            description=(
                f"{kind} {row.property_number} at {site.name or site.site}: {rule.title}.\n"
                f"It may be done from {row.opens}, is due on {row.due}, and is overdue after"
                f" {row.limit}."
            ),
            location=site.name or site.site,
            is_vendor=rule.vendor,
        )


def _rule(register: Register, book: RuleBook, row: StatusRow, on: dt.date) -> Rule | None:
    unit = register.units.get((row.property_number,))
    if row.basis == "cell" or unit is None or unit.kind not in book.kinds:
        return None
    versions = book.kinds[unit.kind].tasks(unit.model).get(row.task, ())
    return next((rule for rule in versions if rule.speaks_on(on)), None)


def _is_long(rule: Rule) -> bool:
    every = rule.every
    return every is not None and (every.in_months or every.count >= _LEAST_DAYS)
