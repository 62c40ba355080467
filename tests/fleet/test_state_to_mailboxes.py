"""From the demo state's files to mailboxes: does each person get what was written for them?"""

from __future__ import annotations

import email.policy
import json
from collections import Counter
from email import message_from_bytes
from pathlib import Path

import pytest
from click.testing import CliRunner

from fleet.cli.main import main
from tests.mail_server import MailServer, as_kept, without_trace

pytestmark = pytest.mark.mail_server


def test_the_demo_states_digests_reach_every_mailbox_once(
    mail_server: MailServer, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("DUEWARD_SMTP", f"smtp://127.0.0.1:{mail_server.port}")
    database = ["--database", "sqlite:///dueward-demo/dueward.db"]
    assert CliRunner().invoke(main, ["demo"]).exit_code == 0

    answer = CliRunner().invoke(main, ["digest", "--on", "2026-11-25", "--send", *database])

    assert answer.exit_code == 0, answer.stderr
    told = [row for row in json.loads(answer.stdout) if row["skipped"] is None]
    kept = [without_trace(one) for one in mail_server.wait_for(len(told))]
    to = [message_from_bytes(one, policy=email.policy.default)["To"].addresses for one in kept]
    assert Counter(people[0].addr_spec for people in to) == Counter(r["recipient"] for r in told)
    written = Path("dueward-demo/digests").rglob("*.eml")
    assert sorted(kept) == sorted(as_kept(file.read_bytes()) for file in written)
