"""Which events were not told yet, and to whom is it their morning?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from fleet.services.mailing.events import Event, events
from fleet.services.mailing.readers import MailReader
from fleet.services.mailing.wanted import People
from fleet.services.ports import Record
from notifications.messages import Kind

__all__ = ["Untold", "untold_news"]


@dataclass(frozen=True, slots=True)
class Untold:
    """What one reader is to be told of today."""

    reader: MailReader
    on: dt.date
    events: Sequence[Event]


def untold_news(
    record: Record,
    people: People,
    now: dt.datetime,
    decided: Collection[tuple[str, Kind, str]],
    begun_at: dt.datetime,
) -> list[Untold]:
    """News by reader: stored before today's hour for mail, and not told to this reader before.

    decided: as in `wanted`; whoever got news by itself today gets no more of it today. On a day on
    which no mail goes nothing is told; what waits is told on the next.
    """
    if not people.times.is_news_told:
        return []
    by_site: dict[str, list[Event]] = defaultdict(list)
    for event in events(people.register, record.change_lines(), begun_at, now):
        by_site[event.site].append(event)
    found = []
    for email, reader in people.readers.all.items() if by_site else ():
        on = reader.today(now)
        send_at = people.send_instant(reader, Kind.NEWS, on)
        if now < send_at or (email, Kind.NEWS, on.isoformat()) in decided:
            continue
        sites = {person.site for person in reader.people.get(Kind.SITE_LEAD, ())}
        some = [one for site in sites for one in by_site[site] if one.stored_at < send_at]
        if some and people.is_good(reader, Kind.SITE_LEAD, on):
            told = record.mail.told(email)
            fresh = [one for one in some if one.item not in told]
            if fresh:
                found.append(Untold(reader, on, fresh))
    return found
