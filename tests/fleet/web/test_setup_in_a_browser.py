"""Are the pages that answer a form of the set-up as easy to use as those that are opened?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from typing import TYPE_CHECKING

import pytest

from fleet.web.long_work import runner
from tests.fleet.web.lab import FILES, make_lab
from tests.fleet.web.page_rows import Served, Step, faults_behind
from tests.fleet.web.served_lab import served_lab
from tests.web.chromium import a_browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    made = make_lab(tmp_path_factory.mktemp("lab"))
    with closing(made.program), served_lab(made) as address:
        yield Served(made, address, {})


def close_days(page: Page, from_on: str) -> None:
    page.get_by_text("Add one", exact=True).click()
    page.fill("#f-closure-from", from_on)
    page.fill("#f-reason", "Ice storm")
    page.click("button[value=add]")


def what_a_closure_changes(page: Page, served: Served) -> None:
    page.goto(f"{served.address}/setup/sites/alder")
    close_days(page, "2026-03-02")
    assert "Not saved yet" in page.inner_text("h1")


def a_closure_with_a_slip(page: Page, served: Served) -> None:
    page.goto(f"{served.address}/setup/sites/alder")
    close_days(page, "2 March")
    page.click("#faults a")
    assert page.evaluate("document.activeElement.id") == "f-closure-from"


def a_holiday_with_a_slip(page: Page, served: Served) -> None:
    page.goto(f"{served.address}/setup/sites/alder/holidays/2026")
    page.locator("input[name=day]").last.fill("1 May")
    page.click("button[value=own]")
    assert page.locator("#faults").count() == 1


def a_person_with_a_slip(page: Page, served: Served) -> None:
    page.goto(f"{served.address}/setup/people/lead@alder.example")
    page.fill("#f-deputy", "nobody")
    page.get_by_role("button", name="Save").click()
    page.click("#faults a")
    assert page.evaluate("document.activeElement.id") == "f-deputy"


def send(page: Page, served: Served, text: str) -> None:
    page.goto(f"{served.address}/setup/import")
    page.set_input_files(
        "#f-files", {"name": "units.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.click("button.main")
    while runner(served.lab.program).run_one():
        pass
    page.goto(page.url)


def what_files_change(page: Page, served: Served) -> None:
    text = FILES["units.csv"].replace("M1,100", "M9,100")
    send(page, served, f"{text}A-9,microscope,,,,alder,2026-03-02,\n")
    assert page.get_by_role("button", name="Load it").count() == 1


def faults_of_files(page: Page, served: Served) -> None:
    send(page, served, FILES["units.csv"].replace("2025-01-06", "January"))
    assert "3 faults" in page.inner_text("main")


STEPS = (
    Step(what_a_closure_changes, "setup_effects.html", "setup_calendar.closure", "manager"),
    Step(a_closure_with_a_slip, "setup_site.html", "setup_calendar.closure", "manager"),
    Step(a_holiday_with_a_slip, "setup_holidays.html", "setup_calendar.holidays", "manager"),
    Step(a_person_with_a_slip, "setup_person.html", "setup_people.change", "manager"),
    Step(what_files_change, "setup_looked.html", "setup_import.looked", "manager"),
    Step(faults_of_files, "setup_looked.html", "setup_import.looked", "manager"),
)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.story.__name__)
def test_what_a_form_leads_to_has_no_fault_in_any_mode(
    served: Served, a_browser: Chromium, step: Step
) -> None:
    found = faults_behind(step, served, a_browser)
    assert not found, "\n".join(found)
