"""Which bytes is a calendar? iCalendar (RFC 5545), one event a visit or a due date.

All-day events are dates whose end is the day after (RFC 5545 3.6.1); others are instants in UTC,
so that no time zone has to be described. A feed has no METHOD; in a mail PUBLISH tells an event and
its changes, CANCEL its end, both of one UID with a SEQUENCE that grows (RFC 5546 3.2.1, 3.2.5).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from notifications.addresses import one_line

__all__ = ["Event", "Method", "calendar", "folded", "text"]

_PRODUCT: Final = "-//Dueward//Dueward//EN"
_WIDTH: Final = 75
"""Octets a line without its end (RFC 5545 3.1)."""
_REFRESH: Final = "PT12H"
_UTC: Final = (
    "BEGIN:VTIMEZONE",
    "TZID:Etc/UTC",
    "BEGIN:STANDARD",
    "DTSTART:19700101T000000",
    "TZOFFSETFROM:+0000",
    "TZOFFSETTO:+0000",
    "END:STANDARD",
    "END:VTIMEZONE",
)
"""What stands in a calendar without events, which must have a component (RFC 5545 3.6)."""


class Method(StrEnum):
    """What a calendar in a mail asks of its reader's program (RFC 5546)."""

    PUBLISH = "PUBLISH"
    CANCEL = "CANCEL"


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One event; from `begins` to `ends`, which is not included. Both are dates, or both instants.

    revised_at: when it was last another one; with `sequence` it says which of two is the later.
    """

    uid: str
    sequence: int
    revised_at: dt.datetime
    begins: dt.date
    ends: dt.date
    summary: str
    description: str = ""
    location: str = ""
    url: str = ""
    is_cancelled: bool = False

    def __post_init__(self) -> None:
        """Refuse what no calendar program could place: ValueError."""
        if isinstance(self.begins, dt.datetime) != isinstance(self.ends, dt.datetime):
            raise ValueError("an event begins and ends with a date, or begins and ends in time")
        for at in (self.revised_at, self.begins, self.ends):
            if isinstance(at, dt.datetime) and at.tzinfo is None:
                raise ValueError(f"{at} has no time zone: it would float")
        if self.ends <= self.begins:
            raise ValueError(
                f"an event ends after it begins, not from {self.begins} to {self.ends}"
            )


def calendar(
    events: Iterable[Event], *, name: str = "", method: Method | None = None, organizer: str = ""
) -> bytes:
    """A calendar of events, in the order of their UIDs: the same events are the same bytes.

    A feed has a name and no method; a calendar of a mail has a method and the organizer's address,
    which RFC 5546 3.2.1 asks for, and no attendee, which it forbids.
    """
    lines = ["BEGIN:VCALENDAR", "VERSION:2.0", f"PRODID:{_PRODUCT}", "CALSCALE:GREGORIAN"]
    if method is not None:
        lines.append(f"METHOD:{method.value}")
    else:
        lines += [
            f"NAME:{text(name)}",
            f"X-WR-CALNAME:{text(name)}",
            f"REFRESH-INTERVAL;VALUE=DURATION:{_REFRESH}",
            f"X-PUBLISHED-TTL:{_REFRESH}",
        ]
    parts: list[Iterable[str]] = [
        _lines(event, organizer) for event in sorted(events, key=lambda one: one.uid)
    ]
    for part in parts or [_UTC]:
        lines += part
    lines.append("END:VCALENDAR")
    return b"".join(folded(line) for line in lines)


def _lines(event: Event, organizer: str) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{text(event.uid)}"
    yield f"DTSTAMP:{_instant(event.revised_at)}"
    yield f"LAST-MODIFIED:{_instant(event.revised_at)}"
    yield f"SEQUENCE:{event.sequence}"
    yield f"DTSTART{_value(event.begins)}"
    yield f"DTEND{_value(event.ends)}"
    yield f"SUMMARY:{text(event.summary)}"
    if event.description:
        yield f"DESCRIPTION:{text(event.description)}"
    if event.location:
        yield f"LOCATION:{text(event.location)}"
    if event.url:
        yield f"URL:{event.url}"
    if organizer:
        yield f"ORGANIZER;CN=Dueward:mailto:{organizer}"
    yield f"STATUS:{'CANCELLED' if event.is_cancelled else 'CONFIRMED'}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _value(at: dt.date) -> str:
    if isinstance(at, dt.datetime):
        return f":{_instant(at)}"
    return f";VALUE=DATE:{at:%Y%m%d}"


def _instant(at: dt.datetime) -> str:
    return f"{at.astimezone(dt.UTC):%Y%m%dT%H%M%SZ}"


def text(value: str) -> str:
    """A TEXT value (RFC 5545 3.3.11): escaped, its lines kept, without other control characters."""
    lines = [one_line(line) for line in value.splitlines()] or [""]
    escaped = (line.replace("\\", "\\\\").replace(";", "\\;").replace(",", "\\,") for line in lines)
    return "\\n".join(escaped)


def folded(line: str) -> bytes:
    """One content line in pieces of 75 octets that cut no character, with its CRLF (3.1)."""
    pieces: list[bytes] = []
    piece = b""
    for character in line:
        octets = character.encode()
        if len(piece) + len(octets) > _WIDTH:
            pieces.append(piece)
            piece = b" "
        piece += octets
    return b"\r\n".join([*pieces, piece]) + b"\r\n"
