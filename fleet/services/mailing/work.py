"""What happens each minute? Whoever leads plans what is due, then sends what waits: mail first,
then webhooks.
"""

from __future__ import annotations

import datetime as dt
import traceback
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import dataclass, field, replace
from pathlib import PurePath
from typing import Final, Protocol

from fleet.errors import FleetError
from fleet.services.mail_settings import mail_times
from fleet.services.mailing.plan import Tools
from fleet.services.mailing.tick import Memo, plan_due_work
from fleet.services.ports import Store
from fleet.services.webhooks.work import WebhookWork
from notifications.dispatch import Sender, Tally, dispatch_due
from notifications.errors import NotificationError
from notifications.messages import Mail
from notifications.rendering import templates_of

__all__ = ["LEASE", "Leadership", "Ticked", "Worker"]

LEASE: Final = dt.timedelta(seconds=150)
"""Two minutes may be missed before another process takes the timetable over."""
_SAID_AGAIN_AFTER: Final = dt.timedelta(hours=1)


class Leadership(Protocol):
    """Which of several processes runs the timetable."""

    def is_leader(self, now: dt.datetime, lease: dt.timedelta) -> bool:
        """Take or keep the lead where that can be."""
        ...

    def give_up(self) -> None:
        """Let another take over at once."""
        ...


@dataclass(frozen=True, slots=True)
class Ticked:
    """What one minute did; `says` holds what a person should read of it."""

    planned: int = 0
    suppressed: int = 0
    tally: Tally = field(default_factory=Tally)
    says: tuple[str, ...] = ()
    is_leader: bool = True
    queued: int = 0
    """Webhooks that were put on their way."""
    calls: Tally = field(default_factory=Tally)
    """What became of webhooks."""


@dataclass(slots=True)
class Worker:
    """One process that runs the timetable, or stands by."""

    store: Store
    tools: Tools
    leadership: Leadership
    owner: str
    clock: Callable[[], dt.datetime]
    door: Callable[[], AbstractContextManager[Sender[Mail]]] | None
    """Opens the way to the mail server; None: nothing is sent, only planned."""
    webhooks: WebhookWork | None = None
    is_stopped: bool = False
    _memo: Memo = field(default_factory=Memo)
    _said: dict[str, dt.datetime] = field(default_factory=dict)

    def tick(self) -> Ticked:
        """One minute; what goes wrong in it is told, and the next minute tries again."""
        now = self.clock()
        try:
            if not self.leadership.is_leader(now, LEASE):
                waits = "another process runs the timetable; this one waits until it ends"
                return Ticked(says=self._news(now, waits), is_leader=False)
        except Exception as error:
            self._memo = Memo()
            return Ticked(says=self._news(now, _in_words(error, "mail")))
        return self._with_webhooks(self._mailed(now), now)

    def _mailed(self, now: dt.datetime) -> Ticked:
        try:
            planned = plan_due_work(self.store, self.tools, now, self._memo)
            tally = self._sent()
        except Exception as error:  # One bad row must not end everybody's mail.
            self._memo = Memo()
            return Ticked(says=self._news(now, _in_words(error, "mail")))
        own = templates_of(self.tools.settings.templates)
        planned.remarks += own.remarks
        own.remarks.clear()
        faults = [f"sending has stopped: {tally.fault}"] if tally.fault else []
        says = [line for text in (*planned.remarks, *faults) for line in self._news(now, text)]
        return Ticked(planned.planned, planned.suppressed, tally, tuple(says))

    def _with_webhooks(self, done: Ticked, now: dt.datetime) -> Ticked:
        """The same minute with the webhooks; what goes wrong with them is no matter of the mail."""
        if self.webhooks is None or self.is_stopped:
            return done
        try:
            queued = self.webhooks.plan(now)
            calls = self.webhooks.send(lambda: self.is_stopped)
        except Exception as error:
            says = (*done.says, *self._news(now, _in_words(error, "webhooks")))
            return replace(done, says=says)
        return replace(done, queued=queued, calls=calls)

    def stop(self) -> None:
        """End after the message that is under way."""
        self.is_stopped = True

    def _sent(self) -> Tally:
        if self.door is None:
            return Tally()
        with self.store.begin() as record:
            if not record.mail.is_waiting(self.clock()):
                return Tally()
            times = mail_times(record.register().mail_settings.values())
        with self.door() as sender:
            return dispatch_due(
                self.store.outbox,
                sender,
                self.owner,
                self.clock,
                per_minute=times.per_minute,
                is_stopped=lambda: self.is_stopped,
            )

    def _news(self, now: dt.datetime, text: str) -> tuple[str, ...]:
        """The text, unless it was said within the hour."""
        said_at = self._said.get(text)
        if said_at is not None and dt.timedelta() <= now - said_at < _SAID_AGAIN_AFTER:
            return ()
        self._said[text] = now
        return (text,)


def _in_words(error: Exception, what: str) -> str:
    """A refusal speaks for itself; of anything else, what it was and where."""
    if isinstance(error, FleetError | NotificationError):
        return str(error)
    place = traceback.extract_tb(error.__traceback__)[-1]
    where = f"{PurePath(place.filename).name} line {place.lineno}"
    told = " ".join(f"{type(error).__name__}: {error}".split())
    verb = "are" if what.endswith("s") else "is"
    return f"this minute's {what} failed in {where} and {verb} tried again in the next: {told}"
