"""Are scanned pages easy to answer: by hand, by one letter, on a phone, within a page's budget?"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role
from fleet.domain.scans import Doubt, SheetRead, Verdict
from fleet.web.long_work import runner
from tests.fleet.web.lab import make_lab
from tests.fleet.web.page_rows import Served, Step, faults_behind
from tests.fleet.web.scan_lab import (
    APRIL,
    FakeReader,
    flat_page,
    print_chart,
    put_scan,
    scanned,
    slot,
)
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.fleet.web.test_scans import PDF
from tests.web.budget import cold
from tests.web.chromium import a_browser, page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser


def read(row: int, at: int) -> Verdict | Doubt:
    """Some cells are faint, others empty; most are marked."""
    if row == 0 and at in (slot("2026-03-12"), slot("2026-03-24")):
        return Doubt.FAINT
    if row == 0 and (at == slot("2026-03-04") or slot("2026-03-16") <= at <= slot("2026-03-20")):
        return Verdict.BLANK
    return Verdict.MARKED


def often_empty(row: int, at: int) -> Verdict | Doubt:
    """More questions than a page has, and all pictures full of ink."""
    return Doubt.FAINT if at % 2 else Verdict.MARKED


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A lab with pages that wait, one that cannot be used, and a file that was read."""
    reader = FakeReader()
    lab = make_lab(
        tmp_path_factory.mktemp("lab"), change=lambda web: replace(web, page_reader=reader)
    )
    with closing(lab.program), served_lab(lab) as address:
        one, other = print_chart(lab), print_chart(lab, "A-3")
        lab.now[0] = APRIL
        first = put_scan(lab, scanned(one.print, 1, read, flat_page(one, 1, read)))
        flat = flat_page(other, 1, often_empty)
        full = put_scan(lab, scanned(other.print, 1, often_empty, flat))
        bad = put_scan(lab, SheetRead(problem="the corner marks are not all in it; scan it again"))
        reader.pages = {"sent.pdf": [SheetRead(problem="too dark; scan it again")]}
        lead = lab.as_role(Role.SITE_LEAD)
        sent = lead.post("/scans", {"files": [(io.BytesIO(PDF), "sent.pdf")]})
        assert runner(lab.program, reader).run_one()
        places = {
            "page": f"/scans/{first.number}",
            "full": f"/scans/{full.number}",
            "bad": f"/scans/{bad.number}",
            "sent": sent.location,
        }
        yield Served(lab, address, places)


def go(page: Page, served: Served, path: str) -> None:
    page.goto(f"{served.address}{served.places.get(path, path)}")


def the_list(page: Page, served: Served) -> None:
    go(page, served, "/scans")


def what_was_sent(page: Page, served: Served) -> None:
    go(page, served, "sent")


def a_page_with_questions(page: Page, served: Served) -> None:
    go(page, served, "page")
    for summary in page.locator("summary").all():
        summary.click()


def a_page_as_it_opens(page: Page, served: Served) -> None:
    go(page, served, "full")


def a_page_that_cannot_be_used(page: Page, served: Served) -> None:
    go(page, served, "bad")


def a_reason_is_missing(page: Page, served: Served) -> None:
    a_page_with_questions(page, served)
    page.locator('button[value="explained"]').last.click()
    page.click("#faults a")
    assert page.evaluate("document.activeElement.id") == "f-words"


LEAD = "site lead"
STEPS = (
    Step(the_list, "scans.html", "scans.scans", LEAD),
    Step(what_was_sent, "scans_sent.html", "scans.sent", LEAD),
    Step(a_page_as_it_opens, "scan_sheet.html", "scan_sheet.sheet", LEAD),
    Step(a_page_with_questions, "scan_sheet.html", "scan_sheet.sheet", LEAD),
    Step(a_page_that_cannot_be_used, "scan_sheet.html", "scan_sheet.sheet", LEAD),
    Step(a_reason_is_missing, "scan_sheet.html", "scan_sheet.answer", LEAD),
)


@pytest.mark.parametrize("step", STEPS, ids=[step.story.__name__ for step in STEPS])
def test_a_page_has_no_fault_in_any_mode(served: Served, a_browser: Chromium, step: Step) -> None:
    found = faults_behind(step, served, a_browser)
    assert not found, "\n".join(found)


@pytest.mark.parametrize("path", ["/scans", "page", "full"])
def test_a_first_visit_stays_within_its_budget(
    served: Served, a_browser: Chromium, path: str
) -> None:
    cookies = cookies_of(served.client(LEAD))
    visit = cold(f"{served.address}{served.places.get(path, path)}", a_browser, cookies=cookies)
    assert visit.requests <= 4
    assert visit.bytes_received <= 30_000


def test_one_letter_answers_the_question_one_is_at_and_leads_to_the_next(
    served: Served, a_browser: Chromium
) -> None:
    with page_of(a_browser, 1280, 800, cookies=cookies_of(served.client(LEAD))) as page:
        go(page, served, "full")
        questions = page.locator("[data-ask]").evaluate_all("all => all.map(one => one.id)")
        assert page.evaluate("document.activeElement.id") == questions[0]
        for letter, following in (("f", questions[1]), ("e", questions[2])):
            with page.expect_navigation():
                page.keyboard.press(letter)
            page.wait_for_function("id => document.activeElement.id === id", arg=following)
        page.keyboard.press("x")
        assert page.evaluate("document.activeElement.name") == "words"
        page.keyboard.type("fec")
        assert page.evaluate("document.activeElement.value") == "fec", "a word, no answers"
        page.locator("main").focus()
        page.keyboard.press("f")
        assert page.url.endswith(f"#{questions[2]}"), "no question is meant"
        assert "Answered: filled." in page.locator(f"#{questions[0]}").inner_text()
        assert "Answered: empty." in page.locator(f"#{questions[1]}").inner_text()
