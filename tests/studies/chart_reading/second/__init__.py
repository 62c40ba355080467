"""A second generator of filled pages, which nothing is trained on.

It shares no code with the first: another way of drawing strokes, other damage, other codecs. It was
written by one who knew the first; a generator by a stranger would be better evidence still.
"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import numpy as np
import pypdfium2
from PIL import Image

from tests.studies.chart_reading.filled import Array, Filled, Truth
from tests.studies.chart_reading.second.damages import Sheet, damaged, encoded
from tests.studies.chart_reading.second.hands import Writer, letters, speck, stroke, writer
from tests.studies.chart_reading.unfilled import OpenCell

__all__ = ["filled"]

_PIXELS = 300 / 25.4
_COVERED = 0.125
"""A blank cell of which so much is under a neighbour's ink is in doubt."""
_INSIDE, _LEFT = 0.6, 0.12
"""So far inside its edges, in mm, a cell is looked at, and so much ink in mm2 of full black is the
least there that can be called a mark."""


def filled(
    pdf: bytes, paper: tuple[float, float], cells: Sequence[OpenCell], damage: str, seed: int
) -> Filled:
    """A filled page in the file it came in; the same for the same arguments."""
    random = Random(f"page {seed} {damage}")
    bare = _rendered(pdf)
    ink = np.zeros(bare.shape, np.float32)
    truth = _written(ink, cells, damage, random)
    place = np.diag([_PIXELS, _PIXELS, 1.0])
    page = np.clip(bare * (1 - ink), 0, 255).astype(np.uint8)
    came = damaged(Sheet(Image.fromarray(page), place), damage, seed)
    twin = damaged(Sheet(Image.fromarray(bare.astype(np.uint8)), place), damage, seed)
    lost = _lost(came, twin, cells, truth)
    return Filled(encoded(came, damage, seed), {**truth, **dict.fromkeys(lost, Truth.LOST)})


def _rendered(pdf: bytes) -> Array:
    document = pypdfium2.PdfDocument(pdf)
    try:
        shown = document[0].render(scale=300 / 72, grayscale=True).to_numpy()
    finally:
        document.close()
    return np.asarray(shown.reshape(shown.shape[:2]), np.float32)


def _put(ink: Array, patch: Array, x: float, y: float) -> None:
    """Lay a patch of darkness with its middle at a place in mm."""
    high, wide = patch.shape
    top, left = round(y * _PIXELS - high / 2), round(x * _PIXELS - wide / 2)
    y0, x0, y1, x1 = (
        max(0, top),
        max(0, left),
        min(ink.shape[0], top + high),
        min(ink.shape[1], left + wide),
    )
    if y1 > y0 and x1 > x0:
        own = ink[y0:y1, x0:x1]
        np.maximum(own, np.clip(patch[y0 - top : y1 - top, x0 - left : x1 - left], 0, 1), out=own)


def _written(
    ink: Array, cells: Sequence[OpenCell], damage: str, random: Random
) -> dict[tuple[int, int], Truth]:
    people = [writer(random, damage == "pencil") for _ in range(random.randint(3, 6))]
    rate = random.choice((0.005, 0.01, 0.02, 0.05, 0.1, 0.25))
    sort = random.random()
    rate = 0.0 if sort < 0.07 else 1.0 if sort > 0.95 else rate
    slots = sorted({one.slot for one in cells if one.role in ("day", "initials")})
    stop = (
        slots[int(len(slots) * random.uniform(0.2, 0.9))] if slots and 0.8 < sort < 0.95 else None
    )
    truth: dict[tuple[int, int], Truth] = {}
    blanks: list[OpenCell] = []
    for one in cells:
        own = people[(one.slot // 5 + one.row) % len(people)]
        ahead = stop is not None and one.role in ("day", "initials") and one.slot >= stop
        if ahead or random.random() < rate:
            blanks.append(one)
            continue
        _mark(ink, own, one, random)
        truth[one.row, one.slot] = Truth.MARKED
    for one in blanks:
        truth[one.row, one.slot] = _blank(ink, one, random)
    _run(ink, cells, people[0], truth, random)
    return truth


def _mark(ink: Array, who: Writer, one: OpenCell, random: Random) -> None:
    x, y = one.x + one.w / 2 + who.drift[0], one.y + one.h / 2 + who.drift[1]
    x, y = x + random.gauss(0, 0.35), y + random.gauss(0, 0.3)
    if one.role in ("box", "week", "dated") or one.w > 10:
        day = f"{random.randint(1, 12)}/{random.randint(1, 28)}"
        text = random.choice((f"{day} {who.name}", who.name, f"ok {who.name}", day))
        x = random.uniform(one.x + min(6, one.w / 2), one.x + max(one.w - 6, one.w / 2))
        _put(ink, letters(who, text, one.w * 0.9, _PIXELS, random), x, y)
        return
    habit = "name" if one.role == "initials" else who.habit
    if habit in ("name", "number"):
        number = random.choice((f"{random.uniform(2, 8):.1f}", "37.0", str(random.randint(3, 99))))
        text = who.name if habit == "name" else number
        _put(ink, letters(who, text, one.w * 0.95, _PIXELS, random), x, y)
    else:
        _put(ink, stroke(who, habit, _PIXELS, random), x, y)


def _blank(ink: Array, one: OpenCell, random: Random) -> Truth:
    rows = slice(round((one.y + 0.3) * _PIXELS), round((one.y + one.h - 0.3) * _PIXELS))
    columns = slice(round((one.x + 0.3) * _PIXELS), round((one.x + one.w - 0.3) * _PIXELS))
    if (ink[rows, columns] > 0.2).mean() > _COVERED:
        return Truth.AMBIGUOUS
    chance = random.random()
    x, y = one.x + one.w * random.uniform(0.25, 0.75), one.y + one.h * random.uniform(0.25, 0.75)
    if chance < 0.03:
        _put(ink, speck(random.uniform(0.3, 0.5), _PIXELS, random.uniform(0.6, 1)), x, y)
        return Truth.AMBIGUOUS
    if chance < 0.05:
        trace = writer(random, True)
        _put(ink, stroke(trace, "tick", _PIXELS, random) * random.uniform(0.18, 0.35), x, y)
        return Truth.AMBIGUOUS
    return Truth.BLANK


def _run(
    ink: Array,
    cells: Sequence[OpenCell],
    who: Writer,
    truth: dict[tuple[int, int], Truth],
    random: Random,
) -> None:
    """A line through several days, now and then."""
    days = [one for one in cells if one.role == "day"]
    if not days or random.random() > 0.2:
        return
    first = random.choice(days)
    row = [
        one
        for one in days
        if one.row == first.row and abs(one.y - first.y) < 0.1 and 0 <= one.x - first.x < 28
    ]
    if len(row) < 2:
        return
    y, end = first.y + first.h / 2, row[-1].x + row[-1].w - 1
    for x in np.arange(first.x + 1, end, 0.08):
        _put(ink, speck(2 * who.pen, _PIXELS, who.tone), float(x), y + 0.1 * float(np.sin(x / 3)))
    for one in row:
        if truth[one.row, one.slot] is Truth.BLANK:
            truth[one.row, one.slot] = Truth.AMBIGUOUS


def _lost(
    came: Sheet, twin: Sheet, cells: Sequence[OpenCell], truth: dict[tuple[int, int], Truth]
) -> list[tuple[int, int]]:
    """Marks of which nearly nothing differs from a page that nobody wrote on."""
    one_bit = came.image.mode == "1"
    shown, empty = (np.asarray(one.image.convert("L"), np.float32) for one in (came, twin))
    if shown.shape != empty.shape:
        return []
    span = (
        255.0 if one_bit else max(20.0, float(np.percentile(empty, 90) - np.percentile(empty, 1)))
    )
    ink = np.clip((empty - shown) / span, 0, 1)
    ink[ink < 0.08] = 0
    pixel = abs(float(np.linalg.det(came.place[:2, :2])))
    lost = []
    for one in cells:
        if truth[one.row, one.slot] is not Truth.MARKED:
            continue
        # Without the edges: printed lines that damage broke differ too, and so do neighbours.
        left, top = one.x + _INSIDE, one.y + _INSIDE
        right, bottom = one.x + one.w - _INSIDE, one.y + one.h - _INSIDE
        corners = np.array([(left, top, 1), (right, bottom, 1)]).T
        at = came.place @ corners
        x, y = np.sort(at[0] / at[2]), np.sort(at[1] / at[2])
        part = ink[max(0, int(y[0])) : int(y[1]) + 1, max(0, int(x[0])) : int(x[1]) + 1]
        if part.size and part.sum() / pixel < _LEFT:
            lost.append((one.row, one.slot))
    return lost
