"""Messages to put into an outbox."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from fleet.storage import SqlStore
from notifications.messages import Kind, Mail
from notifications.outbox import Claimed, Planned

__all__ = ["NOW", "a_planned", "claimed", "plan"]

NOW = dt.datetime(2026, 11, 30, 13, 0, tzinfo=dt.UTC)
LEASE = dt.timedelta(minutes=15)


def a_planned(name: str, day: dt.date | None = None, **changes: object) -> Planned:
    """A digest to one reader; '' as its reason means that it is sent."""
    email = f"{name}@lab.example" if "@" not in name else name
    content = b"From: digest@state.example\r\nSubject: %b\r\n\r\nbody\r\n" % name.encode()
    given: dict[str, object] = {
        "recipient": email,
        "kind": Kind.SITE_LEAD,
        "period": "2026-W49",
        "name": name.title(),
        "language": "en",
        "day": day,
        "subject": f"For {name}",
        "mail": Mail(f"<{name}@state.example>", "digest@state.example", email, content),
        "reason": "",
        "planned_at": NOW,
        "stale_at": NOW + dt.timedelta(days=3),
    }
    return Planned(**{**given, **changes})  # type: ignore[arg-type]


def plan(store: SqlStore, *planned: Planned) -> list[bool]:
    """Put messages into the outbox, and commit."""
    with store.begin(write=True) as record:
        added = record.mail.add(planned)
        record.commit()
    return added


def claimed(
    store: SqlStore, owner: str = "me", at: dt.datetime = NOW, limit: int = 20, per_minute: int = 0
) -> Sequence[Claimed[Mail]]:
    """Claim what is due."""
    return store.outbox.claim(owner, limit, at, at + LEASE, per_minute)
