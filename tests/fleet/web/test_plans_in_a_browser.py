"""Can anybody use the plan's pages, and do they follow long work without a script?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import pytest

from fleet.domain.jobs import JobState
from fleet.domain.records import Role
from tests.fleet.web.lab import Browser, Lab, make_lab
from tests.fleet.web.planning_lab import asks, job_at, works
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.web.budget import cold
from tests.web.chromium import a_browser, page_of
from tests.web.page_checks import everything

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


PAGES = (
    "/program",
    "/program/plans/new",
    "/program/plans/P-0001",
    "/program/compare?before=P-0001&after=P-0001",
    "tried",
    "anew",
    "failed",
)


@pytest.mark.parametrize("page", PAGES)
def test_a_plan_s_page_has_no_fault_in_any_mode(
    planned_lab: Planned, a_browser: Chromium, page: str
) -> None:
    """axe-core with the tags of WCAG 2.2 A and AA, and the checks of tests/web."""
    path = planned_lab.jobs.get(page, page)
    cookies = cookies_of(planned_lab.manager)
    faults = everything(f"{planned_lab.address}{path}", a_browser, cookies=cookies)
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


def test_a_page_follows_long_work_without_a_script_and_across_a_reload(
    planned_lab: Planned, a_browser: Chromium
) -> None:
    lab, cookies = planned_lab.lab, cookies_of(planned_lab.manager)
    path = planned_lab.manager.post("/program/plans/P-0001/anew").location
    with page_of(a_browser, 360, 700, script=False, cookies=cookies) as page:
        page.goto(f"{planned_lab.address}{path}")
        assert "waits for its turn" in page.inner_text("main")
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
        page.reload()
        assert page.get_attribute("progress", "value") == "1"
        works(lab)
        page.get_by_text("Nothing is changed yet.").wait_for()
        assert page.locator("meta[http-equiv=refresh]").count() == 0
