"""How does something happen every minute? The only module that knows APScheduler.

It is an alarm clock and no more: it does not know what is due, keeps nothing, and is not asked
whether a day was missed. A minute that was missed (a suspended machine, a slow tick) is made up for
by one tick, since what is due is worked out from the database each time.
"""

from __future__ import annotations

import datetime as dt
import logging
import signal
import threading
from collections.abc import Callable
from queue import SimpleQueue
from types import FrameType
from typing import Final

from apscheduler.events import EVENT_JOB_ERROR, EVENT_SCHEDULER_STARTED, JobExecutionEvent
from apscheduler.schedulers.blocking import BlockingScheduler

__all__ = ["EVERY_SECONDS", "run_until_stopped", "run_until_told"]

EVERY_SECONDS: Final = 60.0
_DEFAULTS: Final = {"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
"""The library's own grace of one second drops a run that is late by more (its issue 146)."""


def run_until_stopped(
    tick: Callable[[], None],
    stop: Callable[[], None],
    now: dt.datetime,
    every_seconds: float = EVERY_SECONDS,
) -> None:
    """Call `tick` now and then every so many seconds, one at a time, until SIGTERM or Ctrl-C.

    stop is told of the signal, so that a tick that is under way ends soon; this returns when it
    has. What a tick raises ends the timetable and is raised here: ticks deal with what they can.
    """
    told: SimpleQueue[None] = SimpleQueue()

    def end(number: int, frame: FrameType | None) -> None:
        stop()
        told.put(None)

    before = {number: signal.signal(number, end) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        run_until_told(tick, told, now, every_seconds)
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)


def run_until_told(
    tick: Callable[[], None],
    told: SimpleQueue[None],
    now: dt.datetime,
    every_seconds: float = EVERY_SECONDS,
) -> None:
    """The same in any thread, until something is put into `told`.

    A thread of its own shuts the scheduler down. A signal's handler must not: it runs in the midst
    of the scheduler's loop, which may hold the very lock that the shutdown, or the tick it waits
    for, needs. Putting into a SimpleQueue is safe there (Python's documentation of `queue`).
    """
    scheduler = BlockingScheduler(timezone=dt.UTC, job_defaults=_DEFAULTS)
    failures: list[BaseException] = []

    def fail(event: JobExecutionEvent) -> None:
        failures.append(event.exception)
        told.put(None)

    def shut_down() -> None:
        told.get()
        scheduler.shutdown(wait=True)

    ending = threading.Thread(target=shut_down, name="timetable's end", daemon=True)
    logging.getLogger("apscheduler").setLevel(logging.CRITICAL)
    scheduler.add_listener(fail, EVENT_JOB_ERROR)
    scheduler.add_listener(lambda _: ending.start(), EVENT_SCHEDULER_STARTED)
    scheduler.add_job(tick, "interval", seconds=every_seconds, next_run_time=now, id="tick")
    scheduler.start()
    ending.join()
    if failures:
        raise failures[0]
