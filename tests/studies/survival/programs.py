"""How is the program put together for a trial? As wiring does, on a clock that may stand."""

from __future__ import annotations

import datetime as dt
import time

from fleet.wiring import Program, Settings, utc_now

__all__ = ["program"]


def program(url: str, at: dt.datetime | None = None) -> Program:
    """The program on a database, by the machine's clock or one that stands at `at`."""
    clock = utc_now if at is None else lambda: at
    return Program(
        settings=Settings(database=url), clock=clock, stopwatch=time.monotonic, user="study"
    )
