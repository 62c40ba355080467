"""Printed pages as another's eyes see them: OpenCV's for the tags, ZXing's for the codes."""

from __future__ import annotations

from functools import cache

import cv2
import numpy as np
import pytest
import zxingcpp

from fleet.charts.codes import code_text, read_code
from fleet.charts.geometry import CODE_CORNERS, MODULE, MODULES, STROKES, geometry_of, origin
from fleet.charts.pdf import chart_pdf
from fleet.charts.places import Place, places
from fleet.charts.tags import tag_id
from fleet.services.charts.facts import Face
from tests.fleet.charts import charts_made as made
from tests.fleet.charts.pictures_of import (
    FORM_HEIGHT,
    FORM_WIDTH,
    MARGIN,
    PIXELS,
    Picture,
    flattened,
    line_near,
    picture,
    tags_of,
)

A4_AT_200 = (1654, 2339)
NUMBER = "4K7Q09ZX"


@cache
def pdf_of(name: str, paper: str) -> bytes:
    return chart_pdf(
        [made.printed(getattr(made, name)(), NUMBER, paper=paper)], paper, made.MADE_AT
    )


def codes_of(shown: Picture) -> list[str]:
    found = zxingcpp.read_barcodes(shown)
    return [one.text for one in found]


def shrunk_and_turned(shown: Picture) -> Picture:
    """As a printer that fits a Letter page on A4 makes it, laid upside down on the scanner."""
    small = cv2.resize(shown, None, fx=0.94, fy=0.94, interpolation=cv2.INTER_AREA)
    paper = np.full(A4_AT_200, 255, np.uint8)
    paper[31 : 31 + small.shape[0], 57 : 57 + small.shape[1]] = small
    return np.ascontiguousarray(paper[::-1, ::-1])


def misfits(flat: Picture, cells: list[Place]) -> list[float]:
    """How far lines lie from where the cells' left and upper edges should, in mm."""
    found = []
    for one in cells:
        # In the head the lower edge of one box is 0.6 mm above the next.
        reach = 1.0 if one.month else 0.4
        found.append(line_near(flat, one.x, one.y + one.h / 2, upright=True, reach=reach))
        found.append(line_near(flat, one.x + one.w / 2, one.y, upright=False, reach=reach))
    return [abs(one) for one in found]


def sampled(name: str, page: int) -> list[Place]:
    """Every seventh cell of a page, and the boxes of its head."""
    geometry = geometry_of(getattr(made, name)())
    own = [one for one in places(geometry, made.YEAR) if one.page == page]
    return own[::7] + [one for one in own if not one.month]


@pytest.mark.parametrize("paper", ["letter", "a4"])
@pytest.mark.parametrize("dpi", [100, 200])
def test_tags_and_codes_of_every_quarter_are_found(paper: str, dpi: int) -> None:
    pdf = pdf_of("microscope", paper)

    for page in range(1, 5):
        shown = picture(pdf, page, dpi)
        assert set(tags_of(shown)) == {tag_id(page, corner) for corner in range(4)}
        assert codes_of(shown) == [code_text("1", NUMBER, page)] * 2


def test_tags_of_a_page_of_twelve_tell_which_page_it_is() -> None:
    pdf = pdf_of("twenty_tasks", "letter")

    for page in (1, 7, 12):
        shown = picture(pdf, page, 100)
        assert set(tags_of(shown)) == {tag_id(page, corner) for corner in range(4)}
        told = {read_code(code) for code in codes_of(shown)}
        assert [one and one.page for one in told] == [page]


@pytest.mark.parametrize(
    ("name", "paper", "page", "dpi"),
    [
        ("microscope", "letter", 1, 100),
        ("microscope", "a4", 4, 200),
        ("refrigerator", "letter", 2, 200),
        ("twenty_tasks", "a4", 6, 200),
        ("data_logger", "letter", 1, 100),
    ],
)
def test_lines_lie_where_the_tags_and_the_geometry_say(
    name: str, paper: str, page: int, dpi: int
) -> None:
    flat = flattened(picture(pdf_of(name, paper), page, dpi))

    assert max(misfits(flat, sampled(name, page))) < 0.3


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_box_is_printed_in_the_middle_of_the_paper(paper: str) -> None:
    tags = tags_of(picture(pdf_of("microscope", paper), 1, 200))
    left, top = tags[tag_id(1, 0)][0] / 200 * 25.4
    right, bottom = tags[tag_id(1, 2)][2] / 200 * 25.4
    x, y = origin(paper)

    assert (left, top) == pytest.approx((x, y), abs=0.2)
    assert (right, bottom) == pytest.approx((x + FORM_WIDTH, y + FORM_HEIGHT), abs=0.2)


def test_a_shrunk_page_upside_down_on_a4_reads_the_same() -> None:
    shown = shrunk_and_turned(picture(pdf_of("microscope", "letter"), 2, 200))
    flat = flattened(shown)

    assert set(tags_of(shown)) == {tag_id(2, corner) for corner in range(4)}
    assert codes_of(shown) == [code_text("1", NUMBER, 2)] * 2
    assert max(misfits(flat, sampled("microscope", 2))) < 0.3


def test_each_code_alone_is_read_from_where_the_geometry_says() -> None:
    flat = flattened(picture(pdf_of("microscope", "letter"), 3, 200))
    side = MODULES * MODULE

    for x, y in CODE_CORNERS:
        left, top = (int((n - 1.5 + MARGIN) * PIXELS) for n in (x, y))
        size = int((side + 3) * PIXELS)
        assert codes_of(flat[top : top + size, left : left + size]) == [code_text("1", NUMBER, 3)]


def test_open_cells_have_no_ink_and_crossed_ones_have() -> None:
    flat = flattened(picture(pdf_of("microscope", "letter"), 1, 200))
    chart = made.microscope()

    for one in places(geometry_of(chart), made.YEAR):
        if one.page != 1 or not one.month:
            continue
        left, top = ((n + 0.6 + MARGIN) * PIXELS for n in (one.x, one.y))
        width, height = ((n - 1.2) * PIXELS for n in (one.w, one.h))
        inner = flat[int(top) : int(top + height), int(left) : int(left + width)]
        is_open = chart.rows[one.row].faces[one.slot].sign == "."
        assert (inner.min() > 200) == is_open, one


def test_strokes_of_the_copy_test_lie_where_the_geometry_says() -> None:
    flat = flattened(picture(pdf_of("microscope", "letter"), 1, 300))
    black = [one for one in STROKES if one.black == 1.0]

    assert len(black) == 2
    for one in black:
        away = line_near(flat, one.x, one.y + one.height / 2, upright=True, reach=0.7)
        assert abs(away) < 0.15


def test_a_cell_that_no_version_asks_for_is_struck_through() -> None:
    faces = [Face(".X"[turn % 2]) for turn in range(365)]
    chart = made.year_chart([made.day_row("Wipe", faces)])
    pdf = chart_pdf([made.printed(chart)], "letter", made.MADE_AT)
    flat = flattened(picture(pdf, 1, 200))

    for one in places(geometry_of(chart), made.YEAR):
        if one.page == 1 and one.month:
            ink = [inks(flat, one, share) for share in (0.12, 0.88)]
            assert ink == [one.slot % 2 == 1] * 2, one


def inks(flat: Picture, one: Place, share: float) -> bool:
    """Whether there is ink so far along the stroke from a cell's lower left to its upper right, a
    millimetre inside it.
    """
    x = one.x + 1 + share * (one.w - 2)
    y = one.y + one.h - 1 - share * (one.h - 2)
    column, row = (round((n + MARGIN) * PIXELS) for n in (x, y))
    return bool(flat[row - 4 : row + 5, column - 4 : column + 5].min() < 160)
