"""Is any page hard to use: by keyboard, on a phone, in forced colours, read aloud?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import Browser, Lab, make_lab
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.web.chromium import a_browser
from tests.web.page_checks import everything

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser

LONG = "A very long name of a laboratory that nobody would give but somebody has " * 2


@pytest.fixture(scope="module")
def a_lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, str]]:
    made = make_lab(tmp_path_factory.mktemp("lab"))
    with closing(made.program), served_lab(made) as address:
        yield made, address


def as_word(lab: Lab, word: str) -> Browser:
    if word == "nobody":
        return lab.browser()
    return lab.at_bench() if word == "bench" else lab.as_role(Role(word))


_NOWHERE = "/no-such-page"
PAGES = (
    ("nobody", "/sign-in"),
    ("nobody", "/bench/enrol"),
    ("nobody", _NOWHERE),
    ("site lead", "/account"),
    ("site lead", "/account/second-factor"),
    ("bench", "/bench/alder"),
    ("bench", "/bench/alder/units/A-1/broken"),
    ("site lead", "/sites/alder"),
    ("manager", "/sites/birch"),
    ("consultant", "/region"),
    ("manager", "/region?region=South"),
    ("consultant", "/sites/alder/months/2026-02"),
    ("manager", "/people"),
    ("manager", "/program"),
    ("manager", "/program/plans/new"),
    ("consultant", "/links"),
    ("consultant", "/people?find=nobody"),
    ("manager", "/setup"),
    ("consultant", "/setup/sites"),
    ("manager", "/setup/sites/alder"),
    ("consultant", "/setup/sites/alder/holidays/2026"),
    ("manager", "/setup/new-site"),
    ("consultant", "/setup/units"),
    ("manager", "/setup/people/lead@alder.example"),
    ("manager", "/setup/new-person"),
    ("consultant", "/setup/book"),
    ("consultant", "/setup/book/microscope"),
    ("manager", "/setup/import"),
    ("consultant", "/setup/outbox"),
    ("manager", "/setup/access"),
    ("consultant", "/units/A-1"),
    ("consultant", "/units/A-1/why/annual-service"),
    ("consultant", "/units/A-1/acts"),
    ("consultant", "/sites/alder/issue"),
    ("consultant", "/units/A-1/charts/2026"),
)


@pytest.mark.parametrize(("word", "path"), PAGES, ids=[f"{w}{p}" for w, p in PAGES])
def test_a_page_has_no_fault_in_any_mode(
    a_lab: tuple[Lab, str], a_browser: Chromium, word: str, path: str
) -> None:
    """axe-core with the tags of WCAG 2.2 A and AA, and the checks of tests/web."""
    lab, address = a_lab
    cookies = cookies_of(as_word(lab, word))
    status = 404 if path == _NOWHERE else 200
    found = everything(f"{address}{path}", a_browser, cookies=cookies, status=status)
    assert not found, "\n".join(found)
