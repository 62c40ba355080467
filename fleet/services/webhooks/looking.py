"""What has happened since it was looked last? Units that became overdue, services recorded, struck.

The record is asked, whichever door wrote it, and what was looked at is kept: how far the entries of
each unit, and which duties were overdue. `gather` reads; `put_out` queues what is told and moves
the memory on, in one transaction that is the only writer: so no fact is lost between two looks, and
none is told twice, whoever else looks or is killed. Who subscribes begins at the record as it is.

A duty is overdue once for each unit, task and limit day; of cell rules, whose gaps are the chart's,
nothing is told. A service is a `done` of a task that is counted from a date. From a file only what
speaks of the last RECENT_DAYS is told: a load of history is no news.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Final

from fleet.domain.answers import StatusRow
from fleet.domain.records import Mark, StoredEntry
from fleet.domain.register import Register
from fleet.domain.webhooks import Event
from fleet.services.board import BoardView
from fleet.services.columns import book_of
from fleet.services.ports import Record
from fleet.services.stays import moves_of, site_on
from fleet.services.webhook_ports import Overdue
from fleet.services.webhooks.bodies import Fact, delivery
from schedules.rules import Basis, RuleBook

__all__ = ["RECENT_DAYS", "Looked", "gather", "put_out"]

RECENT_DAYS: Final = 31
_FROM_PAPER: Final = ("file", "paper")
_OVERDUE: Final = "overdue"


@dataclass(frozen=True, slots=True)
class Looked:
    """What was found at one look; `read` is from which to which number of each unit's entries."""

    overdue: Mapping[Overdue, StatusRow] = field(default_factory=dict)
    services: Sequence[Fact] = ()
    read: Mapping[int, tuple[int, int]] = field(default_factory=dict)


def gather(record: Record, view: BoardView, now: dt.datetime) -> Looked:
    """Look at the record; view: the fleet as the same moment of it has it."""
    ids = record.unit_ids()
    overdue = {
        (ids[row.property_number], row.task, row.limit): row
        for row in view.rows
        if row.state == _OVERDUE and row.basis != Basis.CELL.value and row.limit is not None
    }
    unread = record.webhooks.unread()
    is_told = any(webhook.ended_at is None for webhook in record.webhooks.all())
    services = list(_services(record, view, now)) if unread and is_told else []
    return Looked(overdue, services, unread)


def put_out(record: Record, looked: Looked, base_url: str, now: dt.datetime) -> int | None:
    """Queue what was found for each who is to be told, and remember it; how many are queued.

    None, and nothing is queued, where another has looked at the same entries meanwhile: look again.
    The caller commits.
    """
    there = record.webhooks.unread()
    if any(there.get(unit, (-1, -1))[0] != span[0] for unit, span in looked.read.items()):
        return None
    fresh = looked.overdue.keys() - record.webhooks.overdue()
    facts = [*(_overdue_fact(key, looked.overdue[key], now) for key in sorted(fresh))]
    facts += looked.services
    told = [one for one in record.webhooks.all() if one.ended_at is None]
    queued = record.webhooks.add(
        [
            delivery(webhook, fact, base_url, now)
            for webhook in told
            for fact in facts
            if webhook.tells(fact.event, fact.region)
        ]
    )
    record.webhooks.read({unit: last for unit, (_, last) in looked.read.items()})
    record.webhooks.add_overdue(fresh)
    return queued


def _overdue_fact(key: Overdue, row: StatusRow, now: dt.datetime) -> Fact:
    unit_id, task, limit_on = key
    return Fact(
        name=f"overdue/{unit_id}/{task}/{limit_on}",
        event=Event.OVERDUE,
        at=now,
        property_number=row.property_number,
        kind=row.kind,
        site=row.site,
        region=row.region,
        task=task,
        on=None,
        due=row.due,
        limit=limit_on,
    )


def _services(record: Record, view: BoardView, now: dt.datetime) -> Iterator[Fact]:
    """The services that were recorded or struck in entries not looked at, in their order."""
    book = book_of(record.register())
    keys = record.webhooks.unread_entries(sorted(_dated_tasks(book)))
    stored = record.stored([key for _, key in keys])
    struck = record.stored([one.entry.strikes for one in stored.values() if one.entry.strikes])
    teller = _Teller(record.register(), book, view, now, struck)
    for unit_id, key in keys:
        fact = teller.fact(unit_id, stored[key])
        if fact is not None:
            yield fact


def _dated_tasks(book: RuleBook) -> set[str]:
    """The tasks that some kind counts from a date."""
    rules = (rule for kind in book.kinds.values() for rule in kind.rules)
    return {rule.task for rule in rules if rule.basis is not Basis.CELL}


class _Teller:
    """Turns entries into facts."""

    def __init__(
        self,
        register: Register,
        book: RuleBook,
        view: BoardView,
        now: dt.datetime,
        struck: Mapping[str, StoredEntry],
    ) -> None:
        self._register, self._book, self._now, self._struck = register, book, now, struck
        self._moves = moves_of(register)
        self._rows = {(row.property_number, row.task): row for row in view.rows}

    def fact(self, unit_id: int, stored: StoredEntry) -> Fact | None:
        """What an entry tells; None for nothing."""
        entry, earlier = stored.entry, self._earlier(stored)
        if not self._is_service(entry.property_number, entry.task) or self._is_old(stored):
            return None
        if entry.mark is Mark.DONE:
            event = Event.RECORDED
        elif earlier is not None:
            event = Event.STRUCK
        else:
            return None
        name = "service" if event is Event.RECORDED else "struck"
        unit = self._register.units[(entry.property_number,)]
        site = site_on(unit, self._moves.get(unit.property_number, ()), entry.on)
        row = self._rows.get((entry.property_number, entry.task))
        return Fact(
            name=f"{name}/{unit_id}/{stored.seq}",
            event=event,
            at=stored.stored_at,
            property_number=entry.property_number,
            kind=unit.kind,
            site=site,
            region=self._register.sites[(site,)].region,
            task=entry.task,
            on=entry.on,
            due=row.due if row else None,
            limit=row.limit if row else None,
            earlier="" if earlier is None else f"service/{unit_id}/{earlier.seq}",
        )

    def _earlier(self, stored: StoredEntry) -> StoredEntry | None:
        """The service that an entry strikes."""
        struck = self._struck.get(stored.entry.strikes)
        return struck if struck is not None and struck.entry.mark is Mark.DONE else None

    def _is_service(self, property_number: str, task: str) -> bool:
        unit = self._register.units.get((property_number,))
        kind = None if unit is None else self._book.kinds.get(unit.kind)
        rules = kind.tasks(unit.model).get(task, ()) if unit and kind else ()
        return any(rule.basis is not Basis.CELL for rule in rules)

    def _is_old(self, stored: StoredEntry) -> bool:
        """Say whether it came from a file and speaks of a day that is long over."""
        since_on = self._now.date() - dt.timedelta(days=RECENT_DAYS)
        return stored.source in _FROM_PAPER and stored.entry.on < since_on
