"""What stands in the outbox, and what may a person do about it?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Sequence

from fleet.errors import BadInput, Fault
from fleet.services.mail_ports import OutboxRow
from fleet.services.ports import Record, Store
from fleet.services.webhook_ports import DeliveryRow
from notifications.messages import Kind
from notifications.outbox import State

__all__ = ["OPEN", "Sent", "content_of", "resume", "retry", "suppress"]

Sent = OutboxRow | DeliveryRow
"""A mail, or a webhook."""

OPEN = (State.QUEUED, State.SENDING, State.DEFERRED, State.DEAD, State.SUPPRESSED)
_LEAST = 4
_RETRIED = frozenset({State.DEFERRED, State.DEAD, State.SUPPRESSED})
_TAKEN_BACK = frozenset({State.QUEUED, State.DEFERRED})


def content_of(record: Record, key: str) -> tuple[Sent, bytes]:
    """One message and its bytes; BadInput where there is none, or none any more."""
    row = _row(record, key, "--show")
    if isinstance(row, OutboxRow) and row.kind is Kind.NEW_PASSWORD:
        problem = f"{row.key[:8]} holds a link that lets its reader in, and nobody else reads it"
        raise BadInput([Fault("--show", None, None, problem, "choose another")])
    content = _content(record, row)
    if content is None:
        problem = f"{row.key[:8]} has no text: {row.reason or 'it was kept long enough'}"
        raise BadInput([Fault("--show", None, None, problem, "choose another; see dueward outbox")])
    return row, content


def retry(store: Store, keys: Sequence[str], now: dt.datetime) -> list[Sent]:
    """Queue messages again that were put off, given up or taken back; BadInput for any other."""
    with store.begin(write=True) as record:
        rows = [_row(record, key, "--retry") for key in keys]
        _check(rows, _RETRIED, "--retry", "can be sent again")
        for row in rows:
            if _content(record, row) is None:
                problem = f"{row.key[:8]} has no text: {row.reason or 'it was kept long enough'}"
                mend = "what was never written cannot be sent"
                raise BadInput([Fault("--retry", None, None, problem, mend)])
        record.mail.retry([row.key for row in rows if isinstance(row, OutboxRow)], now)
        record.webhooks.retry([row.key for row in rows if isinstance(row, DeliveryRow)], now)
        record.commit()
    return rows


def suppress(store: Store, keys: Sequence[str], why: str, now: dt.datetime) -> list[Sent]:
    """Take messages back that wait to be sent, with the reason; BadInput for any other."""
    if not why.strip():
        mend = "say why, so that others can read it: --why TEXT"
        raise BadInput([Fault("--why", None, None, "no reason is given", mend)])
    with store.begin(write=True) as record:
        rows = [_row(record, key, "--suppress") for key in keys]
        _check(rows, _TAKEN_BACK, "--suppress", "can be taken back")
        mails = [row.key for row in rows if isinstance(row, OutboxRow)]
        record.mail.suppress(mails, why.strip(), now)
        calls = [row.key for row in rows if isinstance(row, DeliveryRow)]
        record.webhooks.suppress(calls, why.strip(), now)
        record.commit()
    return rows


def resume(store: Store, address: str) -> None:
    """Write to an address again that was suspended; BadInput where it was not."""
    with store.begin(write=True) as record:
        if not record.mail.resume(address):
            mend = "see dueward outbox --addresses for those that are"
            problem = f"'{address}' has refused nothing"
            raise BadInput([Fault("--resume", None, None, problem, mend)])
        record.commit()


def _content(record: Record, row: Sent) -> bytes | None:
    if isinstance(row, DeliveryRow):
        return record.webhooks.body(row.key)
    return record.mail.content(row.key)


def _row(record: Record, key: str, where: str) -> Sent:
    """The message that a person means by the beginning of its key."""
    found = [record.mail.row(key), record.webhooks.row(key)] if len(key) >= _LEAST else []
    some = [one for one in found if one is not None]
    if len(some) != 1:
        problem = f"'{key}' names no message, or more than one"
        mend = f"write the first {_LEAST} or more characters of a key of dueward outbox --all"
        raise BadInput([Fault(where, None, None, problem, mend)])
    return some[0]


def _check(rows: Sequence[Sent], states: Collection[State], where: str, words: str) -> None:
    faults = [
        Fault(
            where,
            None,
            None,
            f"{row.key[:8]} to {row.recipient} is {row.state.value}",
            f"only what is {', '.join(sorted(state.value for state in states))} {words}",
        )
        for row in rows
        if row.state not in states
    ]
    if faults:
        raise BadInput(faults)
