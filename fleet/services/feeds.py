"""Which calendar is a person's? Those events that their roles answer for, at an address of theirs.

The address is a token nobody can guess and can be revoked. Reading it changes nothing: events are
revised where the timetable runs.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace

from fleet.errors import BadInput, Fault
from fleet.services.calendar_ports import EventRow, FeedRow
from fleet.services.events import KEPT_DAYS, event_of
from fleet.services.links import token_hash
from fleet.services.mailing.readers import MailReader, address_of, readers
from fleet.services.ports import Record
from notifications.ics import Event, calendar
from notifications.messages import Kind

__all__ = ["Feed", "feed", "make_feed", "person_feed", "refuse_unknown"]

_BEHIND, _AHEAD = dt.timedelta(days=90), dt.timedelta(days=400)


@dataclass(frozen=True, slots=True)
class Feed:
    """A calendar as bytes, and their ETag (RFC 9110 8.8.3) with its quotes."""

    content: bytes
    etag: str


def make_feed(record: Record, email: str, token: str, now: dt.datetime) -> str:
    """Give a person a calendar address, and answer its path; the caller commits.

    Raises BadInput for an address that gets no mail: whoever is not known has no calendar.
    """
    refuse_unknown(record, email, now)
    record.feeds.add(FeedRow(token_hash=token_hash(token), email=address_of(email), made_at=now))
    return f"/calendar/{token}.ics"


def refuse_unknown(record: Record, email: str, now: dt.datetime) -> None:
    """Raise BadInput for an address that answers for nothing: its calendar would be empty."""
    if not _as_reader(record, email, now):
        mend = "add a row for it to people, or correct the address"
        raise BadInput([Fault("EMAIL", None, None, f"'{email}' answers for no site", mend)])


def feed(record: Record, token: str, now: dt.datetime) -> Feed | None:
    """The calendar at an address; None for one that is unknown or was revoked."""
    row = record.feeds.find(token_hash(token))
    if row is None or row.revoked_at is not None:
        return None
    return person_feed(record, row.email, now)


def person_feed(record: Record, email: str, now: dt.datetime) -> Feed:
    """A person's calendar; without events for somebody who answers for nothing any more."""
    content = calendar(_events(record, _as_reader(record, email, now), now), name="Dueward")
    return Feed(content, f'"{hashlib.sha256(content).hexdigest()[:32]}"')


def _as_reader(record: Record, email: str, now: dt.datetime) -> list[MailReader]:
    """A person by what they answer for themselves, and as a deputy by what they stand in for.

    Mail of somebody who is away goes to their deputy; their own calendar stays theirs.
    """
    register = record.register()
    both = (readers(replace(register, absences={}), now), readers(register, now))
    return [some.all[address_of(email)] for some in both if address_of(email) in some.all]


def _events(record: Record, person: list[MailReader], now: dt.datetime) -> Iterator[Event]:
    """The events of the person's sites and regions, from 90 days back to 400 days ahead."""
    if not person:
        return
    places = {site.site: site.region for site in record.register().sites.values()}
    today = person[0].today(now)
    for row in record.events.all():
        if not any(_answers_for(one, row, places.get(row.site, "")) for one in person):
            continue
        event = event_of(row)
        begins = event.begins.date() if isinstance(event.begins, dt.datetime) else event.begins
        is_old = row.cancelled_at is not None and row.cancelled_at < now - dt.timedelta(KEPT_DAYS)
        if today - _BEHIND <= begins <= today + _AHEAD and not is_old:
            yield event


def _answers_for(reader: MailReader, row: EventRow, region: str) -> bool:
    """Say whether an event is one of the reader's: a lead's site, a consultant's region, or a
    vendor's service or visit in a manager's.
    """
    leads = {person.site for person in reader.people.get(Kind.SITE_LEAD, ())}
    regions = {person.region for person in reader.people.get(Kind.CONSULTANT, ())}
    if row.site in leads or region in regions or "" in regions:
        return True
    states = {person.region for person in reader.people.get(Kind.MANAGER, ())}
    return bool({region, ""} & states) and bool(json.loads(row.content)["is_vendor"])
