"""Is a code ever read as another page's? Codes are ruined at random and read as the reader does.

    python -m tests.studies.chart_reading.codes 20000

Each time some modules of a printed code are turned over, covered or smeared, and both copies
are looked at. What is counted: read right, not read, read as another, and the two not agreeing.
"""

from __future__ import annotations

import string
import sys
from collections import Counter

import cv2
import numpy as np

from fleet.charts.codes import code_text, read_code, symbol
from fleet.charts.geometry import CODE_CORNERS, LAYOUT, MODULE
from fleet.charts.reading.coded import codes_on
from tests.studies.chart_reading.filled import Array

__all__ = ["ruined", "tried"]

_SCALE = 8.0
_DIGITS = string.digits + string.ascii_uppercase


def ruined(code: str, rng: np.random.Generator) -> Array:
    """The top of a page, 40 mm high, with both copies of a code, each ruined in its own way."""
    page = np.full((round(40 * _SCALE), round(259 * _SCALE)), 255, np.uint8)
    modules = np.array(symbol(code))
    for x, y in CODE_CORNERS:
        turned = modules ^ (rng.random(modules.shape) < rng.choice([0.0, 0.03, 0.08, 0.15, 0.25]))
        if rng.random() < 0.3:
            at, size = rng.integers(0, 17, 2), rng.integers(2, 9)
            turned[at[0] : at[0] + size, at[1] : at[1] + size] = rng.random() < 0.5
        side = round(21 * MODULE * _SCALE)
        large = cv2.resize((~turned).astype(np.uint8) * 255, (side, side), interpolation=0)
        left, top = round(x * _SCALE), round(y * _SCALE) + round(6 * _SCALE)
        page[top : top + side, left : left + side] = large
    smooth = cv2.GaussianBlur(page, (0, 0), rng.uniform(0.3, 4.0))
    noise = rng.normal(0, rng.uniform(0, 40), page.shape)
    return np.asarray(np.clip(smooth + noise, 0, 255), np.uint8)


def tried(times: int, seed: int = 1) -> Counter[str]:
    """What came of so many reads."""
    rng = np.random.default_rng(seed)
    start = np.array([[_SCALE, 0, 0], [0, _SCALE, 6 * _SCALE], [0, 0, 1]])
    counts: Counter[str] = Counter()
    for _ in range(times):
        number = "".join(rng.choice(list(_DIGITS), 8))
        code = code_text(LAYOUT, number, int(rng.integers(1, 13)))
        found = codes_on(ruined(code, rng), start)
        if not found:
            counts["not read"] += 1
        elif len(found) > 1:
            counts["do not agree"] += 1
        else:
            counts["right" if found == {read_code(code)} else "as another"] += 1
    return counts


if __name__ == "__main__":
    cv2.setNumThreads(1)
    for what, count in tried(int(sys.argv[1])).most_common():
        sys.stdout.write(f"{what}: {count}\n")
