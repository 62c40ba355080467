"""Feeds that change only when something does, and links that are used once."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from threading import Barrier, Thread

import pytest

from fleet.domain.mail_times import Absence
from fleet.domain.records import Entry, Mark, Placement
from fleet.errors import BadInput, LinkRefused
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.events import Happening, revise_events
from fleet.services.events import revised as revised_rows
from fleet.services.feeds import Feed, feed, make_feed, person_feed
from fleet.services.kept import rebuild
from fleet.services.links import Purpose, look_at, make_link, spend
from fleet.services.ports import Stamp
from fleet.storage import SqlStore
from tests.fleet.services.mailing.mail_fleet import (
    BIRCH_LEAD,
    CONSULTANT,
    LEAD,
    MANAGER,
    MONDAY,
    a_fleet,
    at,
    change,
)
from tests.notifications.ics_lint import faults

NOW = at(MONDAY, "12:00")
TOKEN = "t" * 43
HOLIDAYS = PublicHolidayCalendar()


@pytest.fixture
def fleet(store: SqlStore) -> SqlStore:
    return a_fleet(store)


def revised(store: SqlStore, now: dt.datetime = NOW) -> int:
    with store.begin(write=True) as record:
        count = revise_events(record, HOLIDAYS, now, now.date())
        record.commit()
    return count


def feed_of(store: SqlStore, email: str, now: dt.datetime = NOW) -> Feed:
    with store.begin() as record:
        return person_feed(record, email, now)


def lines(found: Feed, name: str) -> list[str]:
    text = found.content.decode().replace("\r\n ", "")
    return [line for line in text.split("\r\n") if line.startswith(name)]


def mark(store: SqlStore, task: str, on: dt.date) -> None:
    entry = Entry(key=f"k/{task}/{on}", property_number="A-1", task=task, on=on, mark=Mark.DONE)
    with store.begin(write=True) as record:
        record.append([entry], Stamp(at=NOW, by="command:ana", source="command"))
        rebuild(record, list(record.unit_ids().values()), HOLIDAYS)
        record.commit()


def test_each_reader_s_calendar_holds_what_they_answer_for(fleet: SqlStore) -> None:
    revised(fleet)

    def units(email: str) -> set[str]:
        return {line.rpartition(" ")[2] for line in lines(feed_of(fleet, email), "SUMMARY")}

    assert units(LEAD) == {"A-1"}
    assert units(BIRCH_LEAD) == {"B-1"}
    assert units(CONSULTANT) == units(MANAGER) == {"A-1", "B-1"}
    assert units("nobody@lab.example") == set()
    for email in (LEAD, CONSULTANT, MANAGER):
        assert faults(feed_of(fleet, email).content) == []


def test_a_feed_is_the_same_bytes_until_something_in_it_changes(fleet: SqlStore) -> None:
    assert revised(fleet) > 0
    before = feed_of(fleet, LEAD)

    assert revised(fleet, NOW + dt.timedelta(hours=3)) == 0
    mark(fleet, "optics", MONDAY)
    assert revised(fleet, NOW + dt.timedelta(hours=4)) == 0
    assert feed_of(fleet, LEAD, NOW + dt.timedelta(hours=5)) == before

    mark(fleet, "annual-service", MONDAY)
    assert revised(fleet, NOW + dt.timedelta(days=1)) == 1
    after = feed_of(fleet, LEAD)
    assert after.etag != before.etag
    assert lines(before, "UID") == lines(after, "UID")
    assert lines(before, "SEQUENCE") == ["SEQUENCE:0"]
    assert lines(after, "SEQUENCE") == ["SEQUENCE:1"]
    assert lines(after, "DTSTART") == ["DTSTART;VALUE=DATE:20271130"]
    assert lines(after, "DTSTAMP") == ["DTSTAMP:20261201T180000Z"]


def test_a_unit_that_moved_is_in_the_calendar_of_its_new_site(fleet: SqlStore) -> None:
    revised(fleet)
    change(fleet, Placement(property_number="A-1", site="birch", from_on=MONDAY), at=NOW)
    revised(fleet)

    assert lines(feed_of(fleet, LEAD), "UID") == []
    assert len(lines(feed_of(fleet, BIRCH_LEAD), "UID")) == 2


def test_what_is_gone_is_told_as_cancelled_for_a_month(fleet: SqlStore) -> None:
    revised(fleet)
    with fleet.begin(write=True) as record:
        (row,) = [row for row in record.events.all() if row.about.startswith("due/A-1")]
        record.events.put([replace(row, about="due/A-9/x", uid="gone@dueward")])
        record.commit()

    revised(fleet, NOW + dt.timedelta(days=1))
    found = feed_of(fleet, LEAD, NOW + dt.timedelta(days=2))
    assert sorted(lines(found, "STATUS")) == ["STATUS:CANCELLED", "STATUS:CONFIRMED"]
    assert "SEQUENCE:1" in lines(found, "SEQUENCE")

    late = NOW + dt.timedelta(days=40)
    assert lines(feed_of(fleet, LEAD, late), "STATUS") == ["STATUS:CONFIRMED"]
    revised(fleet, late)
    with fleet.begin() as record:
        assert "gone@dueward" not in {row.uid for row in record.events.all()}


def test_who_is_away_keeps_their_calendar_and_their_deputy_has_it_too(fleet: SqlStore) -> None:
    revised(fleet)
    before = feed_of(fleet, LEAD)
    change(
        fleet,
        Absence(email=LEAD, from_on=MONDAY, to_on=MONDAY, deputy=BIRCH_LEAD),
        at=NOW,
    )

    assert feed_of(fleet, LEAD) == before
    assert len(lines(feed_of(fleet, BIRCH_LEAD), "UID")) == 2
    assert len(lines(feed_of(fleet, BIRCH_LEAD, NOW + dt.timedelta(days=2)), "UID")) == 1
    with fleet.begin(write=True) as record:
        assert make_feed(record, LEAD, TOKEN, NOW) == f"/calendar/{TOKEN}.ics"


def a_happening(on: dt.date, about: str = "due/A-1/x") -> Happening:
    """An all-day event at alder."""
    ends = on + dt.timedelta(days=1)
    return Happening(
        about=about, site="alder", begins=on, ends=ends, summary=str(on), description=""
    )


def test_what_comes_back_is_the_old_event_with_a_later_sequence_or_another_event() -> None:
    """RFC 5545 3.8.7.4: the sequence of a UID only grows."""
    (first,), _ = revised_rows([], [a_happening(MONDAY)], NOW)
    (ended,), _ = revised_rows([first], [], NOW + dt.timedelta(days=1))
    (back,), _ = revised_rows([ended], [a_happening(MONDAY)], NOW + dt.timedelta(days=2))
    assert [one.sequence for one in (first, ended, back)] == [0, 1, 2]
    assert {one.uid for one in (first, ended, back)} == {first.uid}
    assert back.cancelled_at is None

    late = NOW + dt.timedelta(days=40)
    assert revised_rows([ended], [], late) == ([], [first.uid])
    (anew,), _ = revised_rows([], [a_happening(MONDAY)], late)
    assert anew.sequence == 0
    assert anew.uid != first.uid


def test_a_feed_reaches_from_90_days_back_to_400_days_ahead(fleet: SqlStore) -> None:
    days = (-91, -90, 400, 401)
    wanted = [a_happening(MONDAY + dt.timedelta(days=n), f"visit/{n}") for n in days]
    with fleet.begin(write=True) as record:
        record.events.put(revised_rows([], wanted, NOW)[0])
        record.commit()

    told = [MONDAY + dt.timedelta(days=n) for n in (-90, 400)]
    assert sorted(lines(feed_of(fleet, LEAD), "SUMMARY")) == [f"SUMMARY:{on}" for on in told]


def test_an_address_is_known_by_its_token_alone_and_can_be_ended(fleet: SqlStore) -> None:
    revised(fleet)
    with fleet.begin(write=True) as record:
        assert make_feed(record, LEAD, TOKEN, NOW) == f"/calendar/{TOKEN}.ics"
        with pytest.raises(BadInput, match=r"'nobody@lab\.example' answers for no site"):
            make_feed(record, "nobody@lab.example", "u" * 43, NOW)
        record.commit()
    with fleet.begin() as record:
        found = feed(record, TOKEN, NOW)
        assert found == feed_of(fleet, LEAD)
        assert found is not None
        assert found.etag[0] == found.etag[-1] == '"'
        assert feed(record, TOKEN[:-1], NOW) is None
        assert TOKEN not in {row.token_hash for row in record.feeds.all()}
    with fleet.begin(write=True) as record:
        assert record.feeds.revoke(LEAD, NOW) == 1
        record.commit()
    with fleet.begin() as record:
        assert feed(record, TOKEN, NOW) is None


def link(store: SqlStore, token: str = TOKEN, days: int = 14) -> str:
    with store.begin(write=True) as record:
        path = make_link(
            record, token, LEAD, Purpose.SITE, {"site": "alder"}, NOW, NOW + dt.timedelta(days=days)
        )
        record.commit()
    return path


def test_looking_at_a_link_neither_uses_nor_changes_it(fleet: SqlStore) -> None:
    assert link(fleet) == f"/l/{TOKEN}"
    for _ in range(3):
        with fleet.begin() as record:
            found = look_at(record, TOKEN, NOW)
    assert (found.email, found.purpose, found.scope) == (LEAD, Purpose.SITE, {"site": "alder"})
    with fleet.begin(write=True) as record:
        assert spend(record, TOKEN, Purpose.SITE, NOW, "10.0.0.7") == found
        record.commit()


@pytest.mark.parametrize(
    ("token", "purpose", "days", "why"),
    [
        ("u" * 43, Purpose.SITE, 0, "unknown"),
        (TOKEN.upper(), Purpose.SITE, 0, "unknown"),
        (TOKEN, Purpose.REPORT, 0, "unknown"),
        (TOKEN, Purpose.SITE, 14, "ended"),
    ],
)
def test_a_link_that_is_altered_has_ended_or_is_for_something_else_is_refused(
    fleet: SqlStore, token: str, purpose: Purpose, days: int, why: str
) -> None:
    link(fleet)

    with fleet.begin(write=True) as record, pytest.raises(LinkRefused) as refused:
        spend(record, token, purpose, NOW + dt.timedelta(days=days), "10.0.0.7")
    assert refused.value.why == why
    assert str(refused.value) == f"this link is of no use any more ({why}); ask for a new one"


def test_a_link_is_used_once_even_by_two_at_the_same_moment(fleet: SqlStore) -> None:
    link(fleet)
    gate, results = Barrier(4), list[str]()

    def use(by: str) -> None:
        gate.wait()
        try:
            with fleet.begin(write=True) as record:
                spend(record, TOKEN, Purpose.SITE, NOW, by)
                record.commit()
            results.append("won")
        except LinkRefused:
            results.append("lost")

    threads = [Thread(target=use, args=(f"10.0.0.{n}",)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()

    assert sorted(results) == ["lost", "lost", "lost", "won"]
    with fleet.begin() as record, pytest.raises(LinkRefused, match="used"):
        look_at(record, TOKEN, NOW)


def test_a_token_that_could_be_guessed_is_refused(fleet: SqlStore) -> None:
    with pytest.raises(ValueError, match="a token has 32 characters or more"):
        link(fleet, "short")
