"""How much processor time does each of several ways take, when they take turns?

Processor time, not time on the clock: on a shared machine a long call loses its processor to
others more often than a short one. The ways take turns, so that all meet the same neighbours.
"""

from __future__ import annotations

import gc
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from statistics import median

__all__ = ["Floor", "Ratio", "milliseconds"]

Way = Callable[[], object]
_A_TURN = 0.05
"""Seconds that a turn of a short way lasts about."""


@dataclass(frozen=True, slots=True)
class Floor:
    """What is aimed at and what must be held; `most` says that small ratios are good."""

    aim: float
    floor: float
    most: bool = False

    def verdict(self, ratio: float) -> str:
        """Say whether a ratio reaches the aim, only the floor, or neither."""
        sign = -1 if self.most else 1
        if sign * ratio >= sign * self.aim:
            return "aim"
        return "floor" if sign * ratio >= sign * self.floor else "MISSED"

    def __str__(self) -> str:
        return f"{'≤' if self.most else '≥'} {self.aim:g} ({self.floor:g})"


@dataclass(frozen=True, slots=True)
class Ratio:
    """One line of the table: what was divided by what, and what was asked for."""

    name: str
    ratio: float
    floor: Floor | None = None

    def cells(self) -> tuple[str, str, str, str]:
        """The line as the table's cells."""
        verdict = self.floor.verdict(self.ratio) if self.floor else ""
        wanted = str(self.floor) if self.floor else ""
        return self.name, f"{self.ratio:,.{2 if self.ratio < 10 else 0}f}", wanted, verdict


def milliseconds(ways: Mapping[str, Way], turns: int) -> dict[str, float]:
    """The median processor time of one call of each way, over so many turns.

    A short way is called several times a turn; a turn that is not counted comes first.
    """
    seconds: dict[str, list[float]] = {name: [] for name in ways}
    calls = {name: max(1, round(_A_TURN / _took(way, 1))) for name, way in ways.items()}
    for _ in range(turns):
        for name, way in ways.items():
            seconds[name].append(_took(way, calls[name]))
    return {name: median(some) * 1000 for name, some in seconds.items()}


def _took(way: Way, calls: int) -> float:
    gc.collect()
    start = time.process_time()
    for _ in range(calls):
        way()
    return (time.process_time() - start) / calls
