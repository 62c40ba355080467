"""What is done for webhooks each minute? Look what has happened, queue it, send what waits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Final

from fleet.services.board import Board
from fleet.services.ports import PublicHolidays, Store
from fleet.services.webhooks.looking import gather, put_out
from fleet.services.webhooks.subscriptions import live
from notifications.dispatch import Sender, Tally, dispatch_due
from notifications.messages import Call

__all__ = ["SENDS_FOR", "WebhookWork"]

SENDS_FOR: Final = dt.timedelta(seconds=30)
"""So long of a minute webhooks are sent at most: mail is not to wait for slow receivers."""


@dataclass(slots=True)
class WebhookWork:
    """The webhooks of one process that runs the timetable."""

    store: Store
    public_holidays: PublicHolidays
    base_url: str
    owner: str
    clock: Callable[[], dt.datetime]
    door: Callable[[], Sender[Call]] | None
    """Makes what sends in one round; None: nothing is sent, only queued."""
    _board: Board = field(init=False)
    _seen: str = field(default="", init=False)
    """The version of the board that was looked at last."""

    def __post_init__(self) -> None:
        self._board = Board(self.public_holidays)

    def plan(self, now: dt.datetime) -> int:
        """Queue what has happened since the last look; how many. Nothing without subscriptions."""
        with self.store.begin() as record:
            if not live(record):
                self._seen = ""
                return 0
            view = self._board.view(record, now)
            if view.version == self._seen:
                return 0
            looked = gather(record, view, now)
        with self.store.begin(write=True) as record:
            queued = put_out(record, looked, self.base_url, now)
            record.commit()
        self._seen = "" if queued is None else view.version
        return queued or 0

    def send(self, is_stopped: Callable[[], bool]) -> Tally:
        """Send what waits, outside of any transaction, for SENDS_FOR at most."""
        if self.door is None:
            return Tally()
        with self.store.begin() as record:
            if not record.webhooks.is_waiting(self.clock()):
                return Tally()
        ends_at = self.clock() + SENDS_FOR
        return dispatch_due(
            self.store.calls,
            self.door(),
            self.owner,
            self.clock,
            is_stopped=lambda: is_stopped() or self.clock() >= ends_at,
        )
