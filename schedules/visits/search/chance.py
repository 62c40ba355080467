"""Which number comes next? One stream of chance that compiled code draws from.

xorshift64* (Vigna, "An experimental exploration of Marsaglia's xorshift generators, scrambled",
ACM TOMS 42(4), 2016): the same on every machine and with every version of the libraries.
"""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from schedules.visits.compiled import compiled

__all__ = ["Chance", "below", "share", "stream", "surprise"]

Chance = npt.NDArray[np.uint64]
"""The state of a stream, one number."""


def stream(seed: int) -> Chance:
    """A stream for a seed; any whole number will do."""
    mixed = (seed * 0x9E3779B97F4A7C15 + 0xD1B54A32D192ED03) & 0xFFFFFFFFFFFFFFFF
    return np.array([mixed or 1], dtype=np.uint64)


@compiled
def share(chance: Chance) -> float:
    """Draw from [0, 1)."""
    drawn = chance[0]
    drawn ^= drawn >> np.uint64(12)
    drawn ^= drawn << np.uint64(25)
    drawn ^= drawn >> np.uint64(27)
    chance[0] = drawn
    return float((drawn * np.uint64(0x2545F4914F6CDD1D)) >> np.uint64(11)) / 9007199254740992.0


@compiled
def below(chance: Chance, bound: int) -> int:
    """Draw a whole number from 0 to bound - 1."""
    return int(share(chance) * bound)


@compiled
def surprise(chance: Chance) -> float:
    """Draw from the exponential distribution of mean 1."""
    return -math.log(1.0 - share(chance))
