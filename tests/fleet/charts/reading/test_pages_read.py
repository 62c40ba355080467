"""Pages that were filled with strokes and came back in many ways, read cell by cell."""

from __future__ import annotations

import io
from collections.abc import Callable

import cv2
import numpy as np
import pytest
from PIL import Image

from fleet.charts.geometry import CODE_CORNERS, MODULE, origin
from fleet.charts.reading import pages
from fleet.charts.reading.arrays import Grey
from fleet.domain.scans import Doubt, SheetRead, Verdict
from tests.fleet.charts.reading.sheets import (
    DPI,
    Sheet,
    blanks,
    line,
    read,
    sheet,
    tick,
    unsure,
)

EMPTY = {(0, 4), (0, 11), (0, 40), (1, 3), (2, 11), (2, 68)}
"""Rows and slots of the first page that are left empty: days, a week, initials."""


def one(shown: Grey, made: Sheet) -> SheetRead:
    (told,) = read(shown, made.print)
    assert told.problem == ""
    assert (told.number, told.page) == (made.print.number, made.page)
    return told


def turned(shown: Grey, degrees: float) -> Grey:
    high, wide = shown.shape
    turn = cv2.getRotationMatrix2D((wide / 2, high / 2), degrees, 0.93)
    return cv2.warpAffine(shown, turn, (wide, high), flags=cv2.INTER_AREA, borderValue=255)


def as_jpeg(shown: Grey, quality: int) -> Grey:
    out = io.BytesIO()
    Image.fromarray(shown).save(out, "JPEG", quality=quality)
    return np.ascontiguousarray(np.asarray(Image.open(out)))


def faxed(shown: Grey, lines: int) -> Grey:
    """ITU-T T.4: 204 dots an inch across, 98 or 196 lines an inch, black or white."""
    small = cv2.resize(shown, None, fx=204 / DPI, fy=lines / DPI, interpolation=cv2.INTER_AREA)
    return ((small > 150) * 255).astype(np.uint8)


def test_the_empty_cells_of_a_filled_page_are_found() -> None:
    made = sheet(empty=EMPTY)
    assert {(place.row, place.slot) for place in made.cells} >= EMPTY

    told = one(made.shown, made)

    assert blanks(told) == EMPTY
    assert not unsure(told)
    assert {(each.row, each.slot) for each in told.cells} == {
        (place.row, place.slot) for place in made.cells
    }


def test_of_a_page_nobody_wrote_on_every_open_cell_is_blank() -> None:
    for page in (1, 2, 3, 4):
        made = sheet(page)
        told = one(made.shown, made)
        assert {each.verdict for each in told.cells} == {Verdict.BLANK}


def test_of_a_page_without_an_empty_cell_none_is_blank() -> None:
    made = sheet(empty=())
    told = one(made.shown, made)
    assert {each.verdict for each in told.cells} == {Verdict.MARKED}


WAYS: dict[str, Callable[[Grey], Grey]] = {
    "upside down": lambda shown: np.ascontiguousarray(shown[::-1, ::-1]),
    "turned to the left": lambda shown: np.ascontiguousarray(np.rot90(shown)),
    "turned to the right": lambda shown: np.ascontiguousarray(np.rot90(shown, 3)),
    "five degrees askew": lambda shown: turned(shown, 5),
    "as a poor JPEG": lambda shown: as_jpeg(shown, 40),
    "a quarter larger": lambda shown: cv2.resize(shown, None, fx=1.25, fy=1.25),
    "a fifth smaller": lambda shown: cv2.resize(
        shown, None, fx=0.8, fy=0.8, interpolation=cv2.INTER_AREA
    ),
    "with a wide margin": lambda shown: cv2.copyMakeBorder(
        shown, 200, 90, 40, 310, cv2.BORDER_CONSTANT, value=255
    ),
    "on a black lid": lambda shown: cv2.copyMakeBorder(
        shown, 60, 60, 60, 60, cv2.BORDER_CONSTANT, value=12
    ),
    "dark": lambda shown: (shown * 0.55).astype(np.uint8),
    "as a fine fax": lambda shown: faxed(shown, 196),
    "as a standard fax": lambda shown: faxed(shown, 98),
}


@pytest.mark.parametrize("way", WAYS)
def test_however_a_page_comes_back_the_same_cells_are_empty(way: str) -> None:
    made = sheet(empty=EMPTY)
    told = one(WAYS[way](made.shown), made)

    assert blanks(told) <= EMPTY <= blanks(told) | unsure(told)
    assert len(unsure(told)) <= 2


def test_a_mark_that_moves_from_cell_to_cell_is_followed() -> None:
    made = sheet()
    open_days = [place for place in made.cells if place.row == 0][::6]
    for place in open_days:
        shown = made.shown.copy()
        tick(shown, place)
        told = one(shown, made)
        marked = {(c.row, c.slot) for c in told.cells if c.verdict is Verdict.MARKED}
        assert marked == {(place.row, place.slot)}


def test_one_line_through_a_run_of_days_is_a_question() -> None:
    made = sheet(empty=None)
    left, top = origin("letter")
    run = [place for place in made.cells if place.row == 0 and 10 <= place.slot <= 13]
    assert len(run) == 4
    y = run[0].y + top + run[0].h / 2
    ends = np.array([(run[0].x + left + 1, y), (run[-1].x + left + 6, y + 0.5)])
    line(made.shown, ends)

    told = one(made.shown, made)

    asked = {c.slot: c.doubt for c in told.cells if c.row == 0 and c.verdict is Verdict.UNCERTAIN}
    assert asked == dict.fromkeys((10, 11, 12, 13), Doubt.RUN)


def test_two_charts_in_one_photo_are_both_read() -> None:
    first, second = sheet(1, EMPTY), sheet(1, (), number="00AA11BB")
    both = np.vstack([first.shown, second.shown])

    told = read(both, first.print, second.print)

    assert [one.number for one in told] == [first.print.number, second.print.number]
    assert blanks(told[0]) == EMPTY
    assert blanks(told[1]) == set()


def test_a_page_cut_in_half_is_never_read_as_a_whole() -> None:
    made = sheet(empty=EMPTY)
    high, wide = made.shown.shape
    for cut in (
        made.shown[: high // 2],
        made.shown[high // 2 :],
        made.shown[:, : wide // 2],
        made.shown[:, wide // 2 :],
    ):
        (told,) = read(np.ascontiguousarray(cut), made.print)
        if not told.problem:
            seen = {(c.row, c.slot) for c in told.cells if c.verdict is not Verdict.UNCERTAIN}
            assert len(seen) < 0.7 * len(made.cells)
            assert blanks(told) <= EMPTY


def test_cells_that_are_outside_the_picture_are_asked_about() -> None:
    made = sheet(empty=EMPTY)
    kept = made.shown[:, : int(1700 * DPI / 200)]
    told = one(np.ascontiguousarray(kept), made)

    beyond = {(c.row, c.slot) for c in told.cells if c.doubt is Doubt.OUTSIDE}
    assert beyond
    assert blanks(told) <= EMPTY


def covered(made: Sheet, codes: int) -> Grey:
    shown = made.shown.copy()
    left, top = origin("letter")
    for x, y in CODE_CORNERS[:codes]:
        at = [int(v * DPI / 25.4) for v in (y + top, y + top + 21 * MODULE, x + left)]
        shown[at[0] : at[1], at[2] : at[2] + int(21 * MODULE * DPI / 25.4)] = 225
    return shown


def test_one_covered_code_is_enough_and_two_are_not() -> None:
    made = sheet(empty=EMPTY)

    assert blanks(one(covered(made, 1), made)) == EMPTY
    (told,) = read(covered(made, 2), made.print)
    assert told.problem == pages.NO_CODE
    assert told.cells == ()
    assert told.flat


def test_the_chart_of_an_unknown_unit_is_named_by_its_number() -> None:
    (told,) = read(sheet(empty=()).shown)

    assert told.problem == "no chart with the number 4K7Q09ZX was printed from this database"
    assert told.cells == ()


def test_a_code_of_another_page_pasted_on_is_refused() -> None:
    made, other = sheet(1, ()), sheet(2, ())
    shown = made.shown.copy()
    left, top = origin("letter")
    low = int((top + 21) * DPI / 25.4)
    span = int((left + 13) * DPI / 25.4), int((left + 245) * DPI / 25.4)
    shown[:low, span[0] : span[1]] = other.shown[:low, span[0] : span[1]]

    (told,) = read(shown, made.print)

    assert (
        told.problem == "the codes say page 2, the corners page 1: scan the page again, by itself"
    )


def test_a_holiday_greeting_is_no_chart() -> None:
    card = np.full((1400, 1000), 250, np.uint8)
    for turn in range(40):
        cv2.circle(card, (25 * turn, 300 + 13 * turn % 700), 30 + turn, 60, 3)
    cv2.putText(card, "Happy holidays", (100, 700), cv2.FONT_HERSHEY_SCRIPT_COMPLEX, 3, 20, 4)

    (told,) = read(card)

    assert told.problem == pages.NO_CHART


def test_a_photo_from_which_the_corners_are_missing_says_which_chart_it_is() -> None:
    made = sheet(empty=())
    shown = made.shown.copy()
    shown[:, : int(19.5 * DPI / 25.4)] = 255
    shown[:, -int(19.5 * DPI / 25.4) :] = 255

    (told,) = read(shown, made.print)

    assert told.problem == pages.NO_CORNERS.format(number="4K7Q09ZX", page=1)


@pytest.mark.parametrize("shape", [(1, 1), (3, 900), (40, 40), (600, 2)])
def test_a_picture_of_hardly_any_size_is_no_chart(shape: tuple[int, int]) -> None:
    (told,) = read(np.full(shape, 255, np.uint8))
    assert told.problem == pages.NO_CHART


def test_noise_is_no_chart() -> None:
    noise = np.random.default_rng(3).integers(0, 256, (900, 1200), np.uint8)
    (told,) = read(noise)
    assert told.problem == pages.NO_CHART
