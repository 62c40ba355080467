"""How do people write into the cells of a chart? As strokes in millimetres, and where they stay.

One hand has a favourite mark, a size, a slant, a pen. Letters and figures are those of the Hershey
fonts that OpenCV draws with, bent; ticks, crosses, dashes and scribbles are made of curves.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import cv2
import numpy as np

from tests.studies.chart_reading.filled import Array

__all__ = ["Hand", "Layer", "hand", "write"]

_MARKS = (
    *("tick", "tick", "tick", "cross", "initials", "initials", "reading", "u", "slash", "dash"),
    *("ring", "scribble", "dot", "wave"),
)
_FONTS = (
    cv2.FONT_HERSHEY_SIMPLEX,
    cv2.FONT_HERSHEY_SCRIPT_SIMPLEX,
    cv2.FONT_HERSHEY_SCRIPT_COMPLEX,
    cv2.FONT_HERSHEY_DUPLEX,
)


@dataclass(frozen=True, slots=True)
class Hand:
    """Somebody who fills cells."""

    mark: str
    initials: str
    size: float
    """Of a mark, as a share of the cell's smaller side."""
    slant: float
    width: float
    """Of the pen's line in mm."""
    black: float
    grain: float
    """0 an even line; 1 a pencil's or a failing ballpoint's."""
    careless: float
    """How far from the middle of the cell, as a share of its size."""


@dataclass(slots=True)
class Layer:
    """Ink on a page: how dark, pixel by pixel, at so many pixels a millimetre."""

    ink: Array
    scale: float


def hand(rng: np.random.Generator, pencil: bool = False) -> Hand:
    """Draw somebody at random."""
    black = rng.uniform(0.3, 0.75) if pencil else rng.choice([1.0, 0.9, 0.75, 0.6, 0.45])
    return Hand(
        mark=str(rng.choice(_MARKS)),
        initials="".join(rng.choice(list("ABCDEFGHIJKLMNOPRSTUVWZ"), rng.integers(1, 4))),
        size=rng.uniform(0.3, 1.15),
        slant=rng.uniform(-0.3, 0.5),
        width=rng.uniform(0.25, 0.6) if rng.random() < 0.85 else rng.uniform(0.6, 1.1),
        black=float(black) * rng.uniform(0.85, 1.0),
        grain=rng.uniform(0.4, 0.9) if pencil else rng.choice([0.0, 0.1, 0.3, 0.6]),
        careless=rng.uniform(0.02, 0.15),
    )


def write(
    layer: Layer,
    who: Hand,
    cell: tuple[float, float, float, float],
    role: str,
    rng: np.random.Generator,
) -> None:
    """Write a mark into a cell (x, y, w, h in mm of the page)."""
    x, y, w, h = cell
    kind = who.mark if rng.random() < 0.93 else str(rng.choice(_MARKS))
    if role == "initials":
        kind = "initials" if rng.random() < 0.97 else "dash"
    if role in ("box", "week", "dated") and rng.random() < 0.7:
        kind = "words" if rng.random() < 0.6 else "initials"
    side = min(w, h) * who.size * rng.uniform(0.8, 1.2)
    middle = np.array([x + w / 2, y + h / 2])
    middle += rng.normal(0, who.careless, 2) * [min(w, 8.0), h]
    if role in ("box", "week") and w > 10:
        middle[0] = rng.uniform(x + 3, x + w - 3)
    patch = _letters(who, kind, side, w, rng) if kind in _LETTERS else None
    if patch is not None:
        _paste(layer, patch, middle, who, rng)
        return
    _stroke(layer, _curves(kind, side, who, rng), middle, who, rng)


_LETTERS = ("initials", "reading", "u", "words")


def _text(who: Hand, kind: str, rng: np.random.Generator) -> str:
    if kind == "initials":
        return who.initials
    if kind == "u":
        return "U"
    if kind == "words":
        day = f"{rng.integers(1, 13)}/{rng.integers(1, 29)}"
        return str(rng.choice([f"{day} {who.initials}", f"{who.initials} ok", day, who.initials]))
    return str(rng.choice([f"{rng.uniform(2, 9):.1f}", f"{rng.integers(10, 99)}", "37.0", "4"]))


def _letters(who: Hand, kind: str, side: float, w: float, rng: np.random.Generator) -> Array:
    """Letters as strokes' darkness at 12 pixels a millimetre."""
    text, font = _text(who, kind, rng), int(rng.choice(_FONTS))
    high = max(1.4, min(side, 6.0)) * rng.uniform(0.55, 0.9)
    (wide, tall), base = cv2.getTextSize(text, font, 1.0, 1)
    scale = high * 12 / tall
    if wide * scale / 12 > w * 1.05:
        scale *= w * 1.05 / (wide * scale / 12)
    size = int(wide * scale) + 40, int((tall + base) * scale) + 40
    canvas = np.zeros((size[1], size[0]), np.uint8)
    thick = max(1, round(who.width * 12 * 0.9))
    at = 20, 20 + int(tall * scale)
    cv2.putText(canvas, text, at, font, scale, 255, thick, cv2.LINE_AA)
    bend = np.array([[1, -who.slant, who.slant * at[1]], [rng.normal(0, 0.06), 1, 0]])
    return cv2.warpAffine(canvas, bend, (size[0] + 20, size[1] + 10))


def _paste(layer: Layer, patch: Array, middle: Array, who: Hand, rng: np.random.Generator) -> None:
    zoom = layer.scale / 12
    small = cv2.resize(patch, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA)
    _darken(layer, small.astype(np.float32) / 255, middle * layer.scale, who, rng)


def _curves(kind: str, side: float, who: Hand, rng: np.random.Generator) -> list[Array]:
    """The lines of a mark round its middle, in mm."""

    def jitter(count: int) -> Array:
        return rng.normal(0, 0.07, (count, 2))

    if kind == "tick":
        points = np.array([[-0.45, 0.05], [-0.15, 0.42], [0.55, -0.5]]) + jitter(3)
        lines = [points]
    elif kind == "cross":
        lines = [
            np.array([[-0.4, -0.45], [0.4, 0.45]]) + jitter(2),
            np.array([[0.42, -0.4], [-0.42, 0.4]]) + jitter(2),
        ]
    elif kind == "slash":
        lines = [np.array([[-0.4, 0.5], [0.4, -0.5]]) + jitter(2)]
    elif kind == "dash":
        lines = [np.array([[-0.5, 0.05], [0.5, -0.05]]) + jitter(2)]
    elif kind == "dot":
        lines = [np.array([[0, 0], [0.05, 0.04], [-0.03, 0.05], [0.02, -0.02]])]
    elif kind == "ring":
        turn = np.linspace(0, rng.uniform(5.5, 7.5), 14)
        lines = [np.c_[np.cos(turn) * 0.4, np.sin(turn) * 0.45] + rng.normal(0, 0.02, (14, 2))]
    elif kind == "wave":
        along = np.linspace(-0.5, 0.5, 12)
        lines = [np.c_[along, np.sin(along * rng.uniform(8, 20)) * 0.25] + jitter(12) * 0.4]
    else:
        lines = [np.cumsum(rng.normal(0, 0.35, (10, 2)), axis=0)]
        lines[0] -= lines[0].mean(axis=0)
        lines[0] *= 0.5 / max(0.2, np.abs(lines[0]).max())
    slanted = np.array([[1, -who.slant * 0.5], [0, 1]])
    return [_smooth(one) @ slanted.T * side for one in lines]


def _smooth(points: Array) -> Array:
    """A curve through points, bent at none of them but a tick's."""
    at = np.linspace(0, len(points) - 1, 6 * len(points))
    base = np.arange(len(points))
    line = np.c_[np.interp(at, base, points[:, 0]), np.interp(at, base, points[:, 1])]
    kernel = np.array([0.25, 0.5, 0.25])
    for _ in range(2):
        line[1:-1] = np.array([np.convolve(c, kernel, "valid") for c in line.T]).T
    return np.asarray(line)


def _stroke(
    layer: Layer,
    curves: Sequence[Array],
    middle: Array,
    who: Hand,
    rng: np.random.Generator,
) -> None:
    reach = max(float(np.abs(one).max()) for one in curves) + who.width + 0.5
    size = int(2 * reach * layer.scale) + 3
    canvas = np.zeros((size, size), np.uint8)
    thick = max(1, round(who.width * layer.scale))
    pale = min(1.0, who.width * layer.scale / thick)
    if who.mark == "dot" and who.size > 0.1:
        # A dot that is meant is firm; where a pen rested it is not.
        thick = max(thick, round(rng.uniform(0.75, 1.4) * layer.scale))
    for one in curves:
        points = ((one + reach) * layer.scale * 16).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(canvas, [points], False, 255, thick, cv2.LINE_AA, 4)
    _darken(layer, canvas.astype(np.float32) * (pale / 255), middle * layer.scale, who, rng)


def _darken(layer: Layer, patch: Array, middle: Array, who: Hand, rng: np.random.Generator) -> None:
    """Put ink onto the page; grain takes some of it away again."""
    if who.grain:
        small = rng.random(((patch.shape[0] + 2) // 2, (patch.shape[1] + 2) // 2), np.float32)
        rough = cv2.resize(small, patch.shape[::-1], interpolation=cv2.INTER_LINEAR)
        patch = patch * np.clip(1.6 - who.grain * 1.8 * rough, 0.15, 1)
    patch = patch * (who.black * rng.uniform(0.85, 1.05))
    left, top = (middle - np.array(patch.shape[::-1]) / 2).astype(int)
    y0, x0 = max(0, top), max(0, left)
    y1, x1 = (
        min(layer.ink.shape[0], top + patch.shape[0]),
        min(layer.ink.shape[1], left + patch.shape[1]),
    )
    if y1 > y0 and x1 > x0:
        own = layer.ink[y0:y1, x0:x1]
        np.maximum(own, np.minimum(patch[y0 - top : y1 - top, x0 - left : x1 - left], 1), out=own)
