"""Which cells do the judges learn from, and what is each of them taken to be?

    python -m tests.studies.chart_reading.samples FOLDER PAGES PART PARTS

makes PAGES pages of the first generator, measures their cells as the reader does, and writes
FOLDER/PART.npz. Marks are thinned, they are many and alike. Beside what was written stands what can
be seen of it: a twin of the picture without writing tells how much ink is left and how plain it is,
and what else the damage put into the cell.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import cv2
import numpy as np

from fleet.charts.places import Place
from fleet.charts.reading.arrays import Grey, Ink, pixels
from fleet.charts.reading.figures import WINDOW_SCALE, Seen, seen
from fleet.charts.reading.fitting import SCALES, laid_on
from fleet.charts.reading.flat import flat_picture
from fleet.charts.reading.found import found_pages
from fleet.charts.reading.ink import SCALE, ink_of
from fleet.charts.reading.lines import drawn_page
from fleet.charts.reading.pages import open_places
from tests.studies.chart_reading.filled import DAMAGES, Array, Truth
from tests.studies.chart_reading.first import twins
from tests.studies.chart_reading.unfilled import Unfilled, unfilled_pages

__all__ = ["Samples", "gathered", "sampled"]

_WELL = 0.75
"""So much of a page must have fitted to be learned from."""
_THINNED, _SLIGHT = 0.35, 0.6
"""So many marks are kept; all those that left less ink, in mm2 of full black."""


_NUMBERS = {Truth.BLANK: 0, Truth.MARKED: 1, Truth.AMBIGUOUS: 2}


class Samples(NamedTuple):
    """Cells of many pages."""

    figures: Array
    windows: Array
    """uint8, 200 as black as the print."""
    cell_of_window: Array
    told: Array
    """What was written: 0 nothing, 1 a mark, 2 something that leaves one in doubt."""
    left: Array
    """How much ink of what was written, there or beside, is seen in the cell: mm2 of full black."""
    plain: Array
    """How black it is at its blackest half millimetre."""
    rough: Array
    """How much bare paper varies in the cell, half millimetre by half millimetre."""
    stained: Array
    """How much ink is there that nobody wrote: mm2 of full black."""
    page: Array
    """A number of the page each cell is of."""
    damage: Array


def sampled(page: Unfilled, damage: str, seed: int) -> Samples | None:
    """The cells of one page; None where it was not found or did not fit."""
    picture, twin, truth = twins(page.pdf, page.paper, page.cells, damage, seed)
    found = found_pages(picture)
    known: Any = page.print
    if len(found) != 1 or found[0].page != page.page or picture.shape != twin.shape:
        return None
    drawn = drawn_page(known, page.page, (*SCALES, WINDOW_SCALE))
    fit = laid_on(picture, found[0], drawn)
    cells = open_places(known, page.page)
    if fit.share < _WELL or not cells:
        return None
    flat = flat_picture(picture, fit.start, SCALE, fit.shifts)
    bare = flat_picture(twin, fit.start, SCALE, fit.shifts)
    measured = seen(ink_of(flat, found[0].corners), drawn[WINDOW_SCALE], cells)
    told = np.array([_NUMBERS[truth[one.row, one.slot]] for one in cells])
    facts = _facts(flat, bare, ink_of(bare, found[0].corners), cells)
    random = np.random.default_rng(seed)
    is_kept = random.random(len(cells)) < np.where(told == 1, _THINNED, 1.0)
    is_kept |= (told == 1) & (facts[:, 0] < _SLIGHT)
    return _only(measured, told, facts, is_kept, seed, DAMAGES.index(damage))


def _facts(flat: Grey, bare: Grey, bare_ink: Ink, cells: Sequence[Place]) -> Array:
    """left, plain, rough and stained of each cell."""
    span = max(20.0, float(np.percentile(bare, 95)) - float(np.percentile(bare, 1)))
    written = np.clip((bare.astype(np.float32) - flat.astype(np.float32)) / span, 0, 1)
    blurred, paper = cv2.blur(written, (4, 4)), cv2.blur(bare_ink, (4, 4))
    found = []
    for one in cells:
        x0, x1 = (round(pixels(v, SCALE)) for v in (one.x + 0.3, one.x + one.w - 0.3))
        y0, y1 = (round(pixels(v, SCALE)) for v in (one.y + 0.3, one.y + one.h - 0.3))
        own = slice(y0, y1), slice(x0, x1)
        core = slice(y0 + 5, y1 - 5), slice(x0 + 5, x1 - 5)
        low = paper[core] - np.median(paper[core])
        rough = float(np.median(np.abs(low))) * 1.48
        stained = float(bare_ink[core][bare_ink[core] > 0.2].sum()) / SCALE**2
        found.append((written[own].sum() / SCALE**2, blurred[own].max(), rough, stained))
    return np.array(found)


def _only(
    measured: Seen,
    told: Array,
    facts: Array,
    is_kept: Array,
    page: int,
    damage: int,
) -> Samples:
    kept = np.flatnonzero(is_kept)
    place = np.cumsum(is_kept) - 1
    own = is_kept[measured.cell_of_window]
    windows = (np.clip(measured.windows[own], 0, 1.25) * 200).astype(np.uint8)
    left, plain, rough, stained = facts[kept].T.astype(np.float32)
    return Samples(
        measured.figures[kept],
        windows,
        place[measured.cell_of_window[own]],
        told[kept],
        left,
        plain,
        rough,
        stained,
        np.full(len(kept), page),
        np.full(len(kept), damage),
    )


def gathered(parts: Sequence[Samples]) -> Samples:
    """The samples of several pages as one."""
    before = np.cumsum([0, *(len(one.told) for one in parts)])
    shifted = [
        one._replace(cell_of_window=one.cell_of_window + start)
        for one, start in zip(parts, before[:-1], strict=True)
    ]
    return Samples(*(np.concatenate(columns) for columns in zip(*shifted, strict=True)))


def _pages(part: int, parts: int) -> Iterator[tuple[Unfilled, int]]:
    chart = 1000 + part
    while True:
        for page in unfilled_pages(chart):
            yield page, chart * 20 + page.page
        chart += parts


def main(folder: str, pages: int, part: int, parts: int) -> None:
    """Make the samples of one part."""
    cv2.setNumThreads(1)
    drawn = _pages(part, parts)
    found = []
    for turn in range(pages):
        page, seed = next(drawn)
        one = sampled(page, DAMAGES[(turn * 7 + part * 3) % len(DAMAGES)], seed)
        if one is not None:
            found.append(one)
    whole = gathered(found)
    np.savez(Path(folder) / f"{part}.npz", **whole._asdict())
    sys.stdout.write(f"{len(found)} of {pages} pages, {len(whole.told)} cells\n")


if __name__ == "__main__":
    main(sys.argv[1], *map(int, sys.argv[2:5]))
