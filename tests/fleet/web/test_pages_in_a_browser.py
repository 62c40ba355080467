"""Is any page hard to use: by keyboard, on a phone, in forced colours, read aloud?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from tests.fleet.web.lab import make_lab
from tests.fleet.web.page_rows import PAGES, Row, Served, faults_of_row
from tests.fleet.web.served_lab import served_lab
from tests.web.chromium import a_browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = make_lab(tmp_path_factory.mktemp("lab"))
    with closing(made.program), served_lab(made) as address:
        yield Served(made, address, {})


@pytest.mark.parametrize("row", PAGES, ids=[f"{row.word}{row.path}" for row in PAGES])
def test_a_page_has_no_fault_in_any_mode(served: Served, a_browser: Chromium, row: Row) -> None:
    """axe-core with the tags of WCAG 2.2 A and AA, and the checks of tests/web."""
    found = faults_of_row(row, served, a_browser)
    assert not found, "\n".join(found)
