"""Which bytes of a line are hashed, and how are lines chained? Version 1, frozen.

A chain is a sequence of lines numbered from 1. The hash of a line is

    SHA-256( version byte 0x01 | hash of the line before (32 zero bytes for the first) | content )

where the content is the UTF-8 text of one JSON object: keys sorted, no space after ',' and ':',
characters beyond ASCII unescaped, control characters escaped the short way where JSON has one.
Values are texts, whole numbers, true, false and null; never a float. Dates are YYYY-MM-DD, instants
YYYY-MM-DDTHH:MM:SS.ffffffZ, always with six digits. For such content this is the form of RFC 8785
(JSON Canonicalization Scheme). Text is taken as it was given: no Unicode normalisation.

Nothing here may change: a new form gets a new version byte and stands beside this one.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Mapping
from functools import lru_cache
from json.encoder import encode_basestring as quoted

from fleet.domain.records import Entry
from fleet.services.ports import Stamp

__all__ = ["START", "canonical_json", "entry_content", "instant_text", "link"]

START = bytes(32)
"""What stands in for the hash before a chain's first line."""

_VERSION = b"\x01"
_encode = json.JSONEncoder(
    ensure_ascii=False, allow_nan=False, sort_keys=True, separators=(",", ":")
).encode


@lru_cache(maxsize=4096)
def instant_text(at: dt.datetime) -> str:
    """Write an instant in UTC, 27 characters wide, so that texts sort as instants do.

    Raises ValueError for an instant without a time zone.
    """
    if at.tzinfo is None:
        raise ValueError(f"{at.isoformat()} has no time zone; an instant is given with its zone")
    return at.astimezone(dt.UTC).isoformat(timespec="microseconds")[:-6] + "Z"


def canonical_json(content: Mapping[str, str | int | bool | None] | list[str]) -> str:
    """Write content as the one JSON text that is stored and hashed; it may hold no float."""
    return _encode(content)


def link(previous: bytes, content: str) -> bytes:
    """Hash a line of a chain: previous is the hash before it; 32 bytes each."""
    return hashlib.sha256(_VERSION + previous + content.encode()).digest()


def entry_content(entry: Entry, seq: int, stamp: Stamp) -> str:
    """Write what is hashed of an entry: all its fields, its place, instant, author and door.

    The same text as canonical_json of these, written out because a load does it a million times.
    """
    to_on = "null" if entry.to_on is None else f'"{entry.to_on.isoformat()}"'
    mark = "null" if entry.mark is None else f'"{entry.mark.value}"'
    at = entry.recorded_at
    recorded_at = "null" if at is None else f'"{instant_text(at)}"'
    return (
        f'{{"by":{quoted(stamp.by)},"initials":{quoted(entry.initials)},"key":{quoted(entry.key)},'
        f'"mark":{mark},"note":{quoted(entry.note)},"on":"{entry.on.isoformat()}",'
        f'"property_number":{quoted(entry.property_number)},"reading":{quoted(entry.reading)},'
        f'"recorded_at":{recorded_at},"seq":{seq},"source":{quoted(stamp.source)},'
        f'"stored_at":"{instant_text(stamp.at)}","strikes":{quoted(entry.strikes)},'
        f'"task":{quoted(entry.task)},"to_on":{to_on},"why":{quoted(entry.why)}}}'
    )
