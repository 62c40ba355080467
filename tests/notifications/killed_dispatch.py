"""A dispatcher to be killed: sends what is due in an outbox until nothing is.

python -m tests.notifications.killed_dispatch DATABASE PORT LEASE_SECONDS
"""

from __future__ import annotations

import datetime as dt
import os
import sys
import time
from contextlib import closing

from fleet.storage import open_store
from notifications.dispatch import dispatch_due
from notifications.settings import Settings
from notifications.smtp import Door, server


def main(database: str, port: str, lease_seconds: str) -> None:
    """Dispatch, looking again for claims of the killed ones that ran out."""
    lease = dt.timedelta(seconds=float(lease_seconds))
    at = server(Settings(smtp=f"smtp://127.0.0.1:{port}"))
    with closing(open_store(database, clock=_clock)) as store, Door(at) as door:
        dispatch_due(store.outbox, door, f"pid{os.getpid()}", _clock, lease=lease)


def _clock() -> dt.datetime:
    return dt.datetime.fromtimestamp(time.time_ns() / 1e9, dt.UTC)


if __name__ == "__main__":
    main(*sys.argv[1:])
