"""Is Ctrl-C heard wherever it falls?"""

from __future__ import annotations

import sys
import time
import weakref

import pytest

from fleet.cli.interrupts import heard


class Thing:
    """Something that a weak reference can point at."""


def interrupted(_: object) -> None:
    raise KeyboardInterrupt


def test_an_interrupt_that_is_lost_in_a_callback_is_raised_again() -> None:
    steps: list[str] = []

    def story() -> None:
        thing = Thing()
        watch = weakref.ref(thing, interrupted)
        with heard():
            del thing
            steps.append(f"past the callback, {watch()} is left")
            for _ in range(1_000):
                time.sleep(0.01)
        steps.append("never")

    with pytest.raises(KeyboardInterrupt):
        story()

    assert steps == ["past the callback, None is left"]


def test_other_faults_in_a_callback_are_told_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    told: list[type[BaseException]] = []
    monkeypatch.setattr(sys, "unraisablehook", lambda lost: told.append(lost.exc_type))
    thing = Thing()

    def broken(_: object) -> None:
        raise ZeroDivisionError

    watch = weakref.ref(thing, broken)
    before = sys.unraisablehook
    with heard():
        del thing

    assert (watch(), told, sys.unraisablehook) == (None, [ZeroDivisionError], before)
