"""How does the story roll its dice? A chance of its own for each thing, by name.

A thing's chance depends on the seed and its name alone, so a change in one place leaves the rest of
the files as they were. Only `random.Random.random` is used: its sequence is the one that Python
promises to keep.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from typing import TypeVar

__all__ = ["SEED", "Chance"]

SEED = "dueward demo 1"
_T = TypeVar("_T")


class Chance:
    """Repeatable draws for the thing of this name."""

    def __init__(self, *name: str) -> None:
        self._random = random.Random("/".join((SEED, *name)))

    def happens(self, probability: float) -> bool:
        """Say yes with this probability."""
        return self._random.random() < probability

    def whole(self, low: int, high: int) -> int:
        """A whole number from low to high, both included."""
        return low + int(self._random.random() * (high - low + 1))

    def pick(self, choices: Sequence[_T]) -> _T:
        """One of the choices."""
        return choices[self.whole(0, len(choices) - 1)]

    def spread(self) -> float:
        """A number between -1 and 1, seldom near the ends."""
        return sum(self._random.random() for _ in range(3)) / 1.5 - 1
