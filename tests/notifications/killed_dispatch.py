"""A dispatcher to be killed: sends what is due in an outbox until nothing is.

python -m tests.notifications.killed_dispatch DATABASE PORT LEASE_SECONDS
"""

from __future__ import annotations

import datetime as dt
import os
import signal
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path

from fleet.storage import open_store
from notifications.dispatch import dispatch_due
from notifications.settings import Settings
from notifications.smtp import Door, server

_ROOT = Path(__file__).resolve().parents[2]


def main(database: str, port: str, lease_seconds: str) -> None:
    """Dispatch, looking again for claims of the killed ones that ran out."""
    lease = dt.timedelta(seconds=float(lease_seconds))
    at = server(Settings(smtp=f"smtp://127.0.0.1:{port}"))
    with closing(open_store(database, clock=_clock)) as store, Door(at) as door:
        print("begun", flush=True)
        dispatch_due(store.outbox, door, f"pid{os.getpid()}", _clock, lease=lease)


def _clock() -> dt.datetime:
    return dt.datetime.fromtimestamp(time.time_ns() / 1e9, dt.UTC)


def run_and_kill(url: str, port: int, lease_seconds: float, after: float | None) -> int:
    """Run a dispatcher, and kill it so many seconds after it has begun; None lets it end.

    Answers how many were killed: one that was done before is none.
    """
    words = ["-m", "tests.notifications.killed_dispatch", url, str(port), str(lease_seconds)]
    command = [sys.executable, *words]
    with subprocess.Popen(command, cwd=_ROOT, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        process.stdout.readline()
        try:
            process.wait(after)
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGKILL)
            process.wait()
            return 1
    return 0


if __name__ == "__main__":
    main(*sys.argv[1:])
