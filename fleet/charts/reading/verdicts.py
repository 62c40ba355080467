"""What does each cell hold, once both judges spoke, and if nobody can tell, why?"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from fleet.charts.places import Place
from fleet.charts.reading.arrays import Points
from fleet.charts.reading.figures import FIGURES, Seen
from fleet.charts.reading.fitting import OFF_REACH
from fleet.charts.reading.flat import Fit, in_view
from fleet.charts.reading.judges import Judges
from fleet.domain.scans import CellRead, Doubt, Verdict

__all__ = ["Trust", "verdicts"]

_FAR = 16.0
"""A cell further than so many mm from a piece of the page that fitted is not trusted."""
_THIN, _SPAN = 2.6, 1.2
"""A stroke through a run is at most so high and at most so much shorter than its cells are wide."""
_NO_EDGE = 0.2
_AT = {name: column for column, name in enumerate(FIGURES)}
Flags = NDArray[np.bool_]


class Trust(NamedTuple):
    """Where on the page the print was found where it should be."""

    fit: Fit
    off: Points
    """Middles of large pieces that lie a row or a day off."""
    shape: tuple[int, ...]
    """Height and width of the picture."""


def verdicts(seen: Seen, judges: Judges, cells: Sequence[Place], trust: Trust) -> list[CellRead]:
    """A verdict for each cell, in their order.

    Both judges must be on one side, and together far enough from the middle.
    """
    logits = judges.logits(seen)
    both, (low, high) = logits.trees + logits.net, judges.sure
    blank = (both <= low) & (np.maximum(logits.trees, logits.net) <= -judges.agree)
    marked = (both >= high) & (np.minimum(logits.trees, logits.net) >= judges.agree)
    doubts = _doubts(seen, cells, trust)
    sides = (logits.trees > 0) != (logits.net > 0)
    overhang = _overhang(seen)
    surest = np.where(
        marked,
        np.minimum(logits.trees, logits.net),
        np.where(blank, -np.maximum(logits.trees, logits.net), both / 2),
    )
    sure = 1 / (1 + np.exp(-np.clip(surest, -30, 30)))
    found = []
    for turn, one in enumerate(cells):
        doubt = doubts[turn]
        verdict = Verdict.MARKED if marked[turn] else Verdict.BLANK
        if doubt is None and not marked[turn] and not blank[turn]:
            doubt = Doubt.DISAGREE if sides[turn] else Doubt.FAINT
            doubt = Doubt.OVERHANG if overhang[turn] else doubt
        if doubt is not None:
            verdict = Verdict.UNCERTAIN
        confidence = round(float(sure[turn]), 4)
        found.append(CellRead(one.row, one.slot, verdict, confidence, doubt))
    return found


def _doubts(seen: Seen, cells: Sequence[Place], trust: Trust) -> list[Doubt | None]:
    """Why a cell is not trusted whatever the judges say; None where it is."""
    outside = ~in_view(trust.fit, cells, trust.shape)
    unsure = _unsure(seen, cells, trust)
    runs = _runs(seen, cells)
    return [
        Doubt.OUTSIDE if out else Doubt.FIT if fits else Doubt.RUN if run else None
        for out, fits, run in zip(outside, unsure, runs, strict=True)
    ]


def _unsure(seen: Seen, cells: Sequence[Place], trust: Trust) -> Flags:
    """Cells far from a piece that fitted, in a large one that lies off, or without edges where
    others have some.
    """
    middles = np.array([(one.x + one.w / 2, one.y + one.h / 2) for one in cells])
    apart = np.linalg.norm(middles[:, None] - trust.fit.seen[None], axis=2).min(axis=1)
    is_off = (np.abs(middles[:, None] - trust.off[None]) < OFF_REACH).all(axis=2).any(axis=1)
    around = np.array([2 * (one.w + one.h) for one in cells])
    edges = seen.figures[:, _AT["ink on its edges"]] / around
    return np.asarray((apart > _FAR) | is_off | (edges < _NO_EDGE * np.median(edges)))


def _runs(seen: Seen, cells: Sequence[Place]) -> Flags:
    """Cells through which one stroke goes that goes through a neighbour of the same row too."""
    figures = seen.figures
    widths = np.array([one.w for one in cells])
    spans = figures[:, _AT["its width"]] >= widths - _SPAN
    spans &= figures[:, _AT["its height"]] <= _THIN
    spans &= figures[:, _AT["largest piece"]] > 0
    found = np.zeros(len(cells), bool)
    place = {(one.row, one.month, one.first): turn for turn, one in enumerate(cells) if one.first}
    for turn in np.flatnonzero(spans).tolist():
        one = cells[turn]
        beside = place.get((one.row, one.month, one.last + 1))
        if one.first and beside is not None and spans[beside]:
            found[turn] = found[beside] = True
    return found


def _overhang(seen: Seen) -> Flags:
    """Cells whose ink reaches in from where a neighbour has much."""
    figures = seen.figures
    beside = figures[:, _AT["ink left of it"] : _AT["ink below it"] + 1].max(axis=1)
    return np.asarray((figures[:, _AT["it touches the edge"]] > 0) & (beside > 0.5))
