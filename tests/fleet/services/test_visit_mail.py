"""A visit's mails: at once, to those it concerns, one event for the calendar that is kept up."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from email import message_from_bytes, policy
from email.message import EmailMessage
from typing import Any

import icalendar
import pytest

from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.feeds import person_feed
from fleet.services.mailing.plan import Planner
from fleet.services.mailing.wanted import People
from fleet.services.visit_mail import PlannedVisit, tell_visit
from fleet.storage import SqlStore
from notifications.event_facts import Change, VisitTask
from notifications.messages import Kind
from tests.fleet.services.mailing.mail_fleet import (
    BIRCH_LEAD,
    CONSULTANT,
    LEAD,
    MONDAY,
    Minutes,
    a_fleet,
    at,
    mail_tools,
    sent_rows,
)
from tests.notifications.ics_lint import faults
from tests.notifications.mail_rules import check_message

NOW = at(MONDAY, "16:20")
VISIT = PlannedVisit(
    number="2026-1",
    site="alder",
    vendor="Lensworth Service",
    on=MONDAY + dt.timedelta(days=8),
    from_at=dt.time(9),
    to_at=dt.time(11, 30),
    tasks=(
        VisitTask(
            property_number="A-1",
            kind="Bench microscope",
            task="annual-service",
            title="Service by the vendor",
            cautions=("Unplug before any liquid comes near.",),
        ),
    ),
    contact="Pat Kell, 555 0100",
)


@pytest.fixture
def fleet(sqlite_store: SqlStore) -> SqlStore:
    return a_fleet(sqlite_store)


def tell(store: SqlStore, visit: PlannedVisit, change: Change, **more: Any) -> int:
    with store.begin(write=True) as record:
        tools = mail_tools(store, lambda: NOW)
        people = People.of(record.register(), (), PublicHolidayCalendar(), NOW)
        count = tell_visit(Planner(record, people, tools, NOW), visit, change, **more)
        record.commit()
    return count


def mails(store: SqlStore, email: str) -> list[EmailMessage]:
    found = []
    for row in sent_rows(store, email):
        if row.kind is Kind.VISIT:
            assert row.day is None
            with store.begin() as record:
                content = record.mail.content(row.key)
            assert content is not None
            check_message(content)
            found.append(message_from_bytes(content, EmailMessage, policy=policy.default))
    return found


def event(mail: EmailMessage) -> tuple[str, icalendar.Event]:
    """METHOD and the event of the calendar part; the attachment is the same bytes."""
    parts = [part for part in mail.walk() if part.get_content_type() == "text/calendar"]
    first, second = (part.get_payload(decode=True) for part in parts)
    assert first == second
    assert isinstance(first, bytes)
    assert faults(first) == []
    parsed = icalendar.Calendar.from_ical(first)
    for part in parts:
        # RFC 6047 2.4 and RFC 5545 3.7.2: method in both places, and the same; charset.
        assert part.get_param("method") == str(parsed["METHOD"])
        assert part.get_content_charset() == "utf-8"
    (one,) = parsed.walk("VEVENT")
    assert isinstance(one, icalendar.Event)
    return str(parsed["METHOD"]), one


def test_a_visit_is_told_to_lead_and_consultant_at_once_beside_their_other_mail(
    fleet: SqlStore,
) -> None:
    Minutes(fleet).tick()
    Minutes(fleet).tick(at(MONDAY))

    assert tell(fleet, VISIT, Change.CONFIRMED) == 2
    assert [len(mails(fleet, who)) for who in (LEAD, CONSULTANT, BIRCH_LEAD)] == [1, 1, 0]
    (mail,) = mails(fleet, LEAD)
    assert mail["Subject"] == "Alder Laboratory: visit on Tue 8 Dec 2026"
    body = mail.get_body(("plain",))
    assert body is not None
    told = " ".join(body.get_content().split())
    assert "Lensworth Service comes on Tue 8 Dec 2026 from 09:00 to 11:30 for 1 unit." in told
    assert "Caution: Unplug before any liquid comes near." in told
    method, one = event(mail)
    assert method == "PUBLISH"
    assert one.decoded("DTSTART") == dt.datetime(2026, 12, 8, 15, 0, tzinfo=dt.UTC)
    assert one.decoded("DTEND") == dt.datetime(2026, 12, 8, 17, 30, tzinfo=dt.UTC)
    assert int(str(one["SEQUENCE"])) == 0


def test_a_change_updates_the_same_event_and_its_end_cancels_it(fleet: SqlStore) -> None:
    moved = replace(VISIT, on=VISIT.on + dt.timedelta(days=1))
    tell(fleet, VISIT, Change.CONFIRMED)
    tell(fleet, moved, Change.MOVED, was=VISIT, reason="The technician is ill")
    tell(fleet, moved, Change.CANCELLED)

    some = {mail["Subject"]: event(mail) for mail in mails(fleet, LEAD)}
    assert sorted(some) == [
        "Alder Laboratory: visit moved to Wed 9 Dec 2026",
        "Alder Laboratory: visit of Wed 9 Dec 2026 cancelled",
        "Alder Laboratory: visit on Tue 8 Dec 2026",
    ]
    assert len({str(one["UID"]) for _, one in some.values()}) == 1
    told = sorted(
        (int(str(one["SEQUENCE"])), method, str(one["STATUS"])) for method, one in some.values()
    )
    assert told == [
        (0, "PUBLISH", "CONFIRMED"),
        (1, "PUBLISH", "CONFIRMED"),
        (2, "CANCEL", "CANCELLED"),
    ]


def test_telling_the_same_twice_sends_one_mail(fleet: SqlStore) -> None:
    assert tell(fleet, VISIT, Change.CONFIRMED) == 2
    assert tell(fleet, VISIT, Change.CONFIRMED) == 0
    assert len(mails(fleet, LEAD)) == 1


def test_the_visit_stands_in_the_feeds_of_those_it_concerns(fleet: SqlStore) -> None:
    tell(fleet, VISIT, Change.CONFIRMED)

    with fleet.begin() as record:
        lead, other = (person_feed(record, who, NOW).content for who in (LEAD, BIRCH_LEAD))
    assert b"SUMMARY:Lensworth Service: Alder Laboratory" in lead
    assert b"VEVENT" not in other
    assert faults(lead) == []


def test_a_visit_without_a_time_takes_the_day(fleet: SqlStore) -> None:
    tell(fleet, replace(VISIT, from_at=None, to_at=None), Change.CONFIRMED)

    _, one = event(mails(fleet, LEAD)[0])
    assert (one.decoded("DTSTART"), one.decoded("DTEND")) == (
        dt.date(2026, 12, 8),
        dt.date(2026, 12, 9),
    )


def test_a_visit_over_a_night_is_told_with_both_its_days(fleet: SqlStore) -> None:
    over = replace(VISIT, to_on=VISIT.on + dt.timedelta(days=1), to_at=dt.time(8, 45))
    tell(fleet, over, Change.CONFIRMED)
    (mail,) = mails(fleet, LEAD)
    body = mail.get_body(("plain",))
    assert body is not None
    text = " ".join(body.get_content().split())
    method, told = event(mail)

    assert (
        "from" not in text.split("Have them ready")[0].rsplit(" comes on ", 1)[1].split(" at ")[0]
    )
    assert "at 09:00 until" in text
    assert method == "PUBLISH"
    assert told.end - told.start == dt.timedelta(hours=23, minutes=45)
