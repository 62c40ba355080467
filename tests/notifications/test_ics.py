"""Calendars that our lint and three independent parsers read as they were meant."""

from __future__ import annotations

import datetime as dt
import warnings
from typing import Any

import icalendar
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from ical.calendar_stream import IcsCalendarStream

from notifications.ics import Event, Method, calendar, folded, text
from tests.notifications.ics_lint import faults

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import vobject

STAMP = dt.datetime(2026, 11, 30, 13, 0, tzinfo=dt.UTC)
HOSTILE = [
    'Ana "Quist", QA; R\\D',
    "line\r\nBEGIN:VEVENT\r\nUID:forged",
    "null\0 bell\a tab\t end",
    "\u202eevil\u202c right to left \u05e9\u05dc\u05d5\u05dd",
    "emoji \U0001f52c\U0001f9ea microscope",
    "x" * 300,
    "ä" * 300,
    "",
]


def an_event(**changes: Any) -> Event:
    given_: dict[str, Any] = {
        "uid": "9c1f@dueward",
        "sequence": 0,
        "revised_at": STAMP,
        "begins": dt.date(2026, 12, 4),
        "ends": dt.date(2026, 12, 5),
        "summary": "Due: service",
    }
    return Event(**{**given_, **changes})


def read(content: bytes) -> list[dict[str, Any]]:
    """The events as icalendar, ical and vobject read them, which must agree."""
    parsed = icalendar.Calendar.from_ical(content)
    assert not parsed.errors
    found = []
    for part in parsed.walk("VEVENT"):
        assert not part.errors
        found.append(
            {
                "uid": str(part["UID"]),
                "begins": part.decoded("DTSTART"),
                "ends": part.decoded("DTEND"),
                "summary": str(part["SUMMARY"]),
                "sequence": int(str(part["SEQUENCE"])),
            }
        )
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        second = IcsCalendarStream.calendar_from_ics(content.decode())
        third = vobject.readOne(content.decode())
        assert third.validate(raiseException=True)
    assert sorted(one["uid"] for one in found) == sorted(str(e.uid) for e in second.events)
    for one in second.events:
        twin = next(two for two in found if two["uid"] == one.uid)
        assert (twin["begins"], twin["ends"]) == (one.dtstart, one.dtend)
        assert twin["summary"] == (one.summary or "")
    assert len(found) == len(third.contents.get("vevent", []))
    return found


DATES = st.dates(dt.date(2020, 1, 1), dt.date(2090, 1, 1))
TEXTS = st.one_of(st.sampled_from(HOSTILE), st.text(max_size=200))


@st.composite
def events(draw: st.DrawFn) -> Event:
    on, days = draw(DATES), draw(st.integers(1, 40))
    begins: dt.date = on
    ends: dt.date = on + dt.timedelta(days=days)
    if draw(st.booleans()):
        hour = draw(st.integers(0, 22))
        begins = dt.datetime.combine(on, dt.time(hour), dt.UTC)
        ends = dt.datetime.combine(on, dt.time(hour + 1, 30), dt.UTC)
    return an_event(
        uid=f"{draw(st.integers(0, 10**12)):032x}@dueward",
        sequence=draw(st.integers(0, 99)),
        begins=begins,
        ends=ends,
        summary=draw(TEXTS),
        description=draw(TEXTS),
        location=draw(TEXTS),
        is_cancelled=draw(st.booleans()),
    )


@settings(max_examples=60, deadline=None)
@given(st.lists(events(), max_size=4, unique_by=lambda one: one.uid))
def test_a_feed_is_read_alike_by_three_parsers_and_the_lint(some: list[Event]) -> None:
    content = calendar(some, name="Dueward")

    assert faults(content) == []
    found = {one["uid"]: one for one in read(content)}
    assert found.keys() == {one.uid for one in some}
    for one in some:
        assert found[one.uid]["begins"] == one.begins
        assert found[one.uid]["ends"] == one.ends
        assert found[one.uid]["sequence"] == one.sequence


@settings(max_examples=40, deadline=None)
@given(events(), st.sampled_from(Method))
def test_a_calendar_of_a_mail_is_read_alike(one: Event, method: Method) -> None:
    is_cancel = method is Method.CANCEL
    changes = {"is_cancelled": is_cancel, "sequence": one.sequence + is_cancel}
    event = an_event(**{field: getattr(one, field) for field in Event.__slots__} | changes)
    content = calendar([event], method=method, organizer="digest@state.example")

    assert faults(content) == []
    assert len(read(content)) == 1
    assert str(icalendar.Calendar.from_ical(content)["METHOD"]) == method.value


@pytest.mark.parametrize("name", HOSTILE)
def test_a_hostile_name_stays_one_value(name: str) -> None:
    content = calendar([an_event(summary=name, description=name, location=name)], name=name)

    assert faults(content) == []
    assert [one["uid"] for one in read(content)] == ["9c1f@dueward"]
    assert content.count(b"BEGIN:VEVENT\r\n") == 1


def test_text_is_escaped_as_rfc_5545_has_it() -> None:
    """RFC 5545 3.3.11, its example: a text with a line break, a comma and a semicolon."""
    said = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."

    assert text(said) == r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    assert text(r"a;b,c\d") == r"a\;b\,c\\d"


def test_a_long_line_is_folded_at_75_octets_and_unfolds_to_itself() -> None:
    """RFC 5545 3.1: lines SHOULD NOT be longer than 75 octets, excluding the line break."""
    line = f"DESCRIPTION:{'ä' * 200}"
    pieces = folded(line).split(b"\r\n")

    assert max(map(len, pieces)) <= 75
    assert all(piece.decode() or not piece for piece in pieces)
    assert folded(line).replace(b"\r\n ", b"").decode() == f"{line}\r\n"


def test_an_all_day_event_ends_on_the_day_after() -> None:
    """RFC 5545 3.6.1: DTEND is the non-inclusive end; check value F-24."""
    content = calendar([an_event()], name="Dueward")

    assert b"DTSTART;VALUE=DATE:20261204\r\nDTEND;VALUE=DATE:20261205\r\n" in content


def test_the_same_events_in_another_order_are_the_same_bytes() -> None:
    some = [an_event(uid=f"{n}@dueward") for n in range(3)]

    assert calendar(some, name="x") == calendar(some[::-1], name="x")


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"begins": dt.datetime(2026, 12, 4, 9)}, "begins with a date, or begins and ends"),  # noqa: DTZ001
        (
            {"begins": dt.datetime(2026, 12, 4, 9), "ends": dt.datetime(2026, 12, 4, 10)},  # noqa: DTZ001
            "has no time zone: it would float",
        ),
        ({"ends": dt.date(2026, 12, 4)}, "an event ends after it begins"),
        ({"revised_at": dt.datetime(2026, 12, 4)}, "has no time zone: it would float"),  # noqa: DTZ001
    ],
)
def test_what_no_program_could_place_is_refused(changes: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words.replace("begins with a date, or ", "")):
        an_event(**changes)


GOOD = calendar([an_event(sequence=1)], method=Method.PUBLISH, organizer="d@state.example")
BROKEN = {
    "no UID": (b"UID:9c1f@dueward\r\n", b"", "3.6.1: 0 times UID"),
    "no DTSTAMP": (b"DTSTAMP:20261130T130000Z\r\n", b"", "3.6.1: 0 times DTSTAMP"),
    "no PRODID": (b"PRODID:-//Dueward//Dueward//EN\r\n", b"", "3.6: 0 times PRODID"),
    "no DTSTART": (b"DTSTART;VALUE=DATE:20261204\r\n", b"", "3.6.1: 0 times DTSTART"),
    "no VERSION": (b"VERSION:2.0\r\n", b"", "3.6: 0 times VERSION"),
    "end before begin": (b"DATE:20261205", b"DATE:20261203", "3.8.2.2: DTEND is not after DTSTART"),
    "mixed kinds": (
        b"DTEND;VALUE=DATE:20261205",
        b"DTEND:20261205T090000Z",
        "3.8.2.2: DTSTART and DTEND are of two kinds",
    ),
    "unknown zone": (
        b"DTSTART;VALUE=DATE:20261204",
        b"DTSTART;TZID=Nowhere:20261204T090000",
        "3.2.19: DTSTART in a zone that is not described",
    ),
    "bad date": (b"DATE:20261204", b"DATE:20261304", "3.3.4: DTSTART 20261304 is no date or time"),
    "missing END": (b"END:VEVENT\r\n", b"", "3.6: components are not nested"),
    "raw line break": (b"Due: service", b"Due:\nservice", "3.1: a line does not end with CRLF"),
    "bare LF": (b"SUMMARY:Due: service\r\n", b"SUMMARY:x\n", "3.1: a line does not end with CRLF"),
    "300 octets": (b"Due: service", b"x" * 292, "3.1: a line of 300 octets"),
    "no ORGANIZER": (
        b"ORGANIZER;CN=Dueward:mailto:d@state.example\r\n",
        b"",
        "RFC 5546 3.2.1: no ORGANIZER",
    ),
    "an attendee": (
        b"TRANSP:TRANSPARENT",
        b"ATTENDEE:mailto:a@state.example",
        "RFC 5546 3.2.1: an ATTENDEE",
    ),
    "not escaped": (b"Due: service", b"Due; service", "3.3.11: SUMMARY is not escaped"),
}


def test_the_lint_finds_nothing_in_a_good_calendar() -> None:
    assert faults(GOOD) == []


@pytest.mark.parametrize("name", BROKEN)
def test_the_lint_finds_each_fault(name: str) -> None:
    old, new, words = BROKEN[name]
    assert old in GOOD

    assert words in faults(GOOD.replace(old, new, 1))


def test_a_calendar_without_events_has_a_component_all_the_same() -> None:
    """RFC 5545 3.6: it MUST include at least one calendar component."""
    content = calendar([], name="Dueward")

    assert faults(content) == []
    assert read(content) == []
    bare = content[: content.index(b"BEGIN:VTIMEZONE")] + b"END:VCALENDAR\r\n"
    assert faults(bare) == ["3.6: no component"]


def test_the_lint_finds_two_events_of_one_uid() -> None:
    part = GOOD[GOOD.index(b"BEGIN:VEVENT") : GOOD.index(b"END:VCALENDAR")]

    assert faults(GOOD.replace(b"END:VCALENDAR", part + b"END:VCALENDAR")) == [
        "3.8.4.7: 2 events of UID 9c1f@dueward"
    ]
