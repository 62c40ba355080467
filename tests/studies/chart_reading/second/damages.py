"""What happens to a page between the bench and here, done with Pillow's transforms and codecs?

A `Sheet` is an 8-bit picture and where the page's millimetres lie in it; curls and dropped lines,
which move things by a few millimetres at most, are not followed.
"""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random

import numpy as np
from PIL import Image, ImageChops, ImageDraw, ImageFilter, ImageOps

from tests.studies.chart_reading.filled import Array

__all__ = ["Sheet", "damaged", "encoded"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """A picture, and the 3 x 3 matrix from the page's mm to its pixels."""

    image: Image.Image
    place: Array


def damaged(sheet: Sheet, damage: str, seed: int) -> Sheet:
    """The same for the same seed, whatever is written."""
    random = Random(f"damage {seed}")
    return _DAMAGES[damage](_printed(sheet, random), random)


def encoded(sheet: Sheet, damage: str, seed: int) -> bytes:
    """The file that comes in."""
    random, out = Random(f"file {seed}"), io.BytesIO()
    if sheet.image.mode == "1":
        lines = 98 if damage == "fax standard" or sheet.image.height < 1300 else 196
        sheet.image.save(out, "TIFF", compression="group4", dpi=(204, lines))
    elif "phone" in damage:
        quality = random.randint(30, 55) if damage == "phone hard" else random.randint(60, 90)
        sheet.image.save(out, "JPEG", quality=quality)
    elif random.random() < 0.3:
        dpi = {"clean 300": 300, "scan 150": 150, "low contrast": 150}.get(damage, 200)
        sheet.image.save(out, "PDF", resolution=dpi, quality=80)
    elif random.random() < 0.5:
        sheet.image.save(out, "JPEG", quality=random.randint(55, 92))
    else:
        sheet.image.save(out, "PNG", compress_level=1)
    return out.getvalue()


def _mapped(sheet: Sheet, matrix: Array, size: tuple[int, int], fill: int = 255) -> Sheet:
    """Move by a 3 x 3 matrix from old pixels to new ones."""
    back = np.linalg.inv(matrix)
    back = back / back[2, 2]
    image = sheet.image.transform(
        size,
        Image.Transform.PERSPECTIVE,
        tuple(back.ravel()[:8]),
        Image.Resampling.BICUBIC,
        fillcolor=fill,
    )
    return Sheet(image, matrix @ sheet.place)


def _sized(sheet: Sheet, x: float, y: float) -> Sheet:
    size = max(1, round(sheet.image.width * x)), max(1, round(sheet.image.height * y))
    image = sheet.image.resize(size, Image.Resampling.LANCZOS if x > 0.9 else Image.Resampling.BOX)
    return Sheet(image, np.diag([x, y, 1.0]) @ sheet.place)


def _printed(sheet: Sheet, random: Random) -> Sheet:
    """A printer that fits to the page: 97 to 100 % about the middle."""
    share = random.choice((1.0, 1.0, random.uniform(0.97, 1.0)))
    wide, high = sheet.image.size
    matrix = np.array(
        [[share, 0, wide * (1 - share) / 2], [0, share, high * (1 - share) / 2], [0, 0, 1]]
    )
    return _mapped(sheet, matrix, sheet.image.size) if share < 1 else sheet


def _turned(sheet: Sheet, degrees: float, random: Random, lid: int) -> Sheet:
    wide, high = sheet.image.size
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    stretch = np.diag([1 + random.gauss(0, 0.0015), 1 + random.gauss(0, 0.0025), 1])
    grown = int(abs(s) * wide / 2) + random.randint(0, 40)
    turn = np.array([[c, -s, 0], [s, c, 0], [0, 0, 1]])
    there = np.array([[1, 0, wide / 2 + grown], [0, 1, high / 2 + grown], [0, 0, 1]])
    back = np.array([[1, 0, -wide / 2], [0, 1, -high / 2], [0, 0, 1]])
    matrix = there @ turn @ stretch @ back
    return _mapped(sheet, matrix, (wide + 2 * grown, high + 2 * grown), lid)


def _noise(image: Image.Image, size: float, random: Random) -> Image.Image:
    own = np.random.default_rng(random.getrandbits(32))
    coarse = own.normal(0, size, (image.height // 2 + 1, image.width // 2 + 1)).astype(np.float32)
    noise = coarse.repeat(2, 0).repeat(2, 1)[: image.height, : image.width]
    fine = own.normal(0, size, 65_536).astype(np.float32)
    fine = np.resize(fine, image.height * image.width).reshape(image.height, image.width)
    told = np.asarray(image, np.float32) + 0.5 * noise + fine
    return Image.fromarray(np.clip(told, 0, 255).astype(np.uint8))


def _curve(image: Image.Image, gain: float, lift: float) -> Image.Image:
    table = [min(255, max(0, round((v - 128) * gain + 128 + lift))) for v in range(256)]
    return image.point(table)


def _light(image: Image.Image, random: Random, darkest: float, cells: int = 3) -> Image.Image:
    small = Image.new("L", (cells, cells))
    small.putdata([int(255 * random.uniform(darkest, 1)) for _ in range(cells * cells)])
    return ImageChops.multiply(image, small.resize(image.size, Image.Resampling.BICUBIC))


def _dust(image: Image.Image, random: Random, count: int) -> Image.Image:
    draw = ImageDraw.Draw(image)
    for _ in range(count):
        x, y = random.uniform(0, image.width), random.uniform(0, image.height)
        r = random.expovariate(1.2) * image.width / 2500
        draw.ellipse((x - r, y - r, x + r, y + r), fill=random.randint(0, 190))
    return image


def _scanned(sheet: Sheet, random: Random, dpi: int, degrees: float | None = None) -> Sheet:
    image = sheet.image.filter(ImageFilter.GaussianBlur(random.uniform(0.4, 1.6)))
    lid = random.choice((255, 255, 250, 20))
    angle = random.gauss(0, 0.5) if degrees is None else degrees
    sheet = _turned(replace(sheet, image=image), angle, random, lid)
    sheet = _sized(sheet, dpi / 300, dpi / 300)
    image = _light(sheet.image, random, 0.93)
    image = _curve(image, random.uniform(0.85, 1.2), random.uniform(-18, 12))
    image = _noise(image, random.uniform(0.5, 7), random)
    return replace(sheet, image=_dust(image, random, random.randint(0, 50)))


def _faxed(sheet: Sheet, random: Random, lines: int) -> Sheet:
    image = sheet.image.filter(ImageFilter.GaussianBlur(random.uniform(0.5, 2)))
    sheet = _turned(replace(sheet, image=image), random.gauss(0, 0.6), random, 255)
    sheet = _sized(sheet, 204 / 300, lines / 300)
    grey = _light(sheet.image, random, 0.92)
    if random.random() < 0.12:
        bits = grey.convert("1")
    else:
        level = random.randint(125, 185)
        bits = grey.point([255 * (v > level) for v in range(256)]).convert("1")
    rows = np.asarray(bits).copy()
    for _ in range(random.choice((0, 0, 1, 2, 4))):
        at = random.randrange(30, len(rows) - 30)
        rows = np.delete(rows, at, 0) if random.random() < 0.5 else np.insert(rows, at, rows[at], 0)
    if random.random() < 0.3:
        own = np.random.default_rng(random.getrandbits(32))
        rows[own.random(rows.shape) < random.uniform(0.0001, 0.001)] = False
    return replace(sheet, image=Image.fromarray(rows))


def _photographed(sheet: Sheet, random: Random, hard: bool) -> Sheet:
    sheet = _sized(sheet, 0.75, 0.75)
    if hard or random.random() < 0.3:
        sheet = replace(sheet, image=_curled(sheet.image, random, 2.4 if hard else 1.0))
    wide, high = sheet.image.size
    margin = int(wide * random.uniform(0.03, 0.12))
    tilt = [random.uniform(-1, 1) * (0.16 if hard else 0.1) / wide for _ in range(2)]
    angle = np.radians(random.gauss(0, 4))
    c, s = np.cos(angle), np.sin(angle)
    middle = np.array([[1, 0, -wide / 2], [0, 1, -high / 2], [0, 0, 1]])
    turn = np.array([[c, -s, 0], [s, c, 0], [tilt[0], tilt[1], 1]])
    there = np.array([[1, 0, wide / 2 + margin], [0, 1, high / 2 + margin], [0, 0, 1]])
    size = wide + 2 * margin, high + 2 * margin
    sheet = _mapped(sheet, there @ turn @ middle, size, random.randint(15, 190))
    image = _light(sheet.image, random, 0.5 if hard else 0.68)
    if hard:
        shade = Image.new("L", image.size, 255)
        x, y = random.uniform(0, image.width), random.uniform(0, image.height)
        corners = [(x, 0), (image.width, y), (image.width, image.height), (y, image.height)]
        ImageDraw.Draw(shade).polygon(corners, fill=random.randint(130, 200))
        image = ImageChops.multiply(
            image, shade.filter(ImageFilter.GaussianBlur(random.uniform(8, 60)))
        )
    image = image.filter(ImageFilter.GaussianBlur(random.uniform(0.4, 1.3 if hard else 0.9)))
    return replace(sheet, image=_noise(image, random.uniform(1, 6 if hard else 4), random))


def _curled(image: Image.Image, random: Random, most: float) -> Image.Image:
    """Bent smoothly, by as many mm as told at most; cut into strips of their own transforms."""
    wide, high = image.size
    pixels = 225 / 25.4
    size = most * pixels
    phase, waves = random.uniform(0, 6.28), random.uniform(0.5, 1.4)
    step = max(8, wide // 60)

    def down(x: float) -> float:
        return float(size * np.sin(phase + waves * 2 * np.pi * x / wide))

    mesh = []
    for x in range(0, wide, step):
        to = min(wide, x + step)
        a, b = down(x), down(to)
        box = (x, 0, to, high)
        mesh.append((box, (x, a, x, high + a, to, high + b, to, b)))
    return image.transform(
        image.size, Image.Transform.MESH, mesh, Image.Resampling.BILINEAR, fillcolor=255
    )


def _copied(sheet: Sheet, random: Random) -> Sheet:
    for _ in range(random.choice((1, 2))):
        image = sheet.image.filter(ImageFilter.GaussianBlur(random.uniform(0.8, 1.6)))
        sheet = _turned(replace(sheet, image=image), random.gauss(0, 0.4), random, 255)
        image = _curve(sheet.image, random.uniform(1.4, 2.6), random.uniform(-25, 25))
        sheet = replace(sheet, image=_dust(image, random, random.randint(10, 120)))
    return sheet


def _spoiled(sheet: Sheet, random: Random) -> Sheet:
    image = sheet.image.copy()
    veil = Image.new("L", image.size, 255)
    draw = ImageDraw.Draw(veil)
    for _ in range(random.randint(1, 3)):
        x, y = random.uniform(0, image.width), random.uniform(0, image.height)
        r, tone = random.uniform(150, 500), random.randint(165, 235)
        if random.random() < 0.5:
            draw.ellipse((x - r, y - r, x + r, y + r), outline=tone, width=random.randint(10, 40))
        else:
            draw.ellipse((x - r, y - r * 0.7, x + r, y + r * 0.7), fill=tone)
    veil = veil.filter(ImageFilter.GaussianBlur(random.uniform(4, 20)))
    lines = ImageDraw.Draw(veil)
    ends: Sequence[tuple[float, float]]
    for _ in range(random.randint(1, 2)):
        at = random.uniform(0.25, 0.75)
        ends = ((0, at * image.height), (image.width, at * image.height + random.gauss(0, 20)))
        if random.random() < 0.5:
            ends = ((at * image.width, 0), (at * image.width + random.gauss(0, 20), image.height))
        lines.line(ends, fill=random.randint(130, 215), width=random.randint(2, 6))
    image = ImageChops.multiply(image, veil)
    if random.random() < 0.4:
        x, y = random.choice((60, image.width - 60)), random.uniform(0, image.height)
        ImageDraw.Draw(image).ellipse(
            (x - 36, y - 36, x + 36, y + 36), fill=random.choice((10, 250))
        )
    return replace(sheet, image=image)


def _pale(sheet: Sheet, random: Random) -> Sheet:
    paper, depth = random.randint(165, 230), random.uniform(0.28, 0.5)
    image = sheet.image.point([int(paper - (255 - v) * depth) for v in range(256)])
    sheet = _turned(replace(sheet, image=image), random.gauss(0, 0.5), random, paper)
    sheet = _sized(sheet, 0.5, 0.5)
    return replace(sheet, image=_noise(sheet.image, random.uniform(0.3, 2.5), random))


def _cut(sheet: Sheet, random: Random) -> Sheet:
    lost = int(random.uniform(8, 18) / 25.4 * 300)
    wide, high = sheet.image.size
    side = random.randrange(4)
    box = [
        (lost, 0, wide, high),
        (0, lost, wide, high),
        (0, 0, wide - lost, high),
        (0, 0, wide, high - lost),
    ][side]
    moved = np.array([[1, 0, -box[0]], [0, 1, -box[1]], [0, 0, 1]])
    return _scanned(Sheet(sheet.image.crop(box), moved @ sheet.place), random, 200)


def _over(sheet: Sheet, random: Random) -> Sheet:
    sheet = _scanned(sheet, random, 200)
    wide, high = sheet.image.size
    turn = np.array([[-1, 0, wide], [0, -1, high], [0, 0, 1]])
    return Sheet(ImageOps.mirror(ImageOps.flip(sheet.image)), turn @ sheet.place)


def _harsh(sheet: Sheet, random: Random) -> Sheet:
    sheet = _spoiled(sheet, random)
    sheet = _copied(sheet, random) if random.random() < 0.6 else sheet
    end = random.randrange(5)
    if end < 2:
        return _faxed(sheet, random, (98, 196)[end])
    if end == 2:
        return _photographed(sheet, random, True)
    return _scanned(sheet, random, 150, random.gauss(0, 3) if end == 3 else None)


def _skewed(sheet: Sheet, random: Random) -> Sheet:
    angle = random.uniform(2, 8) * random.choice((-1, 1))
    return _scanned(sheet, random, random.choice((150, 200)), angle)


_DAMAGES: dict[str, Callable[[Sheet, Random], Sheet]] = {
    "clean 300": lambda s, r: _scanned(s, r, 300),
    "scan 200": lambda s, r: _scanned(s, r, 200),
    "scan 150": lambda s, r: _scanned(s, r, 150),
    "skew": _skewed,
    "fax fine": lambda s, r: _faxed(s, r, 196),
    "fax standard": lambda s, r: _faxed(s, r, 98),
    "phone": lambda s, r: _photographed(s, r, False),
    "phone hard": lambda s, r: _photographed(s, r, True),
    "copy of a copy": lambda s, r: _scanned(_copied(s, r), r, 200),
    "stain and fold": lambda s, r: _scanned(_spoiled(s, r), r, 200),
    "low contrast": _pale,
    "upside down": _over,
    "side cut": _cut,
    "pencil": lambda s, r: _scanned(s, r, 200),
    "harsh": _harsh,
}
