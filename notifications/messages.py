"""What is a message on its way: which kind, to whom, for which period, in which of its forms?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

__all__ = ["Attached", "Call", "Kind", "Mail", "Message", "Rendered", "Skipped"]


class Kind(StrEnum):
    """The kinds of message; each has a function in `digests` and a folder in `templates`."""

    SITE_LEAD = "site_lead"
    CONSULTANT = "consultant"
    MANAGER = "manager"
    GAPS = "gaps"
    """Once a month, to site leads: look for gaps and return your charts."""
    NEW_CHARTS = "new_charts"
    """Once a year, to site leads: the charts of the year to come, as PDFs."""
    NEWS = "news"
    """What has happened since: a unit moved to you, a service report is in."""
    VISIT = "visit"
    """A vendor's visit is confirmed, moved or cancelled; it carries a calendar part."""
    NEW_PASSWORD = "new_password"  # noqa: S105 - a folder's name
    """A link that was asked for at the sign-in page; it is written at once."""


@dataclass(frozen=True, slots=True)
class Attached:
    """A file that goes with a message; a calendar part says its METHOD (RFC 6047)."""

    name: str
    media_type: str
    content: bytes
    method: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Message:
    """What one person is told in one period, before it is laid out."""

    kind: Kind
    email: str
    name: str
    period: str
    """The week, 2026-W49; with kind and address it names the message."""
    dated_at: dt.datetime
    is_all_clear: bool
    context: Mapping[str, object]
    language: str = "en"
    items: Mapping[str, str] = field(default_factory=dict)
    """What it tells, by a name that lasts, and how each stands: what was told before is folded."""
    attached: tuple[Attached, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Rendered:
    """A message laid out: subject on one line, text and HTML that say the same."""

    kind: Kind
    email: str
    name: str
    period: str
    dated_at: dt.datetime
    is_all_clear: bool
    subject: str
    text: str
    html: str
    language: str = "en"
    items: Mapping[str, str] = field(default_factory=dict)
    attached: tuple[Attached, ...] = ()


@dataclass(frozen=True, slots=True)
class Skipped:
    """A message that is not sent, and why."""

    kind: Kind
    email: str
    period: str
    reason: str


@dataclass(frozen=True, slots=True)
class Mail:
    """The bytes of one message and its envelope: one sender, one recipient."""

    message_id: str
    envelope_from: str
    envelope_to: str
    content: bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """One webhook: to whom, under which name, what it says, and with what it is signed."""

    webhook: str
    """The number of who subscribed."""
    url: str
    message_id: str
    body: bytes
    secrets: tuple[str, ...] = field(repr=False)
