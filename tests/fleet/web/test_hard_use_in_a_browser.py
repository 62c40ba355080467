"""What if somebody goes back, clicks twice, has two tabs, or is signed out while they write?

The bench's own: without a network, two tabs, twice touched (`test_bench_in_a_browser`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role, StoredEntry
from tests.fleet.web.hands import Place
from tests.fleet.web.lab import PEOPLE, Lab, make_lab
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.web.chromium import a_browser, page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Place]:
    lab = make_lab(tmp_path)
    with closing(lab.program), served_lab(lab) as address:
        yield lab, address


@contextmanager
def opened(served: Place, chromium: Chromium, role: Role, path: str) -> Iterator[Page]:
    """A page of a role's at 360 px."""
    lab, address = served
    with page_of(chromium, 360, 740, cookies=cookies_of(lab.as_role(role))) as page:
        page.set_default_timeout(10_000)
        page.goto(f"{address}{path}")
        yield page


def explained(lab: Lab) -> list[StoredEntry]:
    with lab.program.store.begin() as record:
        stored = list(record.entries([record.unit_ids()["A-2"]]))
    return [one for one in stored if one.source == "page"]


def writes_a_reason(page: Page) -> None:
    page.get_by_label("Mon 2 Mar 2026, A-2 optics").check()
    page.fill("#f-why", "the room was painted")


def sends_it(page: Page) -> None:
    page.get_by_role("button", name="Explain those").click()


def test_who_is_signed_out_while_writing_is_told_so_and_finds_the_words_again(
    served: Place, a_browser: Chromium
) -> None:
    lab, _ = served
    with opened(served, a_browser, Role.SITE_LEAD, "/sites/alder") as page:
        writes_a_reason(page)
        with lab.program.store.begin(write=True) as record:
            record.access.end_sessions(email=PEOPLE[Role.SITE_LEAD])
            record.commit()
        sends_it(page)
        page.get_by_role("heading", name="You are signed out").wait_for()
        assert "Nothing was saved" in page.inner_text("main")
        assert "You had written: the room was painted" in page.inner_text("main")
    assert explained(lab) == []


def test_a_form_sent_again_after_the_back_button_is_saved_once(
    served: Place, a_browser: Chromium
) -> None:
    lab, _ = served
    with opened(served, a_browser, Role.SITE_LEAD, "/sites/alder") as page:
        writes_a_reason(page)
        sends_it(page)
        page.get_by_text("1 gap explained").wait_for()
        page.go_back()
        writes_a_reason(page)
        sends_it(page)
        page.get_by_text("1 gap explained").wait_for()
    assert len(explained(lab)) == 1


def test_a_page_loaded_again_after_a_form_sends_nothing_again(
    served: Place, a_browser: Chromium
) -> None:
    lab, _ = served
    with opened(served, a_browser, Role.SITE_LEAD, "/sites/alder") as page:
        writes_a_reason(page)
        sends_it(page)
        page.get_by_text("1 gap explained").wait_for()
        page.reload()
        assert page.get_by_label("Mon 2 Mar 2026, A-2 optics").count() == 0
    assert len(explained(lab)) == 1


def test_a_double_click_explains_once(served: Place, a_browser: Chromium) -> None:
    lab, _ = served
    with opened(served, a_browser, Role.SITE_LEAD, "/sites/alder") as page:
        writes_a_reason(page)
        page.get_by_role("button", name="Explain those").dblclick()
        page.get_by_text("1 gap explained").wait_for()
    assert len(explained(lab)) == 1


def test_a_double_click_issues_one_unit_and_shows_it(served: Place, a_browser: Chromium) -> None:
    lab, _ = served
    with opened(served, a_browser, Role.CONSULTANT, "/sites/alder/issue") as page:
        page.fill("#f-property_number", "A-9")
        page.get_by_label("What it is").select_option("microscope")
        page.get_by_role("button", name="Issue it").dblclick()
        page.get_by_text("It is issued").wait_for()
    with lab.program.store.begin() as record:
        assert ("A-9",) in record.register().units


def test_a_form_that_another_tab_has_overtaken_takes_nothing_back_unasked(
    served: Place, a_browser: Chromium
) -> None:
    lab, address = served
    with opened(served, a_browser, Role.MANAGER, "/setup/sites/alder") as page:
        other = page.context.new_page()
        other.goto(f"{address}/setup/sites/alder")
        other.fill("#f-name", "Alder Creek Laboratory")
        other.get_by_role("button", name="Save", exact=True).click()
        other.get_by_text("What you wrote is saved").wait_for()
        page.fill("#f-county", "Antelope")
        page.get_by_role("button", name="Save", exact=True).click()
        page.locator("#faults").wait_for()
        assert "was changed since this page was loaded" in page.inner_text("#faults")
        assert site_of(lab) == ("Alder Creek Laboratory", "Adams")
        page.get_by_role("button", name="Save", exact=True).click()
        page.get_by_text("What you wrote is saved").wait_for()
    assert site_of(lab) == ("Alder Laboratory", "Antelope"), "seen, and meant"


def site_of(lab: Lab) -> tuple[str, str]:
    with lab.program.store.begin() as record:
        site = record.register().sites[("alder",)]
    return site.name, site.county


@pytest.mark.parametrize("days", [-1, 1], ids=["a day behind", "a day ahead"])
def test_a_bench_whose_clock_is_a_day_off_marks_no_other_day(
    served: Place, a_browser: Chromium, days: int
) -> None:
    lab, address = served
    with page_of(a_browser, 360, 740, cookies=cookies_of(lab.at_bench())) as page:
        page.set_default_timeout(10_000)
        page.clock.install(time=lab.now[0] + dt.timedelta(days=days))
        page.clock.resume()
        page.goto(f"{address}/bench/alder")
        page.locator("[data-network]", has_text="This page is of 2026-03-03").wait_for()
        page.locator('[data-unit="A-1"] button.mark').first.click()
        page.get_by_role("heading", name="These marks need attention").wait_for()
        assert "this device's clock is off" in page.inner_text("[data-waiting]")
    with lab.program.store.begin() as record:
        stored = list(record.entries([record.unit_ids()["A-1"]]))
    assert [one for one in stored if one.source == "bench"] == []
