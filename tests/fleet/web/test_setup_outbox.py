"""Is mail that waits or did not arrive seen by who looks after its reader, and mended?"""

from __future__ import annotations

import datetime as dt
import re

import pytest

from fleet.domain.records import Role
from fleet.services.mail_ports import OutboxRow
from notifications.messages import Kind, Mail
from notifications.outbox import Planned, Settled, State, outbox_key
from tests.fleet.web.lab import PEOPLE, Browser, Lab

LEAD, BOSS = PEOPLE[Role.SITE_LEAD], PEOPLE[Role.MANAGER]
REFUSAL = "550 5.1.1 no such user"


def plan(lab: Lab, recipient: str, period: str) -> str:
    """Plan a mail and answer its key."""
    at = lab.now[0] - dt.timedelta(hours=6)
    one = Planned(
        recipient=recipient,
        kind=Kind.SITE_LEAD,
        period=period,
        name="",
        language="en",
        day=None,
        subject=f"Week {period}",
        mail=Mail(f"<{period}@x>", "from@bench.example", recipient, b"Subject: x\r\n\r\nx"),
        reason="",
        planned_at=at,
        stale_at=at + dt.timedelta(days=9),
    )
    with lab.program.store.begin(write=True) as record:
        assert record.mail.add([one]) == [True]
        record.commit()
    return outbox_key(recipient, Kind.SITE_LEAD, period)


def refuse(lab: Lab, count: int) -> list[str]:
    """Have so many mails to the lead refused for good, and answer their keys."""
    keys = [plan(lab, LEAD, f"2026-W{n:02}") for n in range(1, count + 1)]
    outbox, now = lab.program.store.outbox, lab.now[0]
    assert len(outbox.claim("test", count, now, now + dt.timedelta(minutes=5), 60)) == count
    for key in keys:
        settled = Settled(state=State.DEAD, at=now, code=550, answer=REFUSAL, is_hard_bounce=True)
        outbox.settle("test", key, settled)
    return keys


def row(lab: Lab, key: str) -> OutboxRow:
    with lab.program.store.begin() as record:
        found = record.mail.row(key)
    assert found is not None
    return found


def subjects(page: str) -> list[str]:
    return re.findall(r"<td>(Week [^<]+)<br>", page)


@pytest.fixture
def consultant(lab: Lab) -> Browser:
    return lab.as_role(Role.CONSULTANT)


def test_what_did_not_arrive_comes_first_with_the_server_s_answer(
    lab: Lab, consultant: Browser
) -> None:
    refuse(lab, 1)
    plan(lab, LEAD, "2026-W09")
    page = consultant.page("/setup/outbox")
    assert subjects(page) == ["Week 2026-W01", "Week 2026-W09"]
    assert REFUSAL in page
    assert "1 mail did not arrive" in consultant.page("/setup")
    assert subjects(consultant.page("/setup/outbox?state=queued")) == ["Week 2026-W09"]
    assert consultant.get("/setup/outbox?state=lost").status_code == 400
    assert subjects(consultant.page("/setup/outbox?page=2")) == []


def test_a_mail_is_sent_again_and_one_that_waits_is_taken_back(
    lab: Lab, consultant: Browser
) -> None:
    (dead,), queued = refuse(lab, 1), plan(lab, LEAD, "2026-W09")
    assert consultant.post("/setup/outbox/retry", {"key": dead}).location.endswith("done=retry")
    assert row(lab, dead).state is State.QUEUED
    bare = consultant.post("/setup/outbox/take-back", {"key": queued, "why": " "})
    assert bare.status_code == 400
    assert "No reason is given" in bare.text
    assert "--why" not in bare.text
    fields = {"key": queued, "why": "she has left"}
    assert consultant.post("/setup/outbox/take-back", fields).status_code == 302
    assert (row(lab, queued).state, row(lab, queued).reason) == (State.SUPPRESSED, "she has left")
    again = consultant.post("/setup/outbox/take-back", fields)
    assert again.status_code == 400, "it does not wait any more"


def test_an_address_that_refused_three_times_is_written_to_again(
    lab: Lab, consultant: Browser
) -> None:
    refuse(lab, 3)
    assert "3 refusals, not written to since" in consultant.page("/setup/outbox")
    answer = consultant.post("/setup/outbox/resume", {"address": LEAD})
    assert answer.location.endswith("done=resume")
    with lab.program.store.begin() as record:
        assert record.mail.addresses() == []
    assert consultant.post("/setup/outbox/resume", {"address": LEAD}).status_code == 404


def test_mail_of_people_of_another_region_is_not_there(lab: Lab, consultant: Browser) -> None:
    keys = [plan(lab, BOSS, "2026-W01"), plan(lab, "lead@birch.example", "2026-W01")]
    assert subjects(consultant.page("/setup/outbox")) == []
    for key in keys:
        for act in ("retry", "take-back"):
            answer = consultant.post(f"/setup/outbox/{act}", {"key": key, "why": "x"})
            assert answer.status_code == 404
        assert row(lab, key).state is State.QUEUED
    assert len(subjects(lab.as_role(Role.MANAGER).page("/setup/outbox"))) == 2
