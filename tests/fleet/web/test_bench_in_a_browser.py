"""Does the bench mark in a real browser: without script, without a network, twice at once?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import closing, contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import StoredEntry
from tests.fleet.web.lab import Browser, Lab, make_lab
from tests.fleet.web.served_lab import cookies_of, served_lab, stop_clock
from tests.web.chromium import HOST, a_browser, page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page, Route

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser
BUTTON = "form[data-mark]:visible button.mark:enabled"


@pytest.fixture
def served(tmp_path: Path) -> Iterator[tuple[Lab, str]]:
    made = make_lab(tmp_path)
    with closing(made.program), served_lab(made) as address:
        yield made, address


@contextmanager
def at_bench(
    served: tuple[Lab, str], chromium: Chromium, bench: Browser, *, script: bool = True
) -> Iterator[Page]:
    """A page of the bench on a phone, its clock where the lab's stands."""
    lab, address = served
    with page_of(chromium, 360, 740, script=script, cookies=cookies_of(bench)) as page:
        if script:
            stop_clock(page, lab)
        page.goto(f"{address}/bench/alder")
        yield page


def marked(lab: Lab, number: str = "A-1") -> list[StoredEntry]:
    with lab.program.store.begin() as record:
        stored = list(record.entries([record.unit_ids()[number]]))
    return [one for one in stored if one.source == "bench"]


def wait_for(page: Page, lab: Lab, count: int, number: str = "A-1") -> list[StoredEntry]:
    """Wait for so many marks on the server, not for words on the page."""
    for _ in range(100):
        found = marked(lab, number)
        if len(found) >= count:
            return found
        page.wait_for_timeout(50)
    raise AssertionError(f"{len(marked(lab, number))} marks of {number} came, not {count}")


def touch(page: Page, number: str) -> None:
    page.locator(f'[data-unit="{number}"] {BUTTON}').first.click()


def test_without_script_each_touch_is_a_page(served: tuple[Lab, str], a_browser: Chromium) -> None:
    lab, _ = served
    with at_bench(served, a_browser, lab.at_bench(), script=False) as page:
        touch(page, "A-1")
        assert "2 marks to make today" in page.inner_text("[data-count]")
        page.locator('[data-unit="A-1"]').get_by_role("button", name="Take back").click()
        assert "3 marks to make today" in page.inner_text("[data-count]")
        page.fill('[data-unit="A-3"] input[name=reading]', "4.5")
        touch(page, "A-3")
        assert "4.5 C" in page.inner_text('[data-unit="A-3"]')
        page.get_by_role("button", name="Nothing in this room").click()
        assert "Everything of today is marked" in page.inner_text("[data-count]")
    assert [s.entry.mark for s in marked(lab, "A-2")] == ["unused"]


def test_by_keyboard_alone_a_unit_is_marked_and_the_focus_stays_there(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    with at_bench(served, a_browser, lab.at_bench()) as page:
        for _ in range(40):
            page.keyboard.press("Tab")
            if page.evaluate("document.activeElement.matches('[data-unit=\"A-1\"] button.mark')"):
                break
        page.keyboard.press("Enter")
        wait_for(page, lab, 1)
        page.locator('[data-unit="A-1"] .made').wait_for()
        assert page.evaluate("document.activeElement.closest('[data-unit]')?.dataset.unit") == "A-1"


def test_what_is_marked_without_a_network_is_sent_when_there_is_one(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    with at_bench(served, a_browser, lab.at_bench()) as page:
        page.evaluate("navigator.serviceWorker.ready")
        page.reload()
        page.context.set_offline(True)
        touch(page, "A-1")
        page.locator("[data-network]", has_text="1 mark waiting to be sent.").wait_for()
        touch(page, "A-2")
        page.locator("[data-network]", has_text="2 marks waiting to be sent.").wait_for()
        page.reload()
        page.locator("[data-network]", has_text="2 marks waiting to be sent.").wait_for()
        assert marked(lab) == []
        assert page.locator(f'[data-unit="A-1"] {BUTTON}').count() == 0, "it waits already"
        lab.now[0] += dt.timedelta(hours=2)
        page.context.set_offline(False)
        page.clock.fast_forward(31_000)  # It tries by itself, whatever the browser tells it.
        (first,) = wait_for(page, lab, 1)
        (second,) = wait_for(page, lab, 1, "A-2")
        page.locator("[data-network]:empty").wait_for(state="attached")
    assert first.entry.on == second.entry.on == dt.date(2026, 3, 3)
    # By the server's clock: a try that hung may arrive before its hands were moved on.
    assert first.stored_at in (lab.now[0], lab.now[0] - dt.timedelta(hours=2))
    assert "noted at the bench at 2026-03-03T18:0" in first.entry.note


def test_an_answer_that_is_lost_leaves_one_mark(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    lost: list[int] = []

    def lose(route: Route) -> None:
        if lost:
            route.continue_()
            return
        lost.append(route.fetch().status)
        route.abort()

    with at_bench(served, a_browser, lab.at_bench()) as page:
        page.route("**/bench/alder/mark", lose)
        touch(page, "A-1")
        page.locator("[data-network]", has_text="1 mark waiting to be sent.").wait_for()
        wait_for(page, lab, 1)
        page.evaluate("dispatchEvent(new Event('online'))")
        page.locator("[data-network]:empty").wait_for(state="attached")
        page.wait_for_timeout(200)
    assert lost == [201]
    assert len(marked(lab)) == 1


def test_two_tabs_that_send_at_once_leave_one_mark(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, address = served
    with at_bench(served, a_browser, lab.at_bench()) as page:
        other = page.context.new_page()
        stop_clock(other, lab)
        other.goto(f"{address}/bench/alder")
        page.context.set_offline(True)
        touch(page, "A-1")
        touch(other, "A-1")
        page.context.set_offline(False)
        wait_for(page, lab, 1)
        page.wait_for_timeout(500)
    assert len(marked(lab)) == 1


def test_a_double_touch_is_one_mark(served: tuple[Lab, str], a_browser: Chromium) -> None:
    lab, _ = served
    with at_bench(served, a_browser, lab.at_bench()) as page:
        page.locator(f'[data-unit="A-1"] {BUTTON}').first.dblclick()
        wait_for(page, lab, 1)
        page.wait_for_timeout(300)
    assert len(marked(lab)) == 1


def test_whoever_comes_next_does_not_send_what_another_left(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, address = served
    one, other = lab.at_bench(initials="GR"), lab.at_bench(initials="HS")
    with at_bench(served, a_browser, one) as page:
        page.context.set_offline(True)
        touch(page, "A-1")
        page.locator("[data-network]", has_text="1 mark waiting").wait_for()
        page.route("**/bench/alder/mark", lambda route: route.abort())
        page.context.set_offline(False)
        page.get_by_role("button", name="Sign out").click()
        page.locator("[data-network]", has_text="1 not yet sent").wait_for()
        page.get_by_role("button", name="Sign out").click()
        page.get_by_role("heading", name="Who is at the bench?").wait_for()
        page.unroute("**/bench/alder/mark")
        for name, value in cookies_of(other).items():
            page.context.add_cookies(
                [{"name": name, "value": value, "domain": HOST, "path": "/", "secure": True}]
            )
        page.goto(f"{address}/bench/alder")
        page.locator("[data-network]", has_text="1 of somebody else waits here").wait_for()
        page.wait_for_timeout(300)
    assert marked(lab) == []


def test_a_mark_that_is_refused_is_shown_and_not_dropped(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    with at_bench(served, a_browser, lab.at_bench()) as page:
        page.fill('[data-unit="A-3"] input[name=reading]', "warm")
        touch(page, "A-3")
        page.get_by_role("heading", name="These marks need attention").wait_for()
        assert "decimal point" in page.inner_text("[data-waiting]")
        page.reload()
        page.get_by_role("heading", name="These marks need attention").wait_for()
        page.get_by_role("button", name="Leave it out").click()
        page.locator("[data-waiting]").wait_for(state="hidden")
    assert marked(lab, "A-3") == []


def test_a_reading_out_of_limits_is_told_at_once(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    with at_bench(served, a_browser, lab.at_bench()) as page:
        page.fill('[data-unit="A-3"] input[name=reading]', "9,5")
        touch(page, "A-3")
        told = page.locator("[data-told]")
        told.get_by_text("Outside the range: keep the stock cold elsewhere first.").wait_for()
        assert "allowed 2.0 to 8.0 C" in told.inner_text()


def test_a_page_kept_from_yesterday_marks_today(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    bench = lab.at_bench()
    with at_bench(served, a_browser, bench) as page:
        touch(page, "A-1")
        wait_for(page, lab, 1)
        page.evaluate("navigator.serviceWorker.ready")
        page.reload()
        page.context.set_offline(True)
        lab.now[0] += dt.timedelta(hours=3)
        page.clock.set_fixed_time(lab.now[0] + dt.timedelta(days=1))
        page.reload()
        page.locator("[data-network]", has_text="marks are put for 2026-03-04").wait_for()
        touch(page, "A-1")
        page.locator("[data-network]", has_text="1 mark waiting").wait_for()
        lab.now[0] += dt.timedelta(days=1)
        page.context.set_offline(False)
        page.wait_for_timeout(300)
    assert len(marked(lab)) == 1, "whoever stood there has been signed out meanwhile"


def test_where_the_clock_is_set_as_the_demos_is_the_browser_follows_it(
    served: tuple[Lab, str], a_browser: Chromium
) -> None:
    lab, _ = served
    bench = lab.at_bench()
    program = replace(lab.program, clock_is_set=True)
    other = replace(lab, web=replace(lab.web, program=program))
    with (
        closing(program),
        served_lab(other) as address,
        page_of(a_browser, 360, 740, cookies=cookies_of(bench)) as page,
    ):
        page.clock.install(time=lab.now[0] + dt.timedelta(days=300))
        page.clock.resume()
        page.goto(f"{address}/bench/alder")
        touch(page, "A-1")
        (entry,) = wait_for(page, lab, 1)
    assert entry.entry.on == dt.date(2026, 3, 3)
