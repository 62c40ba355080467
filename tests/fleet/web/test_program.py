"""Does the manager see what is to come, plan it and look at plans, without a command?"""

from __future__ import annotations

import datetime as dt
import io
import re
import tempfile

import pytest

from fleet.domain.records import Entry, Mark, Role
from fleet.services.access.given_links import given_links
from fleet.services.jobs.queue import queue_job
from fleet.services.mark import mark
from fleet.services.ports import Stamp
from fleet.services.visits.kept_plan import content_of, plan_named
from fleet.web.planning_work import made_of
from schedules.visits.model import Grade
from tests.fleet.web.lab import PEOPLE, Browser, Lab
from tests.fleet.web.planning_lab import FIELDS, PLAN_FILE, asks, job_at, visits, works

pytest.importorskip("highspy", reason="the extra 'plan' is not installed")


def test_what_falls_due_stands_by_month_with_what_is_overdue_first(manager: Browser) -> None:
    page = manager.page("/program")
    rows = re.findall(
        r'<tr><th scope="row"[^>]*>(.*?)</th>\s*<td class="n">(.*?)</td>', page, re.DOTALL
    )
    told = {re.sub(r"<.*?>", "", head).strip(" \N{BLACK SQUARE}"): count for head, count in rows}
    assert told["Overdue"] == "2", "A-1 since 18 January, C-1 since 4 January"
    assert told["April 2026"] == "2"
    assert "No plan is in force." in page
    by_kind = page.partition("By kind, overdue and in twelve months")[2]
    cells = re.findall(r'<td class="n">(.*?)</td>', by_kind.partition("</tbody>")[0])
    assert cells == ["4", "2", "$480.00", "4.0"], "four services of one kind, an hour each"


def test_a_plan_is_tried_without_anything_being_kept_and_then_kept_the_same(
    lab: Lab, manager: Browser
) -> None:
    job = asks(manager, keep="no")
    page = manager.page(job)
    assert "waits for its turn" in page
    assert '<meta http-equiv="refresh"' in page
    assert works(lab) == 1
    tried = manager.page(job)
    assert "Nothing was kept." in tried
    assert '<meta http-equiv="refresh"' not in tried
    assert visits(lab) == {}
    for name in ("map.svg", "months.svg", "money.svg"):
        picture = manager.get(f"{job}/{name}")
        assert (picture.status_code, picture.mimetype) == (200, "image/svg+xml")
    again = manager.post(f"/program/plans/again/{job.rpartition('/')[2]}")
    assert works(lab) == 2, "the plan is kept, and drawn for its page"
    kept = manager.page(again.location)
    assert "Kept as" in kept
    table = re.compile(r"<tbody>.*?</tbody>", re.DOTALL)
    assert table.findall(kept) == table.findall(tried)
    assert {v.grade for v in visits(lab).values()} == {Grade.FREE}


def test_a_form_sent_twice_is_one_plan_and_changed_it_is_another(
    lab: Lab, manager: Browser
) -> None:
    found = re.search(r'name="draft" value="([\w-]+)"', manager.page("/program/plans/new"))
    assert found is not None
    draft = found[1]
    first = asks(manager, draft=draft, keep="no")
    assert asks(manager, draft=draft, keep="no") == first
    assert works(lab) == 1
    other = asks(manager, draft=draft, keep="no", effort="usual")
    assert other != first, "sent from the page the browser went back to, with another choice"
    file = (io.BytesIO(PLAN_FILE + b"\n"), "plan.toml")
    assert asks(manager, draft=draft, keep="no", plan_file=file) not in (first, other)


def keeps(lab: Lab, manager: Browser, job: str, **fields: str) -> str:
    """Press the button under a plan that was tried; the page of what comes of it."""
    answer = manager.post(f"/program/plans/again/{job.rpartition('/')[2]}", fields)
    assert answer.status_code == 302, answer.text
    works(lab)
    return answer.location


def test_keeping_what_was_tried_plans_nothing_a_second_time(
    lab: Lab, manager: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    job = asks(manager, keep="no")
    assert works(lab) == 1
    tried = job_at(lab, job).result

    def planner(*_: object) -> None:
        raise AssertionError("a plan was sought")

    monkeypatch.setattr(type(lab.program), "planner", planner)
    kept = job_at(lab, keeps(lab, manager, job))
    assert kept.state == "done", kept.words
    assert kept.result == {**tried, "plan": "P-0001"}
    with lab.program.store.begin() as record:
        content = content_of(record, plan_named(record.register(), "P-0001"))
    assert made_of(content.told) == tried["made"]
    assert len(visits(lab)) == sum(len(trip.visits) for trip in content.told.trips)


def test_a_tried_plan_that_does_not_fit_any_more_says_why_and_is_planned_anew(
    lab: Lab, manager: Browser
) -> None:
    job = asks(manager, keep="no")
    assert works(lab) == 1
    retired = {"on": "2026-03-03", "why": "worn out", "anyway": "yes"}
    assert manager.post("/units/C-1/retire", retired).status_code == 302
    late = keeps(lab, manager, job)
    page = manager.page(late)
    assert "The record changed since this plan was made" in page
    assert "is no need of the order" in page
    assert "C-1" in page
    assert visits(lab) == {}
    path = f"/program/plans/again/{late.rpartition('/')[2]}"
    assert manager.post(path).status_code == 404, "what does not fit has no button to keep it"
    anew = keeps(lab, manager, late, anew="yes")
    assert "Nothing was kept." in manager.page(anew)
    assert job_at(lab, anew).result["trips"] != "0"
    assert visits(lab) == {}
    assert "Kept as" in manager.page(keeps(lab, manager, anew))
    assert "cedar" not in {visit.site for visit in visits(lab).values()}


def test_a_plan_is_kept_over_marks_that_settle_none_of_it(lab: Lab, manager: Browser) -> None:
    job = asks(manager, keep="no")
    assert works(lab) == 1
    with lab.program.store.begin(write=True) as record:
        day = dt.date(2026, 3, 3)
        entry = Entry(key="", property_number="A-2", task="optics", on=day, mark=Mark.DONE)
        holidays, stamp = lab.program.public_holidays, lab.program.stamp("page")
        mark(record, holidays, entry, anyway=True, stamp=stamp)
        record.commit()
    assert "Kept as" in manager.page(keeps(lab, manager, job))


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"from": "2026-13-01"}, "is no day of the calendar"),
        ({"to": "2026-01-01"}, "is before"),
        ({"plan_file": (io.BytesIO(b""), "")}, "there is no plan file"),
        ({"plan_file": (io.BytesIO(b"x" * 4_001), "plan.toml")}, "too large"),
    ],
)
def test_a_plan_that_cannot_be_asked_for_is_asked_again(
    manager: Browser, changed: dict[str, object], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.web.pages.plans._MOST_BYTES", 4_000)
    sent = {**FIELDS, "plan_file": (io.BytesIO(PLAN_FILE), "plan.toml"), **changed}
    answer = manager.post("/program/plans/new", sent, content_type="multipart/form-data")
    assert answer.status_code == 400
    assert says in answer.text.casefold()


@pytest.mark.parametrize("content", [b"\xff\xfe", b"[[depot]]\nname = 3", b"= ="])
def test_a_plan_file_with_faults_fails_in_words(lab: Lab, manager: Browser, content: bytes) -> None:
    job = asks(manager, plan_file=(io.BytesIO(content), "plan.toml"))
    assert works(lab) == 1
    page = manager.page(job)
    assert "It failed." in page
    assert tempfile.gettempdir() not in page


def test_a_plan_stands_trip_by_trip_and_against_what_was_made(
    planned: Lab, manager: Browser
) -> None:
    page = manager.page("/program/plans/P-0001")
    for number in visits(planned):
        assert number in page
    program = manager.page("/program")
    assert 'Plan <a href="/program/plans/P-0001">P-0001</a> is in force.' in program
    assert "Together" in program
    assert manager.get("/program/plans/P-0009").status_code == 404


def test_a_plan_s_page_shows_its_pictures_and_figures_and_draws_them_once_they_are_gone(
    planned: Lab, manager: Browser
) -> None:
    page = manager.page("/program/plans/P-0001")
    for name in ("map.svg", "months.svg", "money.svg"):
        found = re.search(rf'src="(/jobs/[^"]+/{name})"', page)
        assert found is not None
        picture = manager.get(found[1])
        assert (picture.status_code, picture.mimetype) == (200, "image/svg+xml")
        assert b"style" not in picture.data, "the policy allows no inline style"
    assert "To each unit on its own due date" in page
    with planned.program.store.begin(write=True) as record:
        record.jobs.drop_before(planned.now[0] + dt.timedelta(days=1))
        record.commit()
    assert "Draw its map" in manager.page("/program/plans/P-0001")
    job = manager.post("/program/plans/P-0001/draw").location
    assert manager.post("/program/plans/P-0001/draw").location == job
    assert "are being drawn" in manager.page("/program/plans/P-0001")
    assert works(planned) == 1
    assert "Month by month" in manager.page("/program/plans/P-0001")
    assert manager.get(f"{job}/map.svg").data.startswith(b"<?xml")


def test_a_long_plan_is_shown_page_by_page_from_what_is_to_come(
    lab: Lab, manager: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    day_trips = PLAN_FILE.replace(b"max_nights = 4", b"max_nights = 0")
    asks(manager, plan_file=(io.BytesIO(day_trips), "plan.toml"))
    assert works(lab) == 2
    monkeypatch.setattr("fleet.web.pages.plans._VISITS_A_PAGE", 1)
    numbers = sorted(visits(lab))
    seen = [
        set(
            re.findall(
                r'name="visit" value="([\w-]+)"', manager.page(f"/program/plans/P-0001?page={n}")
            )
        )
        for n in (1, 2)
    ]
    assert seen[0]
    assert seen[1]
    assert not seen[0] & seen[1]
    assert seen[0] | seen[1] <= set(numbers)
    assert manager.get("/program/plans/P-0001?page=99").status_code == 400
    announced = {"act": "announce", "visit": sorted(seen[1])}
    answer = manager.post("/program/plans/P-0001/visits?page=2", announced)
    assert "page=2" in answer.location, "it comes back to the trips it was sent from"
    cancelled = {"act": "cancel", "visit": sorted(seen[0]), "why": "flood"}
    manager.post("/program/plans/P-0001/visits", cancelled)
    assert "Page 2 of" in manager.page("/program/plans/P-0001"), "what is over stands before"


def test_where_libraries_are_missing_the_pages_say_so_and_plans_can_be_looked_at(
    planned: Lab, manager: Browser, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.services.visits.planning.LIBRARIES", ("no_such_library",))
    page = manager.page("/program/plans/new")
    assert "No_such_library is not installed" in page
    assert 'name="effort"' not in page
    assert "It cannot be made anew here" in manager.page("/program/plans/P-0001")
    job = asks(manager, keep="no")
    assert works(planned) == 1
    assert "No_such_library is not installed" in manager.page(job)


def test_the_example_s_people_and_prices_can_be_tried(lab: Lab, manager: Browser) -> None:
    job = asks(manager, keep="no", plan_file=(io.BytesIO(b""), ""), of="example")
    assert works(lab) == 1
    assert "Nothing was kept." in manager.page(job)


def test_a_manager_sees_whoever_s_work_and_others_only_their_own(
    planned: Lab, manager: Browser
) -> None:
    job = asks(manager, keep="no")
    consultant = planned.as_role(Role.CONSULTANT)
    assert consultant.get(job).status_code == 404
    assert consultant.get(f"{job}/map.svg").status_code == 404
    span = {"from": "2026-01-01", "to": "2026-02-28", "days": "7", "site": "alder"}
    assert consultant.post("/links/packet", span).status_code == 200
    assert works(planned) == 2
    with planned.program.store.begin() as record:
        (given,) = given_links(record, planned.now[0])
    for browser in (consultant, manager):
        assert browser.get(f"/jobs/{given.scope['job']}/packet.pdf").status_code == 200


def test_what_was_made_of_a_site_is_not_seen_by_who_answers_for_it_no_more(lab: Lab) -> None:
    consultant = lab.as_role(Role.CONSULTANT)
    with lab.program.store.begin(write=True) as record:
        by = f"account:{PEOPLE[Role.CONSULTANT]}"
        for site in ("alder", "birch"):
            stamp = Stamp(at=lab.now[0], by=by, source="page")
            queue_job(record, f"of-{site}", "packet", {"site": site}, stamp)
        record.commit()
    assert consultant.get("/jobs/of-alder").status_code == 200
    assert consultant.get("/jobs/of-birch").status_code == 404
