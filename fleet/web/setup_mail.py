"""Which messages of the outbox may a visitor see: those to the people they look after."""

from __future__ import annotations

import datetime as dt
from typing import Final

from fleet.domain.records import Role
from fleet.services.access.people import people_lines
from fleet.services.access.visitor import account_name
from fleet.services.mail_ports import OutboxRow
from fleet.services.ports import Record
from fleet.web.asked import Asked

__all__ = ["mail_seen", "may_see_mail"]

_SINCE: Final = dt.timedelta(days=35)


def mail_seen(asking: Asked, record: Record) -> list[OutboxRow]:
    """The messages of the last five weeks, the latest first."""
    rows = record.mail.rows((), "", asking.now - _SINCE)
    may = may_see_mail(asking, record)
    return [row for row in reversed(rows) if may is None or account_name(row.recipient) in may]


def may_see_mail(asking: Asked, record: Record) -> frozenset[str] | None:
    """The addresses whose mail a visitor sees; None for everybody's."""
    if Role.MANAGER in asking.visitor.roles:
        return None
    lines = people_lines(record.register(), record.access, asking.visitor)
    return frozenset({asking.visitor.email, *(line.email for line in lines)})
