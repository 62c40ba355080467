"""How many more questions may a token ask this minute? Counted in one process, and forgotten."""

from __future__ import annotations

import datetime as dt
import threading
from typing import Final

__all__ = ["A_MINUTE", "Meter"]

A_MINUTE: Final = 600
"""So many questions a token has a minute, of each process."""
_SPAN: Final = 60


class Meter:
    """Counts by minutes of the clock; many threads ask it."""

    def __init__(self, most: int = A_MINUTE) -> None:
        self._most, self._lock = most, threading.Lock()
        self._minute, self._counts = 0, dict[str, int]()

    def wait(self, number: str, now: dt.datetime) -> int:
        """Count one more question; how many seconds to wait with it, 0 to ask it now."""
        second = int(now.timestamp())
        with self._lock:
            if second // _SPAN != self._minute:
                self._minute, self._counts = second // _SPAN, {}
            asked = self._counts.get(number, 0)
            if asked >= self._most:
                return _SPAN - second % _SPAN
            self._counts[number] = asked + 1
        return 0
