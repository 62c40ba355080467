"""What is wrong with a calendar? A lint of our own: no Python library judges all of RFC 5545.

Each finding names the rule. The sections are those of RFC 5545; RFC 5546 for METHOD.
"""

from __future__ import annotations

import datetime as dt
import re
from collections import Counter
from collections.abc import Iterator

__all__ = ["faults"]

Property = tuple[str, dict[str, str], str]
_DATE, _UTC = re.compile(r"\d{8}"), re.compile(r"\d{8}T\d{6}Z")
_LOCAL = re.compile(r"\d{8}T\d{6}")


def faults(content: bytes) -> list[str]:
    """Every fault found, in words; none in a calendar that may be given out."""
    return list(_bytes(content)) or list(_structure(list(_properties(content))))


def _bytes(content: bytes) -> Iterator[str]:
    if content.count(b"\n") != content.count(b"\r\n") or content.count(b"\r") != content.count(
        b"\r\n"
    ):
        yield "3.1: a line does not end with CRLF"
    if not content.endswith(b"\r\n"):
        yield "3.1: the last line has no end"
    for line in content.split(b"\r\n"):
        if len(line) > 75:
            yield f"3.1: a line of {len(line)} octets"
        try:
            text = line.decode()
        except UnicodeDecodeError:
            yield "3.1: a character is cut in two"
        else:
            if any((ord(sign) < 32 and sign != "\t") or ord(sign) == 127 for sign in text):
                yield "3.1: a control character"


def _properties(content: bytes) -> Iterator[Property]:
    unfolded = content.decode().replace("\r\n ", "").replace("\r\n\t", "")
    for line in unfolded.split("\r\n"):
        head, _, value = line.partition(":")
        name, *words = head.split(";")
        if line:
            yield name.upper(), dict(word.partition("=")[::2] for word in words), value


def _structure(properties: list[Property]) -> Iterator[str]:
    names = [f"{name}:{value}" for name, _, value in properties if name in ("BEGIN", "END")]
    if names[:1] != ["BEGIN:VCALENDAR"] or names[-1:] != ["END:VCALENDAR"] or _is_torn(names):
        yield "3.6: components are not nested"
        return
    head = [one for one in _outside(properties) if one[0] not in ("BEGIN", "END")]
    counts = Counter(name for name, _, _ in head)
    for name in ("PRODID", "VERSION"):
        if counts[name] != 1:
            yield f"3.6: {counts[name]} times {name}"
    if ("VERSION", {}, "2.0") not in head and counts["VERSION"] == 1:
        yield "3.7.4: another version than 2.0"
    method = next((value for name, _, value in head if name == "METHOD"), "")
    zones = {value for name, _, value in properties if name == "TZID"}
    if len(names) == 2:
        yield "3.6: no component"
    events = list(_events(properties))
    for event in events:
        yield from _event(event, method, zones)
    uids = Counter(_value(event, "UID") for event in events)
    yield from (f"3.8.4.7: {count} events of UID {uid}" for uid, count in uids.items() if count > 1)


def _is_torn(names: list[str]) -> bool:
    open_: list[str] = []
    for name in names:
        word, _, component = name.partition(":")
        if word == "BEGIN":
            open_.append(component)
        elif not open_ or open_.pop() != component:
            return True
    return bool(open_)


def _outside(properties: list[Property]) -> Iterator[Property]:
    """The calendar's own properties."""
    depth = 0
    for one in properties:
        depth += one[0] == "BEGIN"
        if depth == 1:
            yield one
        depth -= one[0] == "END"


def _events(properties: list[Property]) -> Iterator[list[Property]]:
    inside: list[Property] | None = None
    for one in properties:
        if one[::2] == ("BEGIN", "VEVENT"):
            inside = []
        elif one[::2] == ("END", "VEVENT"):
            yield inside or []
            inside = None
        elif inside is not None:
            inside.append(one)


def _value(event: list[Property], name: str) -> str:
    return next((value for key, _, value in event if key == name), "")


def _event(event: list[Property], method: str, zones: set[str]) -> Iterator[str]:
    counts = Counter(name for name, _, _ in event)
    required = {"UID", "DTSTAMP", "DTSTART"}
    for name in sorted(required):
        if counts[name] != 1:
            yield f"3.6.1: {counts[name]} times {name}"
    if counts["DTEND"] and counts["DURATION"]:
        yield "3.6.1: DTEND and DURATION"
    stamp = _value(event, "DTSTAMP")
    if stamp and not _UTC.fullmatch(stamp):
        yield "3.8.7.2: DTSTAMP is not in UTC"
    yield from _span(event, zones)
    sequence = _value(event, "SEQUENCE")
    if sequence and not sequence.isdigit():
        yield "3.8.7.4: SEQUENCE is no number"
    for name, _, value in event:
        if name in ("SUMMARY", "DESCRIPTION", "LOCATION", "UID") and re.search(
            r"(?<!\\)(?:\\\\)*(?:[;,]|\\(?![\\;,nN]))", value
        ):
            yield f"3.3.11: {name} is not escaped"
    yield from _method(event, counts, method)


def _span(event: list[Property], zones: set[str]) -> Iterator[str]:
    found: dict[str, dt.date] = {}
    for name, words, value in event:
        if name not in ("DTSTART", "DTEND"):
            continue
        form = _DATE if words.get("VALUE") == "DATE" else _LOCAL if "TZID" in words else _UTC
        if not form.fullmatch(value):
            yield f"3.3.4: {name} {value} is no date or time"
            continue
        if "TZID" in words and words["TZID"] not in zones:
            yield f"3.2.19: {name} in a zone that is not described"
        try:
            at = dt.datetime.fromisoformat(value[:15])
        except ValueError:
            yield f"3.3.4: {name} {value} is no date or time"
            continue
        found[name] = at if "T" in value else at.date()
    if len(found) == 2:
        begins, ends = found["DTSTART"], found["DTEND"]
        if type(begins) is not type(ends):
            yield "3.8.2.2: DTSTART and DTEND are of two kinds"
        elif ends <= begins:
            yield "3.8.2.2: DTEND is not after DTSTART"


def _method(event: list[Property], counts: Counter[str], method: str) -> Iterator[str]:
    """RFC 5546 3.2.1 (PUBLISH) and 3.2.5 (CANCEL); other methods are not ours."""
    if not method:
        return
    if method not in ("PUBLISH", "CANCEL"):
        yield f"RFC 5546: METHOD {method} is none of ours"
    if counts["ORGANIZER"] != 1:
        yield "RFC 5546 3.2.1: no ORGANIZER"
    if counts["ATTENDEE"]:
        yield "RFC 5546 3.2.1: an ATTENDEE"
    if method == "CANCEL" and (
        _value(event, "STATUS") != "CANCELLED" or _value(event, "SEQUENCE") in ("", "0")
    ):
        yield "RFC 5546 3.2.5: a cancelled event says so, with a SEQUENCE"
