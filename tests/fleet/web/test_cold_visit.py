"""What does a first visit cost: 30 kB and four requests at most, whatever the page?"""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import Lab, make_lab
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.web.budget import cold
from tests.web.chromium import a_browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def a_lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, str]]:
    made = make_lab(tmp_path_factory.mktemp("lab"))
    with closing(made.program), served_lab(made) as address:
        yield made, address


@pytest.mark.parametrize(
    ("role", "path"),
    [
        (Role.BENCH, "/bench/alder"),
        (Role.SITE_LEAD, "/sites/alder"),
        (Role.CONSULTANT, "/region"),
        (Role.CONSULTANT, "/units/A-1"),
        (Role.CONSULTANT, "/units/A-1/charts/2026"),
        (Role.MANAGER, "/program"),
    ],
)
def test_a_first_visit_stays_within_its_budget(
    a_lab: tuple[Lab, str], a_browser: Browser, role: Role, path: str
) -> None:
    """Bytes and requests; times vary too much on a machine that does other things."""
    lab, address = a_lab
    browser = lab.at_bench() if role is Role.BENCH else lab.as_role(role)
    visit = cold(f"{address}{path}", a_browser, cookies=cookies_of(browser))
    assert visit.requests <= 4
    assert visit.bytes_received <= 30_000
    assert len(browser.page(path)) <= 60_000


def test_a_page_is_squeezed_and_the_style_sheet_kept_for_a_year(a_lab: tuple[Lab, str]) -> None:
    lab, _ = a_lab
    lead = lab.as_role(Role.SITE_LEAD)
    answer = lead.get("/sites/alder", headers={"Accept-Encoding": "gzip"})
    assert answer.headers["Content-Encoding"] == "gzip"
    text = gzip.decompress(answer.data).decode()
    sheet = text.split('rel="stylesheet" href="')[1].split('"')[0]
    kept = lead.get(sheet)
    assert kept.headers["Cache-Control"] == "public, max-age=31536000, immutable"
    assert lead.get(sheet.replace("page.", "page.0")).status_code == 404
    assert len(gzip.compress(kept.data)) < 4_500
