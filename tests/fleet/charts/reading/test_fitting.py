"""A page is laid over its print's lines, and one that lies a row or a day off is not trusted."""

from __future__ import annotations

from dataclasses import replace

import cv2
import numpy as np
import pytest

from fleet.charts.geometry import DAY_WIDTH, read_geometry
from fleet.charts.reading.arrays import Grey
from fleet.charts.reading.fitting import SCALES, far_off, laid_on
from fleet.charts.reading.flat import Fit, flat_picture
from fleet.charts.reading.found import found_pages
from fleet.charts.reading.lines import drawn_page
from tests.fleet.charts.reading.sheets import Sheet, sheet


def curled(shown: Grey, pixels: float) -> Grey:
    """Bent in waves by so many pixels."""
    high, wide = shown.shape
    y, x = np.mgrid[0:high, 0:wide].astype(np.float32)
    wave = np.float32(pixels) * np.sin(x / wide * 5 + 1).astype(np.float32)
    return np.asarray(cv2.remap(shown, x, y + wave, cv2.INTER_LINEAR, borderValue=255))


def off_by(made: Sheet, x: float, y: float) -> float:
    """The share of large pieces that lie off, where the fit is wrong by so many mm."""
    (found,) = found_pages(made.shown)
    drawn = drawn_page(made.print, made.page, SCALES)
    fit = laid_on(made.shown, found, drawn)
    assert fit.share > 0.9
    wrong = replace(fit, shifts=(fit.shifts + np.array([x, y])).astype(np.float32))
    return far_off(made.shown, wrong, drawn[2.0])[1]


@pytest.mark.parametrize("is_filled", [True, False])
def test_a_page_that_lies_a_day_or_a_row_off_is_told_from_one_that_does_not(
    is_filled: bool,
) -> None:
    made = sheet(empty=() if is_filled else None)
    row = read_geometry(made.print.geometry).row

    assert off_by(made, 0, 0) < 0.15
    for x, y in ((DAY_WIDTH, 0), (-DAY_WIDTH, 0), (0, row), (0, -row)):
        assert off_by(made, x, y) > 0.3, (x, y)


def test_the_lines_of_curled_paper_are_followed() -> None:
    made = sheet(empty=())
    bent = curled(made.shown, 14)  # nearly 2 mm
    (found,) = found_pages(bent)
    fit = laid_on(bent, found, drawn_page(made.print, made.page, SCALES))

    flat = flat_picture(bent, fit.start, 4.0, fit.shifts)
    unbent = laid(made)
    straight = flat_picture(made.shown, unbent.start, 4.0, unbent.shifts)

    assert fit.share > 0.9
    apart = np.abs(flat.astype(int) - straight.astype(int))
    assert (apart > 100).mean() < 0.02


def laid(made: Sheet) -> Fit:
    (found,) = found_pages(made.shown)
    return laid_on(made.shown, found, drawn_page(made.print, made.page, SCALES))
