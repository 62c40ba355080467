"""How does something happen every minute? The only module that knows APScheduler.

It is an alarm clock and no more: it does not know what is due, keeps nothing, and is not asked
whether a day was missed. A minute that was missed (a suspended machine, a slow tick) is made up for
by one tick, since what is due is worked out from the database each time.
"""

from __future__ import annotations

import datetime as dt
import logging
import signal
from collections.abc import Callable
from types import FrameType
from typing import Final

from apscheduler.events import EVENT_JOB_ERROR, JobExecutionEvent
from apscheduler.schedulers.blocking import BlockingScheduler

__all__ = ["EVERY_SECONDS", "run_until_stopped"]

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
    scheduler = BlockingScheduler(timezone=dt.UTC, job_defaults=_DEFAULTS)
    failures: list[BaseException] = []

    def fail(event: JobExecutionEvent) -> None:
        failures.append(event.exception)
        scheduler.shutdown(wait=False)

    def end(number: int, frame: FrameType | None) -> None:
        stop()
        scheduler.shutdown(wait=True)

    logging.getLogger("apscheduler").setLevel(logging.CRITICAL)
    scheduler.add_listener(fail, EVENT_JOB_ERROR)
    scheduler.add_job(tick, "interval", seconds=every_seconds, next_run_time=now, id="tick")
    before = {number: signal.signal(number, end) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        scheduler.start()
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
    if failures:
        raise failures[0]
