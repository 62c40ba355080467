"""Which links open one thing to somebody without an account, and how are they given and ended?

A vendor's technician sees one trip, an inspector one packet. The link ends by itself, and sooner
where whoever gave it says so; looking at it writes nothing.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from fleet.domain.jobs import Job
from fleet.domain.visits import SiteVisit
from fleet.errors import LinkRefused
from fleet.services.access.caller import Caller
from fleet.services.links import Link, Purpose, look_at, make_link
from fleet.services.ports import Record, Store

__all__ = [
    "PACKET_DAYS",
    "TRIP_DAYS",
    "GivenLink",
    "end_link",
    "give_packet",
    "give_trip",
    "given_links",
    "open_link",
]

PACKET_DAYS: Final = 30
"""So long a packet's link opens at most, which is as long as the packet is kept."""
TRIP_DAYS: Final = 14
"""So long after its last day a trip's link opens."""
_PURPOSES: Final = (Purpose.TRIP, Purpose.PACKET)


@dataclass(frozen=True, slots=True)
class GivenLink:
    """A link that still opens; number: by which it is ended."""

    number: str
    purpose: Purpose
    scope: Mapping[str, str]
    by: str
    made_at: dt.datetime
    ends_at: dt.datetime


def give_trip(record: Record, caller: Caller, visits: Sequence[SiteVisit], by: str) -> str:
    """Make a link to the trip of these visits, and answer its token; the caller commits."""
    scope = {
        "technician": visits[0].technician,
        "start_on": str(visits[0].trip_on),
        "sites": " ".join(sorted({visit.site for visit in visits})),
    }
    last_on = max(max(visit.to_on for visit in visits), caller.now.date())
    ends_at = dt.datetime.combine(last_on + dt.timedelta(days=TRIP_DAYS), dt.time(), dt.UTC)
    return _given(record, caller, Purpose.TRIP, scope, by, ends_at)


def give_packet(
    record: Record, caller: Caller, job: Job, span: Mapping[str, str], days: int, by: str
) -> str:
    """Make a link to the packet that a job makes, and answer its token; the caller commits.

    span: site, from and to, as the job was asked for. It opens for so many days.
    """
    scope = {**span, "job": job.number, "sites": span["site"]}
    ends_at = caller.now + dt.timedelta(days=days)
    return _given(record, caller, Purpose.PACKET, scope, by, ends_at)


def _given(
    record: Record,
    caller: Caller,
    purpose: Purpose,
    scope: Mapping[str, str],
    by: str,
    ends_at: dt.datetime,
) -> str:
    token = caller.draw()
    make_link(record, token, by, purpose, scope, caller.now, ends_at)
    return token


def given_links(record: Record, now: dt.datetime) -> list[GivenLink]:
    """Every such link that still opens, the latest first."""
    rows = record.links.open_of([purpose.value for purpose in _PURPOSES], now)
    return [
        GivenLink(
            row.token_hash,
            Purpose(row.purpose),
            json.loads(row.scope),
            row.email,
            row.made_at,
            row.ends_at,
        )
        for row in rows
    ]


def end_link(record: Record, number: str, now: dt.datetime, by: str) -> bool:
    """Let a link open no more; False where it did not. The caller commits."""
    return any(record.links.spend(number, purpose.value, now, by) for purpose in _PURPOSES)


def open_link(store: Store, caller: Caller, token: str, purpose: Purpose) -> Link:
    """What a link opens; LinkRefused for one that is unknown, for another thing, or has ended.

    A token has 256 bits of chance: nobody finds one by trying.
    """
    with store.begin() as record:
        link = look_at(record, token, caller.now)
    if link.purpose is not purpose:
        raise LinkRefused("unknown")
    return link
