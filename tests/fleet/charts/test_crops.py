"""Do crops show the cells that are meant, with a little round them, in one small picture?"""

from __future__ import annotations

import io
import json
import random

from PIL import Image, ImageDraw

from fleet.charts.crops import FLAT_MARGIN, FLAT_SCALE, MOST_BYTES, crop_of, strip_of, strip_picture
from fleet.charts.geometry import FORM_HEIGHT, FORM_WIDTH
from fleet.charts.places import places

GEOMETRY = json.dumps(
    {
        "box_rows": 1, "layout": "1", "months": 3, "row": 7.85,
        "rows": ["day", "week", "initials", "month", "dated"], "slots": 2,
    }
)  # fmt: skip
SIZE = (
    round((FORM_WIDTH + 2 * FLAT_MARGIN) * FLAT_SCALE),
    round((FORM_HEIGHT + 2 * FLAT_MARGIN) * FLAT_SCALE),
)


def page(**ink: int) -> tuple[Image.Image, ImageDraw.ImageDraw]:
    made = Image.new("L", SIZE, ink.get("paper", 255))
    return made, ImageDraw.Draw(made)


def jpeg(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90)
    return out.getvalue()


def test_a_crop_holds_its_cells_and_six_millimetres_round_them() -> None:
    crop = crop_of(GEOMETRY, 2026, 0, [10, 11, 12])
    first, last = crop.cells[0], crop.cells[-1]
    assert len(crop.cells) == 3
    assert (round(first.x - crop.part.x, 3), round(first.y - crop.part.y, 3)) == (6, 6)
    assert round(crop.part.x + crop.part.w - last.x - last.w, 3) == 6


def test_a_crop_at_the_edge_ends_where_the_flat_page_does() -> None:
    crop = crop_of(GEOMETRY, 2026, 0, [30])
    assert round(crop.part.x + crop.part.w, 3) <= FORM_WIDTH + FLAT_MARGIN


def test_the_picture_shows_the_ink_of_each_cell_within_its_frame() -> None:
    flat, pen = page()
    wanted = [(0, 10), (0, 45), (1, 7), (3, 1)]
    shades = [0, 60, 120, 180]
    for (row, slot), shade in zip(wanted, shades, strict=True):
        one = next(p for p in places(GEOMETRY, 2026) if (p.row, p.slot) == (row, slot))
        x, y = (one.x + FLAT_MARGIN) * FLAT_SCALE, (one.y + FLAT_MARGIN) * FLAT_SCALE
        pen.rectangle([x, y, x + one.w * FLAT_SCALE, y + one.h * FLAT_SCALE], fill=shade)
    crops = [crop_of(GEOMETRY, 2026, row, [slot]) for row, slot in wanted]
    strip = strip_of(crops)
    made = Image.open(io.BytesIO(strip_picture(jpeg(flat), crops))).convert("L")
    assert made.size == (strip.width, strip.height)
    for (frame,), shade in zip(strip.frames, shades, strict=True):
        middle = made.getpixel((int(frame.x + frame.w / 2), int(frame.y + frame.h / 2)))
        assert isinstance(middle, int)
        assert abs(middle - shade) < 12
        above = made.getpixel((int(frame.x + frame.w / 2), int(frame.y - 6)))
        assert isinstance(above, int)
        assert above > 240


def test_twelve_long_crops_of_a_dirty_page_are_one_small_picture() -> None:
    flat, pen = page(paper=235)
    chance = random.Random(3)
    for _ in range(40_000):
        x, y = chance.randrange(SIZE[0]), chance.randrange(SIZE[1])
        pen.point((x, y), fill=chance.randrange(60, 220))
    crops = [crop_of(GEOMETRY, 2026, 0, range(n * 8, n * 8 + 8)) for n in (0, 1, 2)] * 4
    assert len(strip_picture(jpeg(flat), crops)) <= MOST_BYTES
