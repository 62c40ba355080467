"""Does the manager plan, look, confirm and plan anew, without a command?"""

from __future__ import annotations

import io
import re
import tempfile

import pytest

from fleet.domain.records import Role
from fleet.domain.visits import SiteVisit, VisitState
from fleet.web.long_work import runner
from schedules.visits.model import Grade
from tests.fleet.web.lab import Browser, Lab

pytest.importorskip("highspy", reason="the extra 'plan' is not installed")

PLAN_FILE = b"""
[[depot]]
name = "Depot"
latitude = 40.8
longitude = -96.7
time_zone = "America/Chicago"

[[technician]]
name = "Tatum Fenwald"
vendor = "Vendrick Service"
depot = "Depot"
open_days = "Mon Tue Wed Thu Fri"
day_minutes = 480
begins_at = "08:00"
max_nights = 4

[[technician]]
name = "Robin Yarrowby"
vendor = "Vendrick Service"
depot = "Depot"
open_days = "Mon Tue Wed Thu Fri"
day_minutes = 480
begins_at = "08:00"
max_nights = 4

[roads]
road_factor = 1.3
miles_an_hour = 55

[money]
mile = 70
hour = 9500
trip = 15000
night = 14000
visit = 4000
lost_day = 50
change = 5000
"""
FIELDS = {"from": "2026-03-04", "to": "2026-12-31", "effort": "quick"}


def asks(manager: Browser, **more: object) -> str:
    """Ask for a plan, and answer the path of its job."""
    sent = {**FIELDS, "plan_file": (io.BytesIO(PLAN_FILE), "plan.toml"), "keep": "yes", **more}
    answer = manager.post("/program/plans/new", sent, content_type="multipart/form-data")
    assert answer.status_code == 302, answer.text
    return answer.location


@pytest.fixture
def manager(lab: Lab) -> Browser:
    return lab.as_role(Role.MANAGER)


@pytest.fixture
def planned(lab: Lab, manager: Browser) -> Lab:
    """A plan was kept."""
    asks(manager)
    assert runner(lab.program).run_one()
    return lab


def visits(lab: Lab) -> dict[str, SiteVisit]:
    with lab.program.store.begin() as record:
        return {number: visit for (number,), visit in record.register().visits.items()}


def test_what_falls_due_stands_by_month_with_what_is_overdue_first(manager: Browser) -> None:
    page = manager.page("/program")
    rows = re.findall(r'<tr><th scope="row">(.*?)</th>\s*<td class="n">(.*?)</td>', page, re.DOTALL)
    told = {re.sub(r"<.*?>", "", head).strip(" \N{BLACK SQUARE}"): count for head, count in rows}
    assert told["Overdue"] == "2", "A-1 since 18 January, C-1 since 4 January"
    assert told["April 2026"] == "2"
    assert "No plan is in force." in page


def test_a_plan_is_tried_without_anything_being_kept_and_then_kept_the_same(
    lab: Lab, manager: Browser
) -> None:
    job = asks(manager, keep="no")
    page = manager.page(job)
    assert "waits for its turn" in page
    assert '<meta http-equiv="refresh"' in page
    assert runner(lab.program).run_one()
    tried = manager.page(job)
    assert "Nothing was kept." in tried
    assert '<meta http-equiv="refresh"' not in tried
    assert visits(lab) == {}
    for name in ("map.svg", "months.svg", "money.svg"):
        picture = manager.get(f"{job}/{name}")
        assert (picture.status_code, picture.mimetype) == (200, "image/svg+xml")
    again = manager.post(f"/program/plans/again/{job.rpartition('/')[2]}")
    assert runner(lab.program).run_one()
    kept = manager.page(again.location)
    assert "Kept as" in kept
    table = re.compile(r"<tbody>.*?</tbody>", re.DOTALL)
    assert table.findall(kept) == table.findall(tried)
    assert {v.grade for v in visits(lab).values()} == {Grade.FREE}


def test_a_form_sent_twice_is_one_plan(lab: Lab, manager: Browser) -> None:
    draft = re.search(r'name="draft" value="([\w-]+)"', manager.page("/program/plans/new"))
    assert draft is not None
    assert asks(manager, draft=draft[1]) == asks(manager, draft=draft[1])
    work = runner(lab.program)
    assert work.run_one()
    assert not work.run_one()


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
    assert runner(lab.program).run_one()
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


def test_confirming_takes_the_whole_trip_and_tells_who_it_concerns(
    planned: Lab, manager: Browser
) -> None:
    number, visit = next(iter(visits(planned).items()))
    answer = manager.post("/program/plans/P-0001/visits", {"act": "confirm", "visit": number})
    assert answer.status_code == 302
    mails = int(answer.location.rpartition("mails=")[2])
    assert mails >= 2
    own = [v for v in visits(planned).values() if v.trip_on == visit.trip_on]
    assert {v.grade for v in own if v.technician == visit.technician} == {Grade.CONFIRMED}
    assert f"{mails} mails in the outbox" in manager.page(answer.location)


@pytest.mark.parametrize(("act", "grade"), [("announce", Grade.ANNOUNCED), ("free", Grade.FREE)])
def test_visits_are_announced_and_let_go(
    planned: Lab, manager: Browser, act: str, grade: Grade
) -> None:
    number = next(iter(visits(planned)))
    manager.post("/program/plans/P-0001/visits", {"act": "announce", "visit": number})
    manager.post("/program/plans/P-0001/visits", {"act": act, "visit": number})
    assert visits(planned)[number].grade is grade


def test_a_visit_is_cancelled_with_a_reason_and_planned_again(
    planned: Lab, manager: Browser
) -> None:
    number = next(iter(visits(planned)))
    bare = manager.post("/program/plans/P-0001/visits", {"act": "cancel", "visit": number})
    assert bare.status_code == 400
    fields = {"act": "cancel", "visit": number, "why": "flood"}
    assert manager.post("/program/plans/P-0001/visits", fields).status_code == 302
    assert visits(planned)[number].state is VisitState.CANCELLED
    trial = manager.post("/program/plans/P-0001/anew")
    assert trial.status_code == 200
    assert "Take the new plan" in trial.text
    assert len(visits(planned)) == len(set(visits(planned))), "nothing was kept"
    taken = manager.post("/program/plans/P-0001/anew", {"keep": "yes"})
    assert taken.location.startswith("/program/plans/P-0002?")
    assert "took its place" in manager.page("/program/plans/P-0001")
    compared = manager.page("/program/compare?before=P-0001&after=P-0002")
    assert "before" in compared


def test_a_technician_s_days_off_are_planned_around(planned: Lab, manager: Browser) -> None:
    visit = next(iter(visits(planned).values()))
    off = {
        "technician": visit.technician,
        "from": str(visit.trip_on),
        "to": str(visit.to_on),
        "reason": "flu",
    }
    assert manager.post("/program/plans/P-0001/days-off", off).status_code == 302
    page = manager.page("/program/plans/P-0001")
    assert f"{visit.number}: {visit.technician} cannot come (flu)" in page
    assert manager.post("/program/plans/P-0001/anew", {"keep": "yes"}).status_code == 302
    after = visits(planned)[visit.number]
    assert (after.technician, after.on) != (visit.technician, visit.on)


@pytest.mark.parametrize(
    "fields", [{"act": "confirm", "visit": "V-9999"}, {"act": "promote", "visit": "V-0001"}]
)
def test_what_is_not_of_the_plan_is_not_changed(
    planned: Lab, manager: Browser, fields: dict[str, str]
) -> None:
    before = visits(planned)
    assert manager.post("/program/plans/P-0001/visits", fields).status_code in (400, 404)
    assert manager.post("/program/plans/P-0001/visits", {"act": "confirm"}).status_code == 400
    assert visits(planned) == before


def test_a_job_of_another_is_not_there(planned: Lab, manager: Browser) -> None:
    job = asks(manager, keep="no")
    other = planned.as_role(Role.CONSULTANT)
    assert other.get(job).status_code == 404
    assert other.get(f"{job}/map.svg").status_code == 404


def test_a_kept_plan_is_drawn_again(planned: Lab, manager: Browser) -> None:
    job = manager.post("/program/plans/P-0001/draw").location
    assert runner(planned.program).run_one()
    assert "On the map" in manager.page(job)
    assert manager.get(f"{job}/map.svg").data.startswith(b"<?xml")
