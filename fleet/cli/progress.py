"""How far has a long command come? A line on stderr, only on a terminal and after a second."""

from __future__ import annotations

import itertools
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any

import click

__all__ = ["Rows", "rows_told"]

_AFTER_SECONDS = 1.0


class Rows:
    """Tells how many rows have been dealt with (the port `Progress` of `load`)."""

    def __init__(self, label: str, stopwatch: Callable[[], float]) -> None:
        self._label, self._stopwatch, self._began = label, stopwatch, stopwatch()
        self._waiting = 0
        self._bar: Any = None

    def step(self, rows: int) -> None:
        """So many rows more."""
        self._waiting += rows
        if not sys.stderr.isatty() or self._stopwatch() - self._began < _AFTER_SECONDS:
            return
        if self._bar is None:
            self._bar = click.progressbar(
                itertools.repeat(None), label=self._label, show_pos=True, file=sys.stderr
            )
            self._bar.render_progress()
        self._bar.update(self._waiting)
        self._waiting = 0

    def close(self) -> None:
        """End the line, if there is one."""
        if self._bar is not None:
            self._bar.render_finish()


@contextmanager
def rows_told(label: str, stopwatch: Callable[[], float]) -> Iterator[Rows]:
    """Tell the rows of what is done inside."""
    rows = Rows(label, stopwatch)
    try:
        yield rows
    finally:
        rows.close()
