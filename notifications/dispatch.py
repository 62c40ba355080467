"""What became of each message? Messages go through one door, one by one, and each has its answer.

For now in memory: trying again later, and remembering across runs, is what `outbox` will be for.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Protocol

from notifications.errors import BadAddress, ServerFault
from notifications.messages import Mail
from notifications.smtp import Answer, Outcome

__all__ = ["Delivery", "Report", "Sender", "dispatch"]


class Sender(Protocol):
    """Hands one message over; `smtp.Door` is one."""

    def send(self, mail: Mail) -> Answer:
        """The answer to one message; ServerFault where sending must stop."""
        ...


@dataclass(frozen=True, slots=True)
class Delivery:
    """One message and its answer."""

    mail: Mail
    answer: Answer


@dataclass(frozen=True, slots=True)
class Report:
    """All messages in the order given; `fault` says why sending stopped, None if it did not."""

    deliveries: tuple[Delivery, ...]
    fault: ServerFault | None

    def count(self, outcome: Outcome) -> int:
        """How many messages came to this."""
        return sum(delivery.answer.outcome is outcome for delivery in self.deliveries)


def dispatch(mails: Iterable[Mail], sender: Sender) -> Report:
    """Send every message; after a ServerFault the rest is deferred untried, none is dropped."""
    deliveries: list[Delivery] = []
    fault: ServerFault | None = None
    for mail in mails:
        if fault is not None:
            answer = Answer(Outcome.DEFERRED, None, "not tried, sending had stopped")
        else:
            try:
                answer = sender.send(mail)
            except BadAddress as error:
                answer = Answer(Outcome.REFUSED, None, str(error))
            except ServerFault as error:
                fault, answer = error, Answer(Outcome.DEFERRED, error.code, str(error))
        deliveries.append(Delivery(mail, answer))
    return Report(tuple(deliveries), fault)
