"""What is due now? Asked each minute; nearly always the answer is nothing, and costs one query.

The clock is not trusted further than needed: an instant before the last one that was looked at, or
weeks after it, plans nothing. Each transaction decides for a few readers, so that nobody who marks
waits long; who decides second finds it decided.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TypeVar
from zoneinfo import ZoneInfo

from fleet.services.events import revise_events
from fleet.services.mail_ports import WorkerRow
from fleet.services.mailing.news import Untold, untold_news
from fleet.services.mailing.plan import Planner, Planning, Tools, is_weekly
from fleet.services.mailing.wanted import People, Wanted, wanted
from fleet.services.ports import Record, Store
from notifications.cadence import next_instant

__all__ = ["CLOCK", "Memo", "plan_due_work", "trust_clock"]

CLOCK = "clock"
"""The duty (`worker`) that says since when the timetable runs, and when it last looked."""
_READERS_AT_ONCE, _LEADS_AT_ONCE = 50, 4
_FAR_AHEAD = dt.timedelta(days=45)
_LOOKS_BACK = dt.timedelta(days=75)
"""Longer than any period stays undecided."""
_Item = TypeVar("_Item")


@dataclass(slots=True)
class Memo:
    """What one process remembers between two minutes; without it all is only slower."""

    until_at: dt.datetime | None = None
    """Nothing falls due before, as long as the register stays as it is."""
    looked_at: dt.datetime | None = None
    mark: int = -1


@dataclass(frozen=True, slots=True)
class _Due:
    """What is decided at an instant."""

    people: People
    wanted: Sequence[Wanted]
    untold: Sequence[Untold]


def plan_due_work(store: Store, tools: Tools, now: dt.datetime, memo: Memo) -> Planning:
    """Decide every mail whose day and hour have come, and put what is sent into the outbox."""
    is_later = memo.looked_at is not None and now >= memo.looked_at
    memo.looked_at = now
    with store.begin() as record:
        mark = record.mail.mark()
        if is_later and mark == memo.mark and memo.until_at and now < memo.until_at:
            return Planning()
        clock = record.mail.worker(CLOCK)
        if (fault := _clock_fault(clock, now)) is not None:
            memo.until_at = None
            return Planning(remarks=[fault])
        due = _due(record, tools, now, clock)
    result = _decided(store, tools, now, due)
    _note(store, clock, now, due.people.times.keep_mail_days, tools)
    is_done = not result.planned and not result.suppressed
    memo.mark, memo.until_at = mark, _next_at(due.people, now) if is_done else None
    return result


def trust_clock(store: Store, now: dt.datetime) -> None:
    """Go on from an instant that a person says is right."""
    with store.begin(write=True) as record:
        clock = record.mail.worker(CLOCK) or WorkerRow(duty=CLOCK, begun_at=now)
        record.mail.set_worker(replace(clock, looked_at=now))
        record.commit()


def _clock_fault(clock: WorkerRow | None, now: dt.datetime) -> str | None:
    """Why an instant is not believed; None where it is."""
    if clock is None or clock.looked_at is None:
        return None
    mend = "set this machine's clock; if it is right, run dueward work --clock-is-right once"
    if now < clock.looked_at:
        return f"the clock says {_told(now)}, but it was {_told(clock.looked_at)} already; {mend}"
    if now > clock.looked_at + _FAR_AHEAD:
        weeks = (now - clock.looked_at).days // 7
        return f"the clock says {_told(now)}, {weeks} weeks after mail was last looked at; {mend}"
    return None


def _told(at: dt.datetime) -> str:
    return f"{at.astimezone(dt.UTC):%Y-%m-%d %H:%M} UTC"


def _due(record: Record, tools: Tools, now: dt.datetime, clock: WorkerRow | None) -> _Due:
    people = People.of(record.register(), record.holiday_years(), tools.public_holidays, now)
    begun_at = clock.begun_at if clock and clock.begun_at else now
    decided, taken = record.mail.keys(now - _LOOKS_BACK), record.mail.days(_since(now))
    some = wanted(people, now, decided, taken, begun_at)
    untold = untold_news(record, people, now, decided, begun_at)
    return _Due(people, some, untold)


def _since(now: dt.datetime) -> dt.date:
    return (now - _LOOKS_BACK).date()


def _decided(store: Store, tools: Tools, now: dt.datetime, due: _Due) -> Planning:
    """Decide it, a few readers a transaction; nothing is done where nothing is due."""
    result, untold = Planning(), {one.reader.email: one for one in due.untold}
    weekly = [one for one in due.wanted if not one.reason and is_weekly(one)]
    for on in sorted({one.on for one in weekly}):
        of_day = [one for one in weekly if one.on == on]
        for emails in _parts(sorted({one.reader.email for one in of_day}), _READERS_AT_ONCE):
            some = [one for one in of_day if one.reader.email in emails]
            with store.begin(write=True) as record:
                planner = Planner(record, due.people, tools, now, result)
                planner.digests(some, on, {e: untold[e] for e in emails if e in untold})
                record.commit()
    told = {one.reader.email for one in weekly}
    single = [one for one in due.wanted if one.reason or not is_weekly(one)]
    for part in _parts(single, _LEADS_AT_ONCE):
        with store.begin(write=True) as record:
            planner = Planner(record, due.people, tools, now, result)
            for one in part:
                planner.letter(one)
            record.commit()
    busy = told | {one.reader.email for one in single if not one.reason}
    for news in _parts([one for e, one in untold.items() if e not in busy], _READERS_AT_ONCE):
        with store.begin(write=True) as record:
            planner = Planner(record, due.people, tools, now, result)
            for untold_one in news:
                planner.news(untold_one)
            record.commit()
    return result


def _parts(some: Sequence[_Item], size: int) -> Iterator[Sequence[_Item]]:
    yield from (some[start : start + size] for start in range(0, len(some), size))


def _note(
    store: Store, clock: WorkerRow | None, now: dt.datetime, keep_days: int, tools: Tools
) -> None:
    """Note that the clock was looked at; once a day calendars are brought up to the record, and
    what was sent long ago loses its bytes.
    """
    row = clock or WorkerRow(duty=CLOCK, begun_at=now)
    is_new_day = row.looked_at is None or row.looked_at.date() != now.date()
    with store.begin(write=True) as record:
        if is_new_day:
            record.mail.prune(now - dt.timedelta(days=keep_days))
            record.webhooks.prune(now - dt.timedelta(days=keep_days))
            revise_events(record, tools.public_holidays, now, now.date())
        standing = record.mail.worker(CLOCK) or row
        latest = max(now, standing.looked_at or now)
        record.mail.set_worker(replace(standing, looked_at=latest))
        record.commit()


def _next_at(people: People, now: dt.datetime) -> dt.datetime | None:
    """The next instant at which anything can fall due; None without readers."""
    times = set(people.times.send_at.values())
    zones = {reader.zone for reader in people.readers.all.values()}
    instants: Iterable[dt.datetime] = (
        next_instant(now, at, ZoneInfo(zone)) for at in times for zone in zones
    )
    return min(instants, default=now + dt.timedelta(hours=1))
