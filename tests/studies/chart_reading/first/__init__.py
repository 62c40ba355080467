"""The generator of filled pages that the reader is trained on."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

import cv2
import numpy as np
import pypdfium2

from fleet.charts.reading.arrays import pixels
from fleet.charts.reading.flat import flat_picture, starts_of
from fleet.charts.reading.found import found_pages
from tests.studies.chart_reading.filled import Array, Filled, Truth
from tests.studies.chart_reading.first.damages import BASE_DPI, damaged, encoded
from tests.studies.chart_reading.first.hands import Hand, Layer, hand, write
from tests.studies.chart_reading.unfilled import OpenCell

__all__ = ["filled", "twins"]

_MM = 25.4
_SCALE, _ROUND, _SEEN, _GONE = 6.0, -0.3, 0.06, 0.12
"""Of what is left of a mark: pixels a millimetre it is measured on, mm round a cell, how black it
must be to be seen, and from how many mm2 of full black on it is more than nothing."""
_BLANK_SHARES = (0.0, 0.005, 0.02, 0.05, 0.1, 0.25, 1.0)
_HOW_OFTEN = (0.1, 0.15, 0.2, 0.2, 0.2, 0.12, 0.03)


def filled(
    pdf: bytes, paper: tuple[float, float], cells: Sequence[OpenCell], damage: str, seed: int
) -> Filled:
    """A page that people filled and that came back damaged; the same for the same arguments."""
    picture, twin, truth = twins(pdf, paper, cells, damage, seed)
    lost = dict.fromkeys(_lost(picture, twin, paper, cells, truth), Truth.LOST)
    return Filled(encoded(picture, damage, np.random.default_rng(seed)), {**truth, **lost})


def twins(
    pdf: bytes, paper: tuple[float, float], cells: Sequence[OpenCell], damage: str, seed: int
) -> tuple[Array, Array, dict[tuple[int, int], Truth]]:
    """The picture, uint8, before it becomes a file; its twin that nobody wrote on; the truth.

    What was marked is told as marked even where the damage took the ink: the twin shows that.
    """
    rng = np.random.default_rng([seed, 1])
    dpi = BASE_DPI.get(damage, 200)
    base = _rendered(pdf, dpi)
    layer = Layer(np.zeros_like(base), dpi / _MM)
    truth = _written(layer, cells, damage, rng)
    page = base * (1 - layer.ink)
    picture = damaged(page, damage, dpi, np.random.default_rng([seed, 2]))
    twin = damaged(base, damage, dpi, np.random.default_rng([seed, 2]))
    return picture, twin, truth


def _rendered(pdf: bytes, dpi: int) -> Array:
    document = pypdfium2.PdfDocument(pdf)
    try:
        shown = document[0].render(scale=dpi / 72, grayscale=True).to_numpy().squeeze()
    finally:
        document.close()
    return np.asarray(shown, np.float32) / 255


def _written(
    layer: Layer, cells: Sequence[OpenCell], damage: str, rng: np.random.Generator
) -> dict[tuple[int, int], Truth]:
    pencil = damage == "pencil" or rng.random() < 0.08
    hands = [hand(rng, pencil) for _ in range(rng.integers(1, 6))]
    rate = float(rng.choice(_BLANK_SHARES, p=_HOW_OFTEN))
    until = float(rng.uniform(0.1, 1)) if rng.random() < 0.25 else 2.0
    last = max((one.slot for one in cells), default=0) + 1
    first = min((one.slot for one in cells), default=0)
    truth: dict[tuple[int, int], Truth] = {}
    turn = hands[0]
    for one in cells:
        key = one.row, one.slot
        if one.slot % 7 == 0:
            turn = hands[int(rng.integers(0, len(hands)))]
        share = (one.slot - first) / max(1, last - first)
        if (one.role != "box" and share > until) or rng.random() < rate:
            truth[key] = _nearly_blank(layer, one, rng)
            continue
        write(layer, turn, (one.x, one.y, one.w, one.h), one.role, rng)
        truth[key] = Truth.MARKED
    _runs(layer, cells, truth, turn, rng)
    return truth


def _nearly_blank(layer: Layer, one: OpenCell, rng: np.random.Generator) -> Truth:
    """Mostly nothing; now and then a dot where a pen rested, or an erased trace."""
    kind = rng.random()
    if kind > 0.05:
        return Truth.BLANK
    cell = one.x, one.y, one.w, one.h
    if kind < 0.025:
        who = Hand("dot", "A", 0.06, 0, rng.uniform(0.3, 0.5), rng.uniform(0.5, 1), 0.0, 0.2)
        write(layer, who, cell, "day", rng)
    else:
        who = Hand("tick", "A", 0.7, 0.2, rng.uniform(0.4, 0.9), rng.uniform(0.08, 0.16), 0.8, 0.1)
        write(layer, who, cell, "day", rng)
    return Truth.AMBIGUOUS


def _runs(
    layer: Layer,
    cells: Sequence[OpenCell],
    truth: dict[tuple[int, int], Truth],
    who: Hand,
    rng: np.random.Generator,
) -> None:
    """One stroke through several days of a row: those that held nothing are then in doubt."""
    for _ in range(rng.poisson(0.25) if cells else 0):
        start = cells[int(rng.integers(0, len(cells)))]
        length = int(rng.integers(2, 8))
        row = [
            one
            for one in cells
            if one.row == start.row
            and abs(one.y - start.y) < 0.1
            and start.x <= one.x
            and one.x < start.x + length * 6.9 - 3
            and one.role in ("day", "initials")
        ]
        if len(row) < 2:
            continue
        y = start.y + start.h * rng.uniform(0.3, 0.7)
        ends = [(row[0].x + 1.5, y), (row[-1].x + row[-1].w - 1.5, y + rng.normal(0, 0.6))]
        points = (np.array(ends) * layer.scale * 16).astype(np.int32).reshape(-1, 1, 2)
        line = np.zeros(layer.ink.shape, np.uint8)
        thick = max(1, round(who.width * layer.scale))
        cv2.polylines(line, [points], False, int(255 * who.black), thick, cv2.LINE_AA, 4)
        np.maximum(layer.ink, line.astype(np.float32) / 255, out=layer.ink)
        for one in row:
            if truth[one.row, one.slot] is Truth.BLANK:
                truth[one.row, one.slot] = Truth.AMBIGUOUS


def _lost(
    picture: Array,
    twin: Array,
    paper: tuple[float, float],
    cells: Sequence[OpenCell],
    truth: Mapping[tuple[int, int], Truth],
) -> Iterator[tuple[int, int]]:
    """Marks of which hardly any ink is left: the twin without writing looks the same there.

    Where a cell lies is told by the page's tags, and a millimetre round it is looked at too.
    """
    found = found_pages(picture)
    if len(found) != 1 or picture.shape != twin.shape:
        return
    (start, *_) = starts_of(found[0])
    flat, bare = (flat_picture(one, start, _SCALE) for one in (picture, twin))
    span = max(20.0, float(np.percentile(bare, 95)) - float(np.percentile(bare, 1)))
    ink = np.clip((bare.astype(np.float32) - flat.astype(np.float32)) / span, 0, 1)
    ink[ink < _SEEN] = 0
    left, top = ((full - size) / 2 for full, size in zip(paper, (259.0, 190.0), strict=True))
    for one in cells:
        x0, x1 = (one.x - left - _ROUND, one.x - left + one.w + _ROUND)
        y0, y1 = (one.y - top - _ROUND, one.y - top + one.h + _ROUND)
        columns = slice(max(0, round(pixels(x0, _SCALE))), round(pixels(x1, _SCALE)))
        rows = slice(max(0, round(pixels(y0, _SCALE))), round(pixels(y1, _SCALE)))
        is_mark = truth[one.row, one.slot] is Truth.MARKED
        if is_mark and ink[rows, columns].sum() / _SCALE**2 < _GONE:
            yield one.row, one.slot
