"""How do the messages of the outbox get out? Claimed, sent one by one, each settled at once.

Send, then mark: a crash between the two sends a message again, with the same bytes and Message-ID,
and loses none. A fault of our own stops sending for PAUSE and blames no address.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Final, Generic, Protocol, TypeVar

from notifications.errors import BadAddress, NotNow, ServerFault
from notifications.outbox import Answer, Claimed, Outbox, Outcome, Pause, Settled, State
from notifications.retry import is_hard_bounce, retry_at

__all__ = ["BATCH", "LEASE", "PAUSE", "Sender", "Tally", "dispatch_due"]

BATCH: Final = 20
"""So many messages are claimed in one commit."""
LEASE: Final = dt.timedelta(minutes=15)
"""Longer than a server may take to answer to a message's end (RFC 5321 4.5.3.2.6)."""
PAUSE: Final = dt.timedelta(minutes=5)
_LEFT: Final = 0.7
"""With less of the lease left no other message is begun: one may take ten minutes."""
_STEP_BACK: Final = dt.timedelta(hours=1)
"""So long a message that the server finds too large lets the others pass."""
_NOT_NOW: Final = dt.timedelta(minutes=1)
"""So long a message waits that was not tried, since its receiver did not answer to another."""

Content = TypeVar("Content")
ContentIn = TypeVar("ContentIn", contravariant=True)


class Sender(Protocol[ContentIn]):
    """Hands one message over; `smtp.Door` and `calls.CallDoor` are such."""

    def send(self, content: ContentIn, /) -> Answer:
        """The answer to one message; ServerFault where sending must stop, NotNow where this one
        is to wait.
        """
        ...


@dataclass(slots=True)
class Tally:
    """What became of the messages of one round; `fault` says why it stopped, '' if it did not."""

    sent: int = 0
    deferred: int = 0
    dead: int = 0
    uncertain: int = 0
    """Sent again because nobody knew whether they had arrived."""
    fault: str = ""

    @property
    def tried(self) -> int:
        """How many were handed to the server."""
        return self.sent + self.deferred + self.dead


def dispatch_due(
    outbox: Outbox[Content],
    sender: Sender[Content],
    owner: str,
    clock: Callable[[], dt.datetime],
    *,
    lease: dt.timedelta = LEASE,
    per_minute: int = 0,
    is_stopped: Callable[[], bool] = lambda: False,
) -> Tally:
    """Send all that is due now and settle each; nothing while sending is paused.

    owner: who claims, another word for every process. per_minute: so many at most to one domain;
    0 for no limit. is_stopped is asked after each message; what is claimed then and not tried is
    given back.
    """
    pause = outbox.pause()
    if pause is not None:
        if clock() < pause.until_at:
            return Tally(fault=pause.fault)
        outbox.set_pause(None)
    with outbox.held() as held:
        return _dispatched(held, sender, owner, clock, lease, per_minute, is_stopped)


def _dispatched(
    outbox: Outbox[Content],
    sender: Sender[Content],
    owner: str,
    clock: Callable[[], dt.datetime],
    lease: dt.timedelta,
    per_minute: int,
    is_stopped: Callable[[], bool],
) -> Tally:
    tally = Tally()
    while not tally.fault and not is_stopped():
        until_at = clock() + lease
        claimed = list(outbox.claim(owner, BATCH, clock(), until_at, per_minute))
        if not claimed:
            break
        round_ = _Round(outbox, sender, owner, clock, tally)
        while claimed and not is_stopped() and clock() < until_at - _LEFT * lease:
            if not round_.send(claimed[0]):
                break
            claimed.pop(0)
        outbox.give_back(owner, [one.key for one in claimed], clock())
    return tally


@dataclass(frozen=True, slots=True)
class _Round(Generic[Content]):
    """One batch on its way."""

    outbox: Outbox[Content]
    sender: Sender[Content]
    owner: str
    clock: Callable[[], dt.datetime]
    tally: Tally

    def send(self, one: Claimed[Content]) -> bool:
        """Try one message and settle it; False where sending must stop, and it was not tried."""
        try:
            answer = self.sender.send(one.content)
        except BadAddress as error:
            answer = Answer(Outcome.REFUSED, None, str(error))
        except NotNow:
            self.outbox.give_back(self.owner, [one.key], self.clock() + _NOT_NOW)
            return True
        except ServerFault as error:
            self._stop(one, error)
            return False
        settled = _settled(one, answer, self.clock())
        self.outbox.settle(self.owner, one.key, settled)
        self.tally.uncertain += one.is_uncertain
        self.tally.sent += settled.state is State.SENT
        self.tally.deferred += settled.state is State.DEFERRED
        self.tally.dead += settled.state is State.DEAD
        return True

    def _stop(self, one: Claimed[Content], fault: ServerFault) -> None:
        """Stop sending for a while; what the server finds too large lets the others pass."""
        at = self.clock()
        self.tally.fault = str(fault)
        if fault.is_size:
            self.tally.fault = f"message {one.key[:8]}: {fault}"
            self.outbox.give_back(self.owner, [one.key], at + _STEP_BACK)
        self.outbox.set_pause(Pause(at + PAUSE, self.tally.fault))


def _settled(one: Claimed[Any], answer: Answer, at: dt.datetime) -> Settled:
    """What an answer means for a message (retry)."""
    if answer.outcome is Outcome.SENT:
        return Settled(state=State.SENT, at=at, code=answer.code, answer=answer.text)
    if answer.outcome is Outcome.DEFERRED:
        next_at = retry_at(one.key, one.attempts, answer.code, answer.text, one.planned_at, at)
        if next_at is not None and answer.wait is not None:
            next_at = max(next_at, at + answer.wait)
        if next_at is not None and next_at < one.stale_at:
            state, text = State.DEFERRED, answer.text
        else:
            state, text, next_at = State.DEAD, f"given up: {answer.text}", None
        return Settled(state=state, at=at, code=answer.code, answer=text, next_at=next_at)
    return Settled(
        state=State.DEAD,
        at=at,
        code=answer.code,
        answer=answer.text,
        is_hard_bounce=is_hard_bounce(answer.code, answer.text),
    )
