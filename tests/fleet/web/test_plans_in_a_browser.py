"""Can anybody use the plan's pages, and do they follow long work without a script?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.domain.jobs import JobState
from fleet.domain.records import Role
from schedules.visits.model import Grade
from tests.fleet.web.hands import Hands, by_both_hands, walk
from tests.fleet.web.lab import Browser, Lab, make_lab, with_second_factor
from tests.fleet.web.page_rows import PLAN_PAGES, Row, Served, faults_of_row
from tests.fleet.web.planning_lab import PLAN_FILE, asks, job_at, visits, works
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.web.budget import cold
from tests.web.chromium import a_browser, page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium

__all__ = ["a_browser"]

pytest.importorskip("highspy", reason="the extra 'plan' is not installed")
pytestmark = pytest.mark.browser


@dataclass(frozen=True)
class Planned:
    """A served lab where P-0001 is kept; jobs: paths, by how they ended."""

    lab: Lab
    manager: Browser
    address: str
    jobs: dict[str, str]


@pytest.fixture(scope="module")
def planned_lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Planned]:
    lab = make_lab(tmp_path_factory.mktemp("lab"))
    with closing(lab.program), served_lab(lab) as address:
        manager = lab.as_role(Role.MANAGER)
        asks(manager)
        works(lab)
        cancelled = {"act": "cancel", "visit": "V-0001", "why": "flood"}
        assert manager.post("/program/plans/P-0001/visits", cancelled).status_code == 302
        jobs = {
            "tried": asks(manager, keep="no"),
            "anew": manager.post("/program/plans/P-0001/anew").location,
            "failed": asks(manager, keep="yes"),
        }
        works(lab)
        yield Planned(lab, manager, address, jobs)


@pytest.mark.parametrize("row", PLAN_PAGES, ids=[row.path for row in PLAN_PAGES])
def test_a_plan_s_page_has_no_fault_in_any_mode(
    planned_lab: Planned, a_browser: Chromium, row: Row
) -> None:
    """axe-core with the tags of WCAG 2.2 A and AA, and the checks of tests/web."""
    served = Served(planned_lab.lab, planned_lab.address, planned_lab.jobs)
    faults = faults_of_row(row, served, a_browser)
    assert not faults, "\n".join(faults)


@pytest.mark.parametrize("page", ["/program", "/program/plans/P-0001", "tried", "anew"])
def test_a_first_visit_of_a_plan_stays_within_its_budget(
    planned_lab: Planned, a_browser: Chromium, page: str
) -> None:
    path = planned_lab.jobs.get(page, page)
    cookies = cookies_of(planned_lab.manager)
    visit = cold(f"{planned_lab.address}{path}", a_browser, cookies=cookies)
    assert visit.requests <= 4
    assert visit.bytes_received <= 30_000
    assert len(planned_lab.manager.page(path)) <= 60_000


@pytest.mark.parametrize("script", [False, True], ids=["without script", "with script"])
def test_a_page_follows_long_work_and_across_a_reload(
    planned_lab: Planned, a_browser: Chromium, script: bool
) -> None:
    lab, cookies = planned_lab.lab, cookies_of(planned_lab.manager)
    path = planned_lab.manager.post("/program/plans/P-0001/anew").location
    with page_of(a_browser, 360, 700, script=script, cookies=cookies) as page:
        page.goto(f"{planned_lab.address}{path}")
        assert "waits for its turn" in page.inner_text("main")
        page.locator("h1").evaluate("heading => { heading.id = 'as-it-was' }")
        under_way = replace(
            job_at(lab, path),
            state=JobState.RUNNING,
            done=1,
            total=4,
            owner="elsewhere",
            lease_until_at=lab.now[0] - dt.timedelta(seconds=1),
        )
        with lab.program.store.begin(write=True) as record:
            record.jobs.put(under_way)
            record.commit()
        page.get_by_text("1 of 4").wait_for()
        assert page.locator("#as-it-was").count() == script, "with a script the page stays"
        page.reload()
        assert page.get_attribute("progress", "value") == "1"
        works(lab)
        page.get_by_text("Nothing is changed yet.").wait_for()
        assert page.locator("[data-follow]").count() == 0


@by_both_hands
def test_a_manager_plans_looks_confirms_a_visit_and_holds_the_budget_against_it(
    tmp_path: Path, a_browser: Chromium, hands: type[Hands]
) -> None:
    lab = make_lab(tmp_path, change=with_second_factor)
    (tmp_path / "plan.toml").write_bytes(PLAN_FILE)
    with (
        closing(lab.program),
        served_lab(lab) as address,
        walk((lab, address), a_browser, hands) as manager,
    ):
        manager.signs_in(Role.MANAGER)
        manager.hands.press("Plan visits")
        manager.hands.hand_in("Plan file", tmp_path / "plan.toml")
        manager.hands.tick("Quick")
        manager.hands.press("Plan and keep it")
        manager.reads("It waits for its turn")
        works(lab)
        manager.hands.press("P-0001")
        manager.reads("visits to come")
        manager.hands.tick("V-0001", "#f-visit")
        manager.hands.press("Confirm their trips")
        manager.reads("nothing moves them any more")
        manager.hands.press("Program", "nav")
        manager.reads("Budget against actual, P-0001")
    assert visits(lab)["V-0001"].grade is Grade.CONFIRMED
