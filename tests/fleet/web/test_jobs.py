"""May one person fill the queue of long work, and what is said to whoever would?"""

from __future__ import annotations

import io
import re
from html import unescape

import pytest

from fleet.domain.jobs import JobState
from fleet.domain.records import Role
from fleet.services.jobs.queue import MOST_UNFINISHED, queue_job
from fleet.services.ports import Stamp
from tests.fleet.web.lab import FILES, PEOPLE, Browser, Lab
from tests.fleet.web.planning_lab import FIELDS, PLAN_FILE, asks, job_at, works

SAID = (
    "5 jobs of yours wait or run already (evidence packet, evidence packet, evidence packet,"
    " evidence packet, evidence packet); see them at /jobs, and ask again when one has ended"
)
SPAN = {"from": "2026-01-05", "to": "2026-02-20", "days": "9", "site": "cedar"}


def fill(lab: Lab, role: Role, count: int = MOST_UNFINISHED) -> None:
    """Let somebody have asked for so many packets."""
    stamp = Stamp(at=lab.now[0], by=f"account:{PEOPLE[role]}", source="page")
    span = {"site": "alder", "from": "2026-02-23", "to": "2026-03-02", "made_by": "somebody"}
    with lab.program.store.begin(write=True) as record:
        for number in range(count):
            queue_job(record, f"{role}-{number}".replace(" ", "-"), "packet", span, stamp)
        record.commit()


def waiting(lab: Lab, role: Role) -> int:
    with lab.program.store.begin() as record:
        return len(record.jobs.unfinished(f"account:{PEOPLE[role]}"))


@pytest.fixture
def full(lab: Lab, manager: Browser) -> Browser:
    """The manager's browser, whose five jobs wait."""
    fill(lab, Role.MANAGER)
    return manager


def test_a_sixth_packet_is_refused_with_what_waits_and_what_was_typed(
    lab: Lab, full: Browser
) -> None:
    answer = full.post("/links/packet", SPAN)
    assert answer.status_code == 400
    assert f'<li><a href="/jobs">{SAID}</a></li>' in answer.text
    for field in ('value="2026-01-05"', 'value="2026-02-20"', 'value="9"', '"cedar" selected'):
        assert field in answer.text, field
    assert "None." in full.page("/links"), "no link was given either"
    assert works(lab) == MOST_UNFINISHED
    assert full.post("/links/packet", SPAN).status_code == 200


def test_a_sixth_plan_is_refused_with_what_was_typed(lab: Lab, full: Browser) -> None:
    sent = {**FIELDS, "effort": "thorough", "plan_file": (io.BytesIO(PLAN_FILE), "plan.toml")}
    answer = full.post("/program/plans/new", sent, content_type="multipart/form-data")
    assert answer.status_code == 400
    assert f'<a href="/jobs">{SAID}</a>' in answer.text
    assert f'value="{FIELDS["to"]}"' in answer.text
    assert 'value="thorough" checked' in answer.text
    assert waiting(lab, Role.MANAGER) == MOST_UNFINISHED


def test_a_sixth_look_at_files_is_refused_on_its_form(lab: Lab, full: Browser) -> None:
    sent = {"files": (io.BytesIO(FILES["units.csv"].encode()), "units.csv")}
    answer = full.post("/setup/import", sent, content_type="multipart/form-data")
    assert answer.status_code == 400
    assert f'<a href="/jobs">{SAID}</a>' in answer.text
    assert waiting(lab, Role.MANAGER) == MOST_UNFINISHED


def test_the_buttons_that_ask_for_long_work_are_refused_too(lab: Lab, manager: Browser) -> None:
    kept, tried = asks(manager), asks(manager, keep="")
    works(lab)
    sent = {"files": (io.BytesIO(FILES["units.csv"].encode()), "units.csv")}
    looked = manager.post("/setup/import", sent, content_type="multipart/form-data").location
    works(lab)
    plan = job_at(lab, kept).result["plan"]
    fill(lab, Role.MANAGER)
    number = tried.rpartition("/")[2]
    for path in (
        f"/program/plans/again/{number}",
        f"/program/plans/{plan}/anew",
        f"{looked}/load",
    ):
        answer = manager.post(path)
        assert answer.status_code == 400, path
        assert SAID in unescape(answer.text), path
        assert '<a href="/jobs">See what waits</a>' in answer.text, path
    drawn = manager.post(f"/program/plans/{plan}/draw")
    assert drawn.status_code == 302, "the pictures are there already"
    assert waiting(lab, Role.MANAGER) == MOST_UNFINISHED


def test_a_plan_that_is_kept_is_drawn_however_much_its_owner_waits_for(
    lab: Lab, manager: Browser
) -> None:
    path = asks(manager)
    fill(lab, Role.MANAGER, MOST_UNFINISHED - 1)
    assert works(lab) == MOST_UNFINISHED + 1
    assert job_at(lab, path).state is JobState.DONE


def test_what_one_person_waits_for_keeps_nobody_else_waiting(lab: Lab, full: Browser) -> None:
    consultant = lab.as_role(Role.CONSULTANT)
    assert consultant.post("/links/packet", {**SPAN, "site": "alder"}).status_code == 200


def test_the_list_holds_ones_own_unfinished_work_and_leads_to_each(lab: Lab, full: Browser) -> None:
    fill(lab, Role.CONSULTANT, 1)
    page = full.page("/jobs")
    paths = re.findall(r'<li><a href="(/jobs/[^"]+)">Evidence packet of alder</a>', page)
    assert len(paths) == MOST_UNFINISHED
    for path in paths:
        assert "It waits for its turn" in full.page(path)
    assert "consultant" not in page
    works(lab)
    assert "Nothing waits and nothing is under way." in full.page("/jobs")
