"""Is any mail lost, and how many go twice, when the dispatcher is killed 200 times?

python -m tests.studies.mail_kills kills it at drawn moments while it sends to a real Postfix on
loopback, then reads the mailbox back. As root, with Postfix installed. About 4 minutes.
"""

from __future__ import annotations

import random
import tempfile
import time
from collections import Counter
from contextlib import closing
from pathlib import Path

from fleet.storage import create, open_store
from notifications.mime import mail
from notifications.outbox import State
from notifications.settings import Settings
from tests.fleet.storage.outbox_examples import NOW, a_planned, plan
from tests.mail_server import as_kept, without_trace
from tests.notifications.facts_made import a_rendered
from tests.notifications.killed_dispatch import run_and_kill
from tests.studies.postfix_server import postfix

KILLS, MAILS, LEASE_SECONDS = 200, 6000, 0.5


def main() -> None:
    """Kill, count and print a line of the table."""
    chance, start = random.Random(20261126), time.monotonic()
    times = {"planned_at": NOW.replace(year=2020), "stale_at": NOW.replace(year=2100)}
    planned = []
    for number in range(MAILS):
        one = mail(a_rendered(email=f"r{number}@lab.example"), Settings())
        planned.append(a_planned(f"r{number}", mail=one, **times))
    with tempfile.TemporaryDirectory() as folder, postfix() as server:
        url = f"sqlite:///{Path(folder) / 'fleet.db'}"
        create(url)
        kills = 0
        with closing(open_store(url, clock=lambda: NOW)) as store:
            plan(store, *planned)
            while store_left(store):
                after = chance.random() * 0.25 if kills < KILLS else None
                kills += run_and_kill(url, server.port, LEASE_SECONDS, after)
            with store.begin() as record:
                rows = record.mail.rows((State.SENT,))
        server.wait_for(MAILS)
        time.sleep(3)
        kept = Counter(map(without_trace, server.wait_for(MAILS)))
    wanted = {as_kept(one.mail.content) for one in planned if one.mail}
    copies = sum(kept.values()) - len(kept)
    print(
        f"| {kills} | {MAILS} | {len(rows)} | {len(wanted - kept.keys())}"
        f" | {len(kept.keys() - wanted)} | {copies} | {sum(row.uncertain for row in rows)}"
        f" | {time.monotonic() - start:,.0f} s |"
    )


def store_left(store: object) -> int:
    """How many messages are not settled."""
    with store.begin() as record:  # type: ignore[attr-defined]
        return len(record.mail.rows((State.QUEUED, State.SENDING, State.DEFERRED)))


if __name__ == "__main__":
    main()
