"""The generators of filled pages that the reader is trained and judged on say what they made."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import pytest

from tests.studies.chart_reading import first, second
from tests.studies.chart_reading.codes import tried
from tests.studies.chart_reading.filled import DAMAGES, Filled, Truth
from tests.studies.chart_reading.measured import picture_of
from tests.studies.chart_reading.unfilled import Unfilled, unfilled_pages

GENERATORS: dict[str, Callable[..., Filled]] = {"first": first.filled, "second": second.filled}


@lru_cache(maxsize=1)
def page() -> Unfilled:
    return next(one for one in unfilled_pages(3) if one.cells)


def made(generator: str, damage: str, seed: int = 1) -> Filled:
    one = page()
    return GENERATORS[generator](one.pdf, one.paper, one.cells, damage, seed)


@pytest.mark.parametrize("generator", GENERATORS)
def test_the_same_seed_makes_the_same_file_and_another_another(generator: str) -> None:
    assert made(generator, "fax fine") == made(generator, "fax fine")
    assert made(generator, "fax fine").file != made(generator, "fax fine", 2).file


@pytest.mark.parametrize("generator", GENERATORS)
@pytest.mark.parametrize("damage", ["scan 150", "fax standard", "phone hard"])
def test_each_open_cell_has_a_truth_and_the_file_is_a_picture(generator: str, damage: str) -> None:
    found = made(generator, damage)

    assert set(found.truth) == {(one.row, one.slot) for one in page().cells}
    assert set(found.truth.values()) <= set(Truth)
    assert picture_of(found.file).dtype == np.uint8
    assert damage in DAMAGES


def test_a_ruined_code_is_never_read_as_another() -> None:
    """`python -m tests.studies.chart_reading.codes 20000` does the same more often."""
    counts = tried(60)
    assert counts["as another"] == 0
    assert counts["right"] > 0
    assert counts["not read"] > 0
