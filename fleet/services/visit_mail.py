"""How does a visit reach those it concerns? A mail at once, with the event for their calendar.

The planner of visits calls this whenever one is confirmed, moved or cancelled. The event keeps its
UID for the visit's life; its sequence grows with every change, so that calendar programs put the
new one in the place of the old (RFC 5545 3.8.7.4, RFC 5546 3.2.1 and 3.2.5).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from fleet.domain.records import Site
from fleet.services.calendar_ports import EventRow
from fleet.services.events import Happening, event_of, revised
from fleet.services.mailing.digest_facts import place_of
from fleet.services.mailing.plan import Planner
from fleet.services.mailing.readers import MailReader
from notifications import digests as written
from notifications.addresses import normal_address
from notifications.event_facts import Change, VisitFacts, VisitTask
from notifications.facts import Reader
from notifications.ics import Method, calendar
from notifications.languages import speaking
from notifications.messages import Attached, Kind, Skipped
from notifications.rendering import render, templates_of

__all__ = ["PlannedVisit", "tell_visit"]

_FILE = "visit.ics"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlannedVisit:
    """A visit as it stands now; `number` names it for life. Times are the site's local ones."""

    number: str
    site: str
    vendor: str
    on: dt.date
    from_at: dt.time | None = None
    to_at: dt.time | None = None
    to_on: dt.date | None = None
    """The day it ends, where that is another; to_at is of that day."""
    tasks: tuple[VisitTask, ...] = ()
    contact: str = ""

    @property
    def about(self) -> str:
        """The name of its calendar event."""
        return f"visit/{self.number}"


def tell_visit(
    planner: Planner,
    visit: PlannedVisit,
    change: Change,
    *,
    was: PlannedVisit | None = None,
    reason: str = "",
) -> int:
    """Tell the leads of a visit's site and the consultants of its region; how many mails.

    was: the visit as it was told before, where it moved. Planned in the planner's unit of work,
    whose caller commits it with the change of the visit itself.
    """
    site = planner.people.register.sites[(visit.site,)]
    row = _event(planner, visit, site, change)
    part = _part(planner, row)
    told = VisitFacts(
        reader=Reader(email="", name="", dated_at=planner.now),
        on=planner.now.date(),
        period=f"{row.uid.partition('@')[0]}/{row.sequence}",
        change=change,
        place=place_of(site),
        vendor=visit.vendor,
        visit_on=visit.on,
        from_at=visit.from_at,
        to_at=visit.to_at,
        to_on=visit.to_on or visit.on,
        was_on=was.on if was else None,
        was_from_at=was.from_at if was else None,
        was_to_at=was.to_at if was else None,
        was_to_on=(was.to_on or was.on) if was else None,
        tasks=visit.tasks,
        contact=visit.contact,
        reason=reason,
    )
    return sum(_tell(planner, reader, told, part) for reader in _concerned(planner, site))


def _event(planner: Planner, visit: PlannedVisit, site: Site, change: Change) -> EventRow:
    """The visit's event with its next sequence, kept."""
    begins, ends = _span(visit, site)
    happening = Happening(
        about=visit.about,
        site=visit.site,
        begins=begins,
        ends=ends,
        summary=f"{visit.vendor}: {site.name or site.site}",
        description="\n".join(f"{task.property_number}: {task.title}" for task in visit.tasks),
        location=site.name or site.site,
        is_vendor=True,
    )
    there = [row for row in planner.record.events.all() if row.about == visit.about]
    wanted = [] if change is Change.CANCELLED else [happening]
    if change is Change.CANCELLED and not there:
        made, _ = revised((), [happening], planner.now)
        there = made
    changed, _ = revised(there, wanted, planner.now)
    row = changed[0] if changed else there[0]
    planner.record.events.put([row])
    return row


def _span(visit: PlannedVisit, site: Site) -> tuple[dt.date, dt.date]:
    """From when to when, in UTC; the whole day where no time is agreed."""
    if visit.from_at is None:
        return visit.on, visit.on + dt.timedelta(days=1)
    zone = ZoneInfo(site.time_zone)
    begins = dt.datetime.combine(visit.on, visit.from_at, zone).astimezone(dt.UTC)
    ends = begins
    if visit.to_at is not None:
        last_on = visit.to_on or visit.on
        ends = dt.datetime.combine(last_on, visit.to_at, zone).astimezone(dt.UTC)
    # Without an end, or with one that is none (a missing hour in spring): an hour.
    return begins, ends if ends > begins else begins + dt.timedelta(hours=1)


def _concerned(planner: Planner, site: Site) -> Iterator[MailReader]:
    """Who leads the site, and who is the consultant of its region."""
    for reader in planner.people.readers.all.values():
        leads = {person.site for person in reader.people.get(Kind.SITE_LEAD, ())}
        regions = {person.region for person in reader.people.get(Kind.CONSULTANT, ())}
        if site.site in leads or {site.region, ""} & regions:
            yield reader


def _part(planner: Planner, row: EventRow) -> Attached:
    """The event as a calendar part: PUBLISH, or CANCEL once it is cancelled."""
    method = Method.PUBLISH if row.cancelled_at is None else Method.CANCEL
    organizer = normal_address(planner.tools.settings.mail_from)
    content = calendar([event_of(row)], method=method, organizer=organizer)
    return Attached(_FILE, "text/calendar", content, method.value)


def _tell(planner: Planner, reader: MailReader, told: VisitFacts, part: Attached) -> bool:
    facts = replace(
        told,
        reader=Reader(
            email=reader.email,
            name=reader.name,
            dated_at=planner.now.astimezone(ZoneInfo(reader.zone)),
            language=reader.language,
        ),
        on=reader.today(planner.now),
        stand_in=reader.stand_in.get(Kind.SITE_LEAD, ()),
    )
    templates = templates_of(planner.tools.settings.templates)
    with speaking(reader.language):
        message = written.visit(facts, planner.tools.settings.base_url)
        if isinstance(message, Skipped):
            return False
        return planner.add(render(replace(message, attached=(part,)), templates), None)
