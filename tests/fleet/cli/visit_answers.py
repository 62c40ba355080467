"""What do `visits` and the outbox answer, as the tests read it?"""

from __future__ import annotations

import json
from contextlib import closing
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import Any

from fleet.storage import open_store
from notifications.messages import Kind
from tests.fleet.cli.conftest import NOON, Dueward
from tests.notifications.mail_rules import check_message

__all__ = ["by_site", "mails", "one", "rows"]


def rows(dueward: Dueward, *typed: str) -> list[dict[str, Any]]:
    result = dueward("visits", *typed, "--format", "json")
    assert result.exit_code == 0, result.stderr
    found: list[dict[str, Any]] = json.loads(result.stdout)
    return found


def one(dueward: Dueward, *typed: str) -> dict[str, Any]:
    result = dueward("visits", *typed, "--format", "json")
    assert result.exit_code == 0, result.stderr
    found: dict[str, Any] = json.loads(result.stdout)
    return found


def mails(tmp_path: Path) -> list[EmailMessage]:
    url = f"sqlite:///{tmp_path / 'own.db'}"
    found = []
    with closing(open_store(url, clock=lambda: NOON)) as store, store.begin() as record:
        for row in record.mail.rows():
            content = record.mail.content(row.key)
            if row.kind is Kind.VISIT and content is not None:
                check_message(content)
                found.append(message_from_bytes(content, EmailMessage, policy=policy.default))
    return found


def by_site(dueward: Dueward) -> dict[str, dict[str, Any]]:
    return {row["site"]: row for row in rows(dueward, "list")}
