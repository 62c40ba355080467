"""How often is a reading right, held against what a person sees on the same paper?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import sqrt

from fleet.domain.scans import Verdict
from fleet.services.scans.read_cells import ReadCell

__all__ = ["Accuracy", "CellName", "accuracy", "cell_name", "limits"]

CellName = tuple[str, str, int, str]
"""Property number, task, turn, and the first day as YYYY-MM-DD."""
_Z = 1.959964
"""The normal deviate of 95 %."""


@dataclass(frozen=True, slots=True)
class Accuracy:
    """Counts of cells by what a person said, blank or marked, and what was read."""

    counts: Mapping[tuple[Verdict, Verdict], int]
    wrong: Sequence[CellName]
    """Cells that were read as the other."""
    unread: Sequence[CellName]
    """Cells a person spoke of that were not read."""

    def said(self, verdict: Verdict) -> int:
        """How many cells a person called so."""
        return sum(count for (true, _), count in self.counts.items() if true is verdict)

    def read_as(self, true: Verdict, read: Verdict) -> int:
        """How many of them were read as something."""
        return self.counts.get((true, read), 0)


def cell_name(property_number: str, one: ReadCell) -> CellName:
    """What names a cell in a person's answers."""
    return property_number, one.task, one.turn, one.from_on.isoformat()


def accuracy(read: Mapping[CellName, Verdict], answers: Mapping[CellName, Verdict]) -> Accuracy:
    """Hold what was read against a person's answers; cells without an answer do not count."""
    known = {name: read[name] for name in answers if name in read}
    counts = Counter((answers[name], verdict) for name, verdict in known.items())
    other = {Verdict.BLANK: Verdict.MARKED, Verdict.MARKED: Verdict.BLANK}
    wrong = [name for name, verdict in known.items() if other.get(answers[name]) is verdict]
    return Accuracy(counts, wrong, [name for name in answers if name not in read])


def limits(hits: int, of: int) -> tuple[float, float]:
    """Limits of a share at 95 % (Wilson 1927, Journal of the American Statistical Association 22).

    As if cells were independent; those of one page are not. Of nothing: 0 and 1.
    """
    if not of:
        return 0.0, 1.0
    share, weight = hits / of, _Z**2 / of
    middle = (share + weight / 2) / (1 + weight)
    half = _Z * sqrt(share * (1 - share) / of + weight / (4 * of)) / (1 + weight)
    return max(0.0, middle - half), min(1.0, middle + half)
