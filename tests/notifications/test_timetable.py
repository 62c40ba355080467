"""A tick at once and then each while; a signal ends it well."""

from __future__ import annotations

import os
import signal
import threading
import time
from queue import SimpleQueue

import pytest

from fleet.wiring import utc_now
from notifications.timetable import run_until_stopped, run_until_told


def signalled(number: int, after_ticks: int, busy_seconds: float = 0.0) -> tuple[list[str], float]:
    """What happens, in order, when a signal comes after so many ticks."""
    seen: list[str] = []

    def tick() -> None:
        seen.append("begun")
        if seen.count("begun") == after_ticks:
            os.kill(os.getpid(), number)
        time.sleep(busy_seconds)
        seen.append("ended")

    start = time.monotonic()
    run_until_stopped(tick, lambda: seen.append("stop"), utc_now(), every_seconds=0.05)
    return seen, time.monotonic() - start


def test_the_first_tick_comes_at_once() -> None:
    seen: list[float] = []
    start = time.monotonic()

    def tick() -> None:
        seen.append(time.monotonic() - start)
        os.kill(os.getpid(), signal.SIGTERM)

    run_until_stopped(tick, lambda: None, utc_now(), every_seconds=3600)
    assert len(seen) == 1
    assert seen[0] < 1


@pytest.mark.parametrize("place", range(20))
def test_a_signal_in_the_midst_of_a_tick_s_beginning_does_not_hang(place: int) -> None:
    """Sent by the tick's own thread while the scheduler still starts it."""
    seen, seconds = signalled(signal.SIGTERM, after_ticks=1 + place % 2)
    assert seen.count("stop") == 1
    assert seen.count("begun") == seen.count("ended")
    assert seconds < 5


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_signal_ends_it_after_the_tick_under_way(number: int) -> None:
    seen, seconds = signalled(number, after_ticks=3, busy_seconds=0.2)
    assert seen.count("stop") == 1
    assert seen.index("stop") < len(seen) - 1
    assert seen.count("begun") == seen.count("ended") == 3
    assert seconds < 5


def test_the_handlers_of_before_are_put_back() -> None:
    before = signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)
    signalled(signal.SIGTERM, after_ticks=1)
    assert (signal.getsignal(signal.SIGTERM), signal.getsignal(signal.SIGINT)) == before


def test_slow_ticks_do_not_overlap() -> None:
    seen, _ = signalled(signal.SIGTERM, after_ticks=4, busy_seconds=0.15)
    told = [word for word in seen if word != "stop"]
    assert told == ["begun", "ended"] * 4


def test_what_a_tick_raises_is_raised_here() -> None:
    def tick() -> None:
        raise ValueError("unforeseen")

    with pytest.raises(ValueError, match=r"^unforeseen$"):
        run_until_stopped(tick, lambda: None, utc_now(), every_seconds=0.05)


def test_beside_others_in_a_thread_it_ends_when_it_is_told() -> None:
    told: SimpleQueue[None] = SimpleQueue()
    ticks: list[str] = []
    arguments = (lambda: ticks.append(""), told, utc_now(), 0.02)
    thread = threading.Thread(target=run_until_told, args=arguments)

    thread.start()
    time.sleep(0.2)
    told.put(None)
    thread.join(5)
    assert not thread.is_alive()
    assert len(ticks) > 1


def test_told_before_it_began_it_ends_without_waiting_a_minute() -> None:
    told: SimpleQueue[None] = SimpleQueue()
    told.put(None)
    start = time.monotonic()

    run_until_told(lambda: None, told, utc_now(), every_seconds=3600)
    assert time.monotonic() - start < 5
