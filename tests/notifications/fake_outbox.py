"""An outbox in memory, a few lines over a dict."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from contextlib import AbstractContextManager, nullcontext
from dataclasses import dataclass, field

from notifications.messages import Mail
from notifications.outbox import Claimed, Outbox, Pause, Settled, State

START = dt.datetime(2026, 11, 30, 13, 0, tzinfo=dt.UTC)


@dataclass
class Kept:
    """One message and where it stands."""

    mail: Mail
    state: State = State.QUEUED
    attempts: int = 0
    next_at: dt.datetime = START
    lease_until_at: dt.datetime | None = None
    owner: str = ""
    settled: list[Settled] = field(default_factory=list)


class FakeOutbox:
    """The port `Outbox`; `kept` is by key, in the order in which messages came."""

    def __init__(self, mails: Sequence[Mail], stale_after_days: int = 3) -> None:
        self.kept = {f"{n:08x}{'0' * 24}": Kept(mail) for n, mail in enumerate(mails)}
        self.stale_at = START + dt.timedelta(days=stale_after_days)
        self.paused: Pause | None = None
        self.per_minute: list[int] = []

    def held(self) -> AbstractContextManager[Outbox[Mail]]:
        return nullcontext(self)

    def claim(
        self, owner: str, limit: int, at: dt.datetime, lease_until_at: dt.datetime, per_minute: int
    ) -> Sequence[Claimed[Mail]]:
        self.per_minute.append(per_minute)
        due = [key for key, one in self.kept.items() if self._is_due(one, at)][:limit]
        return [self._claimed(key, owner, lease_until_at) for key in due]

    def _is_due(self, one: Kept, at: dt.datetime) -> bool:
        if one.state is State.SENDING:
            return one.lease_until_at is not None and one.lease_until_at <= at
        return one.state in (State.QUEUED, State.DEFERRED) and one.next_at <= at

    def _claimed(self, key: str, owner: str, until_at: dt.datetime) -> Claimed[Mail]:
        one = self.kept[key]
        is_uncertain = one.state is State.SENDING
        one.state, one.owner, one.lease_until_at = State.SENDING, owner, until_at
        one.attempts += 1
        return Claimed(
            key=key,
            content=one.mail,
            attempts=one.attempts,
            is_uncertain=is_uncertain,
            planned_at=START,
            stale_at=self.stale_at,
        )

    def settle(self, owner: str, key: str, settled: Settled) -> None:
        one = self.kept[key]
        if one.state is State.SENDING and one.owner == owner:
            one.state = settled.state
            one.settled.append(settled)
            one.next_at = settled.next_at or one.next_at

    def give_back(self, owner: str, keys: Sequence[str], next_at: dt.datetime) -> None:
        for key in keys:
            one = self.kept[key]
            if one.state is State.SENDING and one.owner == owner:
                one.state, one.next_at = State.QUEUED, next_at
                one.attempts -= 1

    def pause(self) -> Pause | None:
        return self.paused

    def set_pause(self, pause: Pause | None) -> None:
        self.paused = pause
