"""A dispatcher that is killed at any moment loses nothing; at most the mail under way goes twice.

The small form of `tests.studies.mail_kills`.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from contextlib import closing
from pathlib import Path

from fleet.storage import create, open_store
from notifications.outbox import State
from tests.fleet.storage.outbox_examples import NOW, a_planned, plan
from tests.notifications.killed_dispatch import run_and_kill
from tests.notifications.storing_sink import StoringSink

KILLS, MAILS, LEASE_SECONDS = 10, 120, 0.3


def test_ten_kills_lose_nothing_and_repeat_at_most_one_mail_each(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    create(url)
    sink, chance = StoringSink(answer_seconds=0.02), random.Random(20261130)
    times = {"planned_at": NOW.replace(year=2020), "stale_at": NOW.replace(year=2100)}
    planned = [a_planned(f"r{n}", **times) for n in range(MAILS)]
    kills = 0
    with closing(open_store(url, clock=lambda: NOW)) as store:
        plan(store, *planned)
        until = time.monotonic() + 60
        while time.monotonic() < until:
            with store.begin() as record:
                left = len(record.mail.rows((State.QUEUED, State.SENDING, State.DEFERRED)))
                uncertain = sum(row.uncertain for row in record.mail.rows())
            if not left:
                break
            after = chance.random() * 0.25 if kills < KILLS else None
            kills += run_and_kill(url, sink.port, LEASE_SECONDS, after)
        with store.begin() as record:
            sent = record.mail.rows((State.SENT,))
    sink.close()

    copies = Counter(sink.stored)
    contents = {one.mail.content for one in planned if one.mail}
    assert kills == KILLS
    assert len(sent) == MAILS
    assert copies.keys() == contents
    assert sum(copies.values()) - MAILS <= KILLS
    assert uncertain >= sum(copies.values()) - MAILS
