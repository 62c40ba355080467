"""What happens to a filled page on its way back? Each damage is a function of a grey picture.

A picture is float32, height x width, 0 black to 1 white, at so many pixels a millimetre; what comes
out is uint8. The same generator of random numbers gives the same damage, whatever was written.
"""

from __future__ import annotations

from collections.abc import Callable
from io import BytesIO
from typing import Any

import cv2
import numpy as np
from PIL import Image

from tests.studies.chart_reading.filled import Array

__all__ = ["BASE_DPI", "damaged", "encoded"]

Rng = np.random.Generator
BASE_DPI = {
    "clean 300": 300,
    "phone": 240,
    "phone hard": 240,
    "fax fine": 240,
    "fax standard": 240,
    "harsh": 240,
}
"""At what resolution a page is written on before the damage; 200 where it is not told."""


def damaged(page: Array, damage: str, dpi: int, rng: Rng) -> Array:
    """The picture that comes back."""
    page = _printer(page, rng)
    return _DAMAGES[damage](page, dpi, rng)


def encoded(picture: Array, damage: str, rng: Rng) -> bytes:
    """The file it comes back in."""
    out = BytesIO()
    image = Image.fromarray(picture)
    if set(np.unique(picture[::37, ::37])) <= {0, 255} and rng.random() < 0.9:
        fine = damage != "fax standard"
        image.convert("1").save(out, "TIFF", compression="group4", dpi=(204, 196 if fine else 98))
    elif "phone" in damage or rng.random() < 0.5:
        quality = rng.integers(30, 56) if damage == "phone hard" else rng.integers(60, 91)
        image.save(out, "JPEG", quality=int(quality))
    else:
        image.save(out, "PNG", compress_level=1)
    return out.getvalue()


def _printer(page: Array, rng: Rng) -> Array:
    """Toner that is not quite black or thin, and paper that is not quite flat in tone."""
    if rng.random() < 0.3:
        page = 1 - (1 - page) * rng.uniform(0.75, 1)
    return _smooth_noise(page, rng, 0.02)


def _noise(shape: tuple[int, int], rng: Rng) -> Array:
    """Normal noise, quickly: rows of one large sheet, shifted."""
    sheet = rng.standard_normal((257, shape[1] + 64), np.float32)
    rows = [
        np.roll(sheet, int(rng.integers(0, sheet.shape[1])), 1) for _ in range(-(-shape[0] // 257))
    ]
    return np.concatenate(rows)[: shape[0], : shape[1]]


def _smooth_noise(page: Array, rng: Rng, size: float, cells: int = 24) -> Array:
    low = rng.standard_normal((cells, cells), np.float32) * size
    return np.asarray(page + cv2.resize(low, page.shape[::-1], interpolation=cv2.INTER_CUBIC))


def _blur(page: Array, sigma: float) -> Array:
    return cv2.GaussianBlur(page, (0, 0), sigma) if sigma > 0.2 else page


def _resized(page: Array, dpi: int, to: float, to_y: float | None = None) -> Array:
    return cv2.resize(
        page,
        None,
        fx=to / dpi,
        fy=(to_y or to) / dpi,
        interpolation=cv2.INTER_AREA if to <= dpi else cv2.INTER_LINEAR,
    )


def _final(page: Array) -> Array:
    return np.asarray(np.clip(page * 255, 0, 255), np.uint8)


def _placed(page: Array, angle: float, rng: Rng, border: float = 1.0) -> Array:
    """On the glass: turned a little, moved a little, stretched a little by the feeder."""
    high, wide = page.shape
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), angle, 1.0)
    turn[:, :2] = turn[:, :2] @ np.diag([rng.uniform(0.995, 1.005), rng.uniform(0.993, 1.007)])
    turn[:, 2] += rng.uniform(-0.008, 0.008, 2) * wide
    grow = int(abs(np.sin(np.radians(angle))) * wide * 0.5) + 8
    turn[:, 2] += grow
    size = wide + 2 * grow, high + 2 * grow
    return cv2.warpAffine(page, turn, size, flags=cv2.INTER_LINEAR, borderValue=border)


def _scan(page: Array, dpi: int, rng: Rng, to: int, angle: float | None = None) -> Array:
    page = _blur(page, rng.uniform(0.2, 0.9) * dpi / 200)
    border = rng.choice([1.0, 0.96, 0.1]) if rng.random() < 0.5 else 1.0
    page = _placed(page, rng.normal(0, 0.6) if angle is None else angle, rng, float(border))
    page = _resized(page, dpi, to)
    page = _shaded(page, rng, 0.06)
    gain, lift = rng.uniform(0.85, 1.25), rng.uniform(-0.08, 0.06)
    page = (page - 0.5) * gain + 0.5 + lift
    page = page + _noise(page.shape, rng) * rng.uniform(0.0, 0.04)
    return _specks(page, rng, int(rng.integers(0, 60)), to)


def _shaded(page: Array, rng: Rng, depth: float) -> Array:
    corners = 1 - rng.random((2, 2), np.float32) * depth
    return page * cv2.resize(corners, page.shape[::-1], interpolation=cv2.INTER_LINEAR)


def _specks(page: Array, rng: Rng, count: float, dpi: float) -> Array:
    high, wide = page.shape
    for _ in range(int(count)):
        at = int(rng.integers(0, wide)), int(rng.integers(0, high))
        radius = int(rng.exponential(0.12) * dpi / 25.4)
        cv2.circle(page, at, radius, float(rng.uniform(0, 0.8)), -1)
    return page


def _one_bit(page: Array, rng: Rng, low: float = 0.45, high: float = 0.72) -> Array:
    if rng.random() < 0.25:
        page = page + _noise(page.shape, rng) * rng.uniform(0.02, 0.12)
    level: Any = rng.uniform(low, high)
    if rng.random() < 0.5:
        light = cv2.resize(page, None, fx=0.05, fy=0.05, interpolation=cv2.INTER_AREA)
        light = cv2.dilate(light, np.ones((5, 5)))
        level = level * cv2.resize(light, page.shape[::-1], interpolation=cv2.INTER_LINEAR)
    return np.asarray((page > level) * 255, np.uint8)


def _fax(page: Array, dpi: int, rng: Rng, vertical: int) -> Array:
    page = _placed(_blur(page, rng.uniform(0.3, 1.3)), rng.normal(0, 0.7), rng)
    page = _shaded(_resized(page, dpi, 204, vertical), rng, 0.08)
    bits = _one_bit(page, rng)
    for _ in range(rng.poisson(1.5)):
        row = int(rng.integers(20, len(bits) - 20))
        kind = rng.random()
        if kind < 0.4:
            bits = np.delete(bits, row, axis=0)
        elif kind < 0.8:
            bits = np.insert(bits, row, bits[row], axis=0)
        else:
            start = int(rng.integers(0, bits.shape[1] // 2))
            bits[row, start : start + int(rng.integers(50, 800))] = rng.choice([0, 255])
    if rng.random() < 0.4:
        share = rng.exponential(0.0006)
        bits[rng.random(bits.shape, np.float32) < share] = 0
    if rng.random() < 0.15:
        column = int(rng.integers(0, bits.shape[1]))
        bits[:, column : column + int(rng.integers(1, 3))] = 0
    return bits


def _photo(page: Array, dpi: int, rng: Rng, hard: bool) -> Array:
    high, wide = page.shape
    if hard or rng.random() < 0.4:
        page = _curled(page, dpi, rng, rng.uniform(1, 3) if hard else rng.uniform(0, 1.2))
    tilt = 0.09 if hard else 0.06
    corners = np.array([[0, 0], [wide, 0], [wide, high], [0, high]], np.float32)
    inset = rng.uniform(0.0, tilt, (4, 2)) * [wide, high]
    signs = np.array([[1, 1], [-1, 1], [-1, -1], [1, -1]])
    margin = np.array([wide, high]) * rng.uniform(0.02, 0.08)
    to = (corners + signs * inset + margin).astype(np.float32)
    size = int(wide + 2 * margin[0]), int(high + 2 * margin[1])
    matrix = cv2.getPerspectiveTransform(corners, to)
    turn = cv2.getRotationMatrix2D((size[0] / 2, size[1] / 2), rng.normal(0, 3), 1.0)
    matrix = np.vstack([turn, [0, 0, 1]]) @ matrix
    desk = float(rng.uniform(0.05, 0.75))
    taken = cv2.warpPerspective(page, matrix, size, flags=cv2.INTER_LINEAR, borderValue=desk)
    pixels = rng.uniform(5.5, 9) if hard else rng.uniform(6.5, 10)
    taken = _resized(taken, dpi, pixels * 25.4)
    taken = _lit(taken, rng, hard)
    taken = _blur(taken, rng.uniform(0.3, 1.3 if hard else 1.0))
    taken = taken + _noise(taken.shape, rng) * rng.uniform(0.005, 0.04 if hard else 0.025)
    return _final(taken)


def _curled(page: Array, dpi: int, rng: Rng, most: float) -> Array:
    """Bent so that points move by up to so many mm."""
    high, wide = page.shape
    size = most * dpi / 25.4
    y, x = np.mgrid[0:40, 0:50].astype(np.float32) / [[[40]], [[50]]]
    waves = [
        size * np.sin(x * rng.uniform(1.5, 5) + y * rng.uniform(-2, 2) + rng.uniform(0, 6))
        for _ in range(2)
    ]
    shift = [
        cv2.resize(one.astype(np.float32), (wide, high), interpolation=cv2.INTER_CUBIC)
        for one in waves
    ]
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    return cv2.remap(page, x + shift[0] * 0.6, y + shift[1], cv2.INTER_LINEAR, borderValue=1.0)


def _lit(page: Array, rng: Rng, hard: bool) -> Array:
    low = rng.uniform(0.45 if hard else 0.65, 1.0, (3, 3)).astype(np.float32)
    page = page * cv2.resize(low, page.shape[::-1], interpolation=cv2.INTER_CUBIC)
    if hard and rng.random() < 0.7:
        high, wide = page.shape
        shade = np.ones((high // 8, wide // 8), np.float32)
        points = rng.uniform(0, 1, (4, 2)) * [wide // 8, high // 8]
        cv2.fillPoly(shade, [points.astype(np.int32)], float(rng.uniform(0.5, 0.8)))
        shade = cv2.GaussianBlur(shade, (0, 0), rng.uniform(1, 8))
        page = page * cv2.resize(shade, (wide, high), interpolation=cv2.INTER_LINEAR)
    return page


def _copied(page: Array, dpi: int, rng: Rng) -> Array:
    for _ in range(rng.integers(1, 3)):
        page = _placed(_blur(page, rng.uniform(0.5, 1.1)), rng.normal(0, 0.5), rng)
        gain, middle = rng.uniform(1.5, 4), rng.uniform(0.5, 0.75)
        page = np.clip(1 / (1 + np.exp(-(page - middle) * gain * 4)), 0, 1).astype(np.float32)
        page = _specks(page, rng, int(rng.integers(5, 150)), dpi)
    return page


def _stained(page: Array, dpi: int, rng: Rng) -> Array:
    high, wide = page.shape
    small = np.ones((high // 4, wide // 4), np.float32)
    for _ in range(rng.integers(1, 4)):
        at = int(rng.integers(0, wide // 4)), int(rng.integers(0, high // 4))
        axes = int(rng.integers(15, 120)), int(rng.integers(15, 120))
        depth = float(rng.uniform(0.55, 0.9))
        filled = -1 if rng.random() < 0.5 else int(rng.integers(2, 8))
        cv2.ellipse(small, at, axes, float(rng.uniform(0, 180)), 0, 360, depth, filled)
    small = cv2.GaussianBlur(small, (0, 0), rng.uniform(0.8, 5))
    page = page * cv2.resize(small, (wide, high), interpolation=cv2.INTER_LINEAR)
    for _ in range(rng.integers(1, 4)):
        _fold(page, dpi, rng)
    if rng.random() < 0.3:
        at = int(rng.integers(0, wide)), int(rng.integers(0, high))
        cv2.circle(page, at, int(3 * dpi / 25.4), float(rng.uniform(0, 0.5)), -1)
    return page


def _fold(page: Array, dpi: int, rng: Rng) -> None:
    high, wide = page.shape
    tone, thick = float(rng.uniform(0.5, 0.85)), max(1, int(rng.uniform(0.1, 0.5) * dpi / 25.4))
    crease = np.ones_like(page)
    if rng.random() < 0.5:
        at = int(rng.uniform(0.2, 0.8) * high)
        cv2.line(crease, (0, at), (wide, at + int(rng.normal(0, 0.01) * high)), tone, thick)
    else:
        at = int(rng.uniform(0.2, 0.8) * wide)
        cv2.line(crease, (at, 0), (at + int(rng.normal(0, 0.01) * wide), high), tone, thick)
    page *= crease
    if rng.random() < 0.5:
        half = page[:at] if rng.random() < 0.5 else page[at:]
        half *= rng.uniform(0.88, 1.0)


def _low(page: Array, dpi: int, rng: Rng) -> Array:
    page = rng.uniform(0.6, 0.9) - (1 - page) * rng.uniform(0.25, 0.5)
    page = _placed(_blur(page, rng.uniform(0.3, 0.9)), rng.normal(0, 0.6), rng, float(page.max()))
    page = _resized(page, dpi, 150)
    return page + _noise(page.shape, rng) * rng.uniform(0.0, 0.015)


def _cut(page: Array, dpi: int, rng: Rng) -> Array:
    lost = int(rng.uniform(8, 18) * dpi / 25.4)
    side = rng.integers(0, 4)
    keep = [page[lost:], page[:-lost], page[:, lost:], page[:, :-lost]][side]
    return _scan(np.ascontiguousarray(keep), dpi, rng, 200)


def _harsh(page: Array, dpi: int, rng: Rng) -> Array:
    if rng.random() < 0.8:
        page = _stained(page, dpi, rng)
    if rng.random() < 0.6:
        page = _copied(page, dpi, rng)
    end = rng.integers(0, 5)
    if end < 2:
        return _fax(page, dpi, rng, 196 if end else 98)
    if end == 2:
        return _photo(page, dpi, rng, True)
    return _final(_scan(page, dpi, rng, 150, rng.normal(0, 3) if end == 3 else None))


def _turned(page: Array, dpi: int, rng: Rng) -> Array:
    return np.ascontiguousarray(_scan(page, dpi, rng, 200)[::-1, ::-1])


def _skewed(page: Array, dpi: int, rng: Rng) -> Array:
    angle = rng.uniform(2, 8) * rng.choice([-1, 1])
    return _scan(page, dpi, rng, int(rng.choice([150, 200])), angle)


_DAMAGES: dict[str, Callable[[Array, int, Rng], Array]] = {
    "clean 300": lambda p, d, r: _final(_scan(p, d, r, 300)),
    "scan 200": lambda p, d, r: _final(_scan(p, d, r, 200)),
    "scan 150": lambda p, d, r: _final(_scan(p, d, r, 150)),
    "skew": lambda p, d, r: _final(_skewed(p, d, r)),
    "fax fine": lambda p, d, r: _fax(p, d, r, 196),
    "fax standard": lambda p, d, r: _fax(p, d, r, 98),
    "phone": lambda p, d, r: _photo(p, d, r, False),
    "phone hard": lambda p, d, r: _photo(p, d, r, True),
    "copy of a copy": lambda p, d, r: _final(_scan(_copied(p, d, r), d, r, 200)),
    "stain and fold": lambda p, d, r: _final(_scan(_stained(p, d, r), d, r, 200)),
    "low contrast": lambda p, d, r: _final(_low(p, d, r)),
    "upside down": lambda p, d, r: _final(_turned(p, d, r)),
    "side cut": lambda p, d, r: _final(_cut(p, d, r)),
    "pencil": lambda p, d, r: _final(_scan(p, d, r, 200)),
    "harsh": _harsh,
}
