"""How does writing look that is drawn dot by dot along curves, or bent out of a printed letter?"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise
from pathlib import Path
from random import Random

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageFont

import fleet.files
from tests.studies.chart_reading.filled import Array

__all__ = ["Writer", "letters", "speck", "stroke", "writer"]

_FINE = 4
"""Everything is drawn so many times larger and made smaller again."""
_FONTS = Path(fleet.files.__file__).parent / "fonts"
_HABITS = ("tick", "tick", "ex", "name", "name", "number", "u", "bar", "slope", "blob", "scrawl")


@dataclass(frozen=True, slots=True)
class Writer:
    """One person with a pen."""

    habit: str
    name: str
    tall: float
    """Of what is written, in mm."""
    lean: float
    pen: float
    """Half the width of the line in mm."""
    tone: float
    """How black: 1 is as black as toner."""
    skips: float
    """How much of the line the pen leaves out."""
    drift: tuple[float, float]
    """Where the middle usually lies beside the cell's, in mm."""
    shaky: float


def writer(random: Random, pencil: bool) -> Writer:
    """Draw one."""
    pen = random.choice(("ball", "ball", "ball", "gel", "felt")) if not pencil else "pencil"
    half = {"ball": (0.13, 0.22), "gel": (0.18, 0.3), "felt": (0.3, 0.55), "pencil": (0.15, 0.3)}
    tone = {"ball": (0.55, 0.95), "gel": (0.75, 1), "felt": (0.8, 1), "pencil": (0.3, 0.7)}
    return Writer(
        habit=random.choice(_HABITS),
        name="".join(random.sample("ABCDEFGHJKLMNPRSTVW", random.choice((1, 2, 2, 2, 3)))),
        tall=random.uniform(2.2, 4.6),
        lean=random.gauss(0.15, 0.15),
        pen=random.uniform(*half[pen]),
        tone=random.uniform(*tone[pen]),
        skips=random.uniform(0.15, 0.4) if pen == "pencil" else random.choice((0, 0, 0.1, 0.25)),
        drift=(random.gauss(0, 0.4), random.gauss(0, 0.35)),
        shaky=random.uniform(0.02, 0.09),
    )


_Points = list[tuple[float, float]]


def _bezier(points: _Points, count: int = 40) -> _Points:
    """A curve by de Casteljau's rule."""
    found = []
    for turn in range(count):
        t = turn / (count - 1)
        left = points
        while len(left) > 1:
            left = [(a[0] + (b[0] - a[0]) * t, a[1] + (b[1] - a[1]) * t) for a, b in pairwise(left)]
        found.append(left[0])
    return found


def _shapes(habit: str, random: Random) -> list[_Points]:
    """Curves of a mark that is 1 high."""

    def at(x: float, y: float) -> tuple[float, float]:
        return x + random.gauss(0, 0.05), y + random.gauss(0, 0.05)

    if habit == "tick":
        return [
            _bezier([at(-0.4, 0.05), at(-0.25, 0.3), at(-0.12, 0.45)], 20)
            + _bezier([at(-0.12, 0.45), at(0.05, 0.05), at(0.55, -0.5)])
        ]
    if habit == "ex":
        return [
            _bezier([at(-0.4, -0.45), at(0, 0.05), at(0.4, 0.45)]),
            _bezier([at(0.4, -0.45), at(0, 0.0), at(-0.42, 0.42)]),
        ]
    if habit == "u":
        return [_bezier([at(-0.35, -0.5), at(-0.4, 0.7), at(0.35, 0.75), at(0.35, -0.5)])]
    if habit == "bar":
        return [_bezier([at(-0.5, 0), at(0, -0.08), at(0.5, 0)])]
    if habit == "slope":
        return [_bezier([at(-0.35, 0.5), at(0, 0.05), at(0.35, -0.5)])]
    if habit == "blob":
        turns = [(0.13 * math.cos(a * 0.7), 0.13 * math.sin(a * 0.7)) for a in range(30)]
        return [turns]
    ends = [at(random.uniform(-0.5, 0.5), random.uniform(-0.45, 0.45)) for _ in range(7)]
    return [_bezier(ends[:4]) + _bezier(ends[3:])]


def stroke(who: Writer, habit: str, pixels: float, random: Random) -> Array:
    """A mark as darkness 0 to 1 at so many pixels a mm; its middle is that of the array."""
    scale, tall = pixels * _FINE, who.tall * random.uniform(0.85, 1.15)
    side = int((tall * 1.7 + 4 * who.pen + 1) * scale)
    image = Image.new("L", (side, side), 0)
    draw = ImageDraw.Draw(image)
    half = who.pen * (1.6 if habit == "blob" else 1)
    for curve in _shapes(habit, random):
        press = random.uniform(0.75, 1.1)
        for turn, (x, y) in enumerate(curve):
            swell = press * (0.75 + 0.35 * math.sin(math.pi * turn / len(curve)))
            if habit != "blob" and random.random() < who.skips:
                continue
            px = side / 2 + (x - who.lean * y) * tall * scale + random.gauss(0, who.shaky * scale)
            py = side / 2 + y * tall * scale + random.gauss(0, who.shaky * scale)
            r = half * swell * scale
            draw.ellipse((px - r, py - r, px + r, py + r), fill=255)
    return _reduced(image, who, random)


@lru_cache(maxsize=64)
def _font(size: int, bold: bool) -> ImageFont.FreeTypeFont:
    (path,) = sorted(_FONTS.glob("*-Bold.ttf" if bold else "*Condensed.ttf"))[:1]
    return ImageFont.truetype(path, size)


def letters(who: Writer, text: str, most: float, pixels: float, random: Random) -> Array:
    """Letters, thinned or thick, bent and joined; at most so many mm wide."""
    scale = pixels * _FINE
    font = _font(max(8, int(who.tall * 0.8 * scale)), who.pen > 0.25)
    left, top, right, bottom = (int(v) for v in font.getbbox(text))
    image = Image.new("L", (right - left + 60, bottom - top + 60), 0)
    ImageDraw.Draw(image).text((30 - left, 30 - top), text, font=font, fill=255)
    if (right - left) / scale > most:
        shrink = most * scale / (right - left)
        image = image.resize(
            (max(8, int(image.width * shrink)), max(8, int(image.height * shrink)))
        )
    bend = random.gauss(0, 0.05)
    slanted = image.transform(
        image.size, Image.Transform.AFFINE, (1, who.lean, -who.lean * image.height / 2, bend, 1, 0)
    )
    if who.pen < 0.17:
        slanted = slanted.filter(ImageFilter.MinFilter(3))
    return _reduced(slanted, who, random)


def speck(wide: float, pixels: float, tone: float) -> Array:
    """A round dot of a width in mm."""
    side = int((wide + 0.6) * pixels * _FINE)
    image = Image.new("L", (side, side), 0)
    r = wide * pixels * _FINE / 2
    ImageDraw.Draw(image).ellipse(
        (side / 2 - r, side / 2 - r, side / 2 + r, side / 2 + r), fill=255
    )
    small = image.resize((max(1, side // _FINE), max(1, side // _FINE)), Image.Resampling.BOX)
    return np.asarray(small, np.float32) / 255 * tone


def _reduced(image: Image.Image, who: Writer, random: Random) -> Array:
    size = max(1, image.width // _FINE), max(1, image.height // _FINE)
    small = np.asarray(image.resize(size, Image.Resampling.BOX), np.float32) / 255
    if who.skips > 0.12:
        grain = np.random.default_rng(random.getrandbits(32)).random(small.shape, np.float32)
        small = small * np.clip(1.3 - who.skips * 2 * grain, 0.2, 1)
    return np.asarray(small * who.tone * random.uniform(0.9, 1.05), np.float32)
