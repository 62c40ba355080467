"""Two invented sites with a microscope each, and who is told of them by webhook."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import dataclass, field
from hashlib import sha256
from typing import Any

from fleet.domain.records import Entry, Mark, RegisterRecord, Site, StoredEntry, Unit
from fleet.domain.register import Change
from fleet.domain.webhooks import Webhook
from fleet.services.board import Board
from fleet.services.kept import rebuild
from fleet.services.mark import mark, strike
from fleet.services.ports import Stamp
from fleet.services.webhook_ports import DeliveryRow
from fleet.services.webhooks.subscriptions import Asked, subscribe
from fleet.services.webhooks.work import WebhookWork
from fleet.storage import SqlStore
from notifications.dispatch import Sender
from notifications.messages import Call
from tests.reference.bridge import NoPublicHolidays

__all__ = ["BASE", "HOLIDAYS", "KEY", "NOON", "Told", "told_fleet"]

NOON = dt.datetime(2026, 3, 3, 18, tzinfo=dt.UTC)
"""Tuesday 3 March 2026, noon in Chicago. The service of A-1 is overdue since 22 January, that of
B-1 has its limit on 4 April.
"""
HOLIDAYS = NoPublicHolidays()
BASE = "https://pages.example"
KEY = bytes(range(32))
BOOK = """
[kind.microscope]
name = "Bench microscope"
[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces"
each = "open-day"
source = "common practice, no source"
[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
vendor = true
source = "common practice, no source"
"""


@dataclass
class Told:
    """The fleet, its clock, and one process that looks what is to be told."""

    store: SqlStore
    now: list[dt.datetime] = field(default_factory=lambda: [NOON])
    door: Callable[[], Sender[Call]] | None = None

    def __post_init__(self) -> None:
        self.work = self.another("one")

    def another(self, owner: str) -> WebhookWork:
        """Another process that does the same."""
        return WebhookWork(self.store, HOLIDAYS, BASE, owner, lambda: self.now[0], self.door)

    def sends_with(self, door: Callable[[], Sender[Call]]) -> None:
        """From now on the process sends, with what this makes."""
        self.door = door
        self.work = self.another("one")

    def subscribe(self, number: str = "W1", **asked: Any) -> Webhook:
        """Subscribe to everything, or to what is asked."""
        given = {"region": "", "tells_overdue": True, "tells_services": True}
        wanted = Asked(**{"url": f"https://{number.lower()}.example/", **given, **asked})
        with self.store.begin(write=True) as record:
            view = Board(HOLIDAYS).view(record, self.now[0])
            made = subscribe(
                record,
                view,
                wanted,
                number=number,
                key=KEY,
                by="program@bench.example",
                base_url=BASE,
                now=self.now[0],
            )
            record.commit()
        return made

    def look(self) -> int:
        """One look by the process; how many messages it queued."""
        return self.work.plan(self.now[0])

    def passes(self, **time: float) -> None:
        """Time goes by."""
        self.now[0] += dt.timedelta(**time)

    def stamp(self, source: str = "command") -> Stamp:
        return Stamp(self.now[0], "command:ana", source)

    def serves(self, number: str, on: str, source: str = "command", key: str = "") -> StoredEntry:
        """A service is recorded."""
        entry = Entry(
            key=key,
            property_number=number,
            task="annual-service",
            on=dt.date.fromisoformat(on),
            mark=Mark.DONE,
            initials="QZ",
        )
        with self.store.begin(write=True) as record:
            stored, _ = mark(record, HOLIDAYS, entry, anyway=True, stamp=self.stamp(source))
            record.commit()
        return stored

    def strikes(self, key: str, replace_with: Mark | None = None) -> StoredEntry:
        """An entry is struck."""
        with self.store.begin(write=True) as record:
            stored = strike(record, HOLIDAYS, key, "typed wrong", replace_with, stamp=self.stamp())
            record.commit()
        return stored

    def rows(self, webhook: str = "") -> list[DeliveryRow]:
        """The messages, the oldest first."""
        with self.store.begin() as record:
            return list(reversed(record.webhooks.rows(webhook=webhook)))

    def bodies(self, webhook: str = "") -> list[dict[str, Any]]:
        """What the messages say, the oldest first."""
        with self.store.begin() as record:
            rows = reversed(record.webhooks.rows(webhook=webhook))
            return [json.loads(record.webhooks.body(row.key) or b"null") for row in rows]

    def told(self, webhook: str = "") -> list[tuple[str, str]]:
        """What was told of which unit, sorted."""
        return sorted((one["type"], one["property_number"]) for one in self.bodies(webhook))


def told_fleet(store: SqlStore) -> Told:
    """The fleet on a fresh record."""
    records: list[RegisterRecord] = [
        _site("alder", "North"),
        _site("birch", "South"),
        _unit("A-1", "alder", dt.date(2025, 1, 6)),
        _unit("B-1", "birch", dt.date(2025, 3, 20)),
    ]
    stamp = Stamp(NOON - dt.timedelta(days=30), "command:ana", "file")
    with store.begin(write=True) as record:
        record.change([Change(old=None, new=one, initial=True) for one in records], stamp)
        record.add_book(BOOK, sha256(BOOK.encode()).hexdigest(), True, stamp)
        rebuild(record, list(record.unit_ids().values()), HOLIDAYS)
        record.commit()
    return Told(store)


def _site(name: str, region: str) -> Site:
    return Site(
        site=name,
        name=f"{name.title()} Laboratory",
        county=name.title(),
        region=region,
        country="US",
        subdivision="NE",
        time_zone="America/Chicago",
        open_days="Mon Tue Wed Thu Fri",
        lead_email=f"lead@{name}.example",
    )


def _unit(number: str, site: str, in_service_on: dt.date) -> Unit:
    return Unit(
        property_number=number,
        kind="microscope",
        manufacturer="Exemplar",
        model="M1",
        serial="1",
        site=site,
        in_service_on=in_service_on,
    )
