"""Does a manager see who is told by webhook and whether it arrives, and is it refused inwards?"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from fleet.domain.access import Act
from fleet.domain.records import Role
from fleet.services.webhook_ports import DeliveryRow
from fleet.services.webhooks.bodies import STALE_AFTER, trial
from fleet.services.webhooks.subscriptions import MOST, Asked, subscribe
from fleet.storage import open_store
from fleet.wiring import utc_now
from notifications.outbox import State
from tests.fleet.web.lab import PEOPLE, Lab
from tests.fleet.web.webhook_lab import Hooked, hooked_lab, shown_secret
from tests.https_receiver import answer, is_signed

BOSS = PEOPLE[Role.MANAGER]


@pytest.fixture
def hooked(tmp_path: Path) -> Iterator[Hooked]:
    """The pages beside a receiver that they may write to."""
    with hooked_lab(tmp_path) as made:
        yield made


def acts(hooked: Hooked) -> list[tuple[Act, str]]:
    """What the access log says of webhooks, the first first."""
    with hooked.lab.program.store.begin() as record:
        events = record.access.logged(50, BOSS)
    return [(e.act, e.about) for e in reversed(events) if e.act.startswith("webhook")]


def test_a_secret_is_shown_once_and_the_act_is_logged(hooked: Hooked) -> None:
    assert "There is none yet." in hooked.manager.page("/setup/webhooks")
    secret = hooked.add()
    page = hooked.manager.page("/setup/webhooks")
    assert hooked.receiver.url.replace("&", "&amp;") in page
    assert "Told of overdue units and recorded services of every site" in page
    assert f"by {BOSS}" in page
    assert "Nothing was sent yet." in page
    assert secret not in page
    assert acts(hooked) == [(Act.WEBHOOK_MADE, hooked.receiver.url)]
    assert secret not in hooked.manager.page("/setup/access")
    assert "<strong>Webhooks</strong></a>: 1." in hooked.manager.page("/setup")


def test_what_is_recorded_on_a_page_arrives_at_the_next_minute(hooked: Hooked) -> None:
    secret = hooked.add(events="services")
    hooked.serves()
    hooked.tick()
    (one,) = hooked.receiver.asked
    assert is_signed(one, secret)
    told = json.loads(one.body)
    assert (told["type"], told["property_number"]) == ("service.recorded", "A-1")
    assert told["page"] is None, "no address of the pages is set"
    page = hooked.manager.page("/setup/webhooks")
    assert "Service recorded: A-1 annual-service" in page
    assert "Told of recorded services of every site" in page
    hooked.tick()
    assert len(hooked.receiver.asked) == 1


def test_a_unit_that_becomes_overdue_is_told_by_the_timetable(hooked: Hooked) -> None:
    hooked.add(events="overdue", region="North")
    hooked.tick()
    assert hooked.receiver.asked == [], "A-1 and C-1 are overdue since long"
    for _ in range(2):
        hooked.passes(days=24)
        hooked.tick()
    told = [json.loads(one.body) for one in hooked.receiver.asked]
    assert [(one["type"], one["property_number"]) for one in told] == [("unit.overdue", "A-2")]


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"url": ""}, "No address is given; write it as https://HOST/PATH"),
        ({"url": "http://receiver.example/"}, "Only https is sent to, so that nobody reads along"),
        ({"url": "https://me:it@receiver.example/"}, "The address holds a user or a password"),
        ({"url": "https://receiver.example:25/"}, "Port 25 belongs to another service"),
        ({"events": []}, "Nothing is chosen to be told; tick one at least"),
        ({"region": "West"}, "There is no region &#39;West&#39;; choose one of the list"),
    ],
)
def test_what_cannot_be_asked_is_refused_with_how_to_mend_it(
    hooked: Hooked, fields: dict[str, object], words: str
) -> None:
    given = {"url": hooked.receiver.url, "events": ["overdue"], "region": "", **fields}
    refused = hooked.manager.post("/setup/webhooks/add", given)
    assert refused.status_code == 400
    assert words in refused.text
    assert "<title>Error: Webhooks" in refused.text
    assert hooked.webhooks() == []
    assert hooked.receiver.asked == []


@pytest.mark.parametrize(
    "url", ["https://127.0.0.1:8443/x", "https://[::1]:8443/", "https://0x7f.1/"]
)
def test_this_machine_is_refused_where_it_is_saved(lab: Lab, url: str) -> None:
    """The program as it is in production."""
    manager = lab.as_role(Role.MANAGER)
    refused = manager.post("/setup/webhooks/add", {"url": url, "events": "overdue"})
    assert refused.status_code == 400
    assert "an address that is this machine itself; give one that the public" in refused.text


def test_there_are_so_many_at_most(hooked: Hooked) -> None:
    for _ in range(MOST):
        hooked.add()
    given = {"url": hooked.receiver.url, "events": "overdue"}
    refused = hooked.manager.post("/setup/webhooks/add", given)
    assert "There are 20 webhooks already; end one of them first" in refused.text


def test_a_test_says_at_once_how_it_went(hooked: Hooked) -> None:
    hooked.add()
    hooked.receiver.says += [answer(204), answer(500), answer(404)]
    for done, words in (
        ("arrived", "The test arrived."),
        ("not-now", "The test was put off and is tried again by itself"),
        ("refused", "The test did not arrive; the reason stands below."),
    ):
        sent = hooked.manager.post("/setup/webhooks/try", {"number": hooked.number})
        assert sent.location.endswith(f"done={done}")
        assert words in hooked.manager.page(f"/setup/webhooks?done={done}")
        hooked.passes(seconds=1)
    page = hooked.manager.page("/setup/webhooks")
    assert "404 refused" in page
    assert "500 not now" in page
    assert "Nothing has arrived since" in page
    assert acts(hooked)[1:] == [
        (Act.WEBHOOK_TRIED, f"{hooked.receiver.url}: {state}")
        for state in ("sent", "deferred", "dead")
    ]


def test_a_new_secret_signs_beside_the_former_one_for_a_day(hooked: Hooked) -> None:
    former = hooked.add()
    answered = hooked.manager.post("/setup/webhooks/secret", {"number": hooked.number})
    assert answered.headers["Cache-Control"] == "no-store"
    assert "within 24 hours" in answered.text
    present = shown_secret(answered.text)
    assert "The former secret signs too until" in hooked.manager.page("/setup/webhooks")
    hooked.manager.post("/setup/webhooks/try", {"number": hooked.number})
    hooked.passes(hours=24)
    hooked.manager = hooked.lab.as_role(Role.MANAGER)
    hooked.manager.post("/setup/webhooks/try", {"number": hooked.number})
    during, after = hooked.receiver.asked
    assert present != former
    assert is_signed(during, present)
    assert is_signed(during, former)
    assert is_signed(after, present)
    assert not is_signed(after, former)
    assert "The former secret signs too" not in hooked.manager.page("/setup/webhooks")
    assert (Act.WEBHOOK_SECRET, hooked.receiver.url) in acts(hooked)


def test_one_that_is_ended_is_gone_and_sent_nothing(hooked: Hooked) -> None:
    hooked.add()
    number = hooked.number
    ended = hooked.manager.post("/setup/webhooks/end", {"number": number})
    assert ended.location.endswith("done=ended")
    assert "There is none yet." in hooked.manager.page("/setup/webhooks")
    assert acts(hooked)[-1] == (Act.WEBHOOK_ENDED, hooked.receiver.url)
    hooked.serves()
    hooked.tick()
    assert hooked.receiver.asked == []
    for act in ("end", "secret", "try"):
        again = hooked.manager.post(f"/setup/webhooks/{act}", {"number": number})
        assert again.status_code == 404


def test_what_did_not_arrive_is_sent_again_and_what_waits_taken_back(hooked: Hooked) -> None:
    hooked.add(events="services")
    hooked.receiver.says += [answer(400), answer(503)]
    hooked.serves()
    hooked.tick()
    (row,) = hooked.rows()
    assert row.state is State.DEAD
    assert "Send again" in hooked.manager.page("/setup/webhooks")
    sent = hooked.manager.post("/setup/webhooks/send-again", {"key": row.key})
    assert sent.location.endswith("done=again")
    hooked.tick()
    (row,) = hooked.rows()
    assert row.state is State.DEFERRED
    taken = hooked.manager.post("/setup/webhooks/take-back", {"key": row.key})
    assert taken.location.endswith("done=taken-back")
    (row,) = hooked.rows()
    assert (row.state, row.reason) == (State.SUPPRESSED, f"taken back by {BOSS}")
    assert [act for act, _ in acts(hooked)[1:]] == [Act.WEBHOOK_RESENT, Act.WEBHOOK_TAKEN_BACK]
    again = hooked.manager.post("/setup/webhooks/take-back", {"key": row.key})
    assert again.status_code == 400
    assert "is suppressed; only what is deferred, queued can be taken back" in again.text
    for key in (row.key[:8], "0" * 32, ""):
        assert hooked.manager.post("/setup/webhooks/send-again", {"key": key}).status_code == 404


def test_one_to_which_nothing_arrives_for_days_is_a_concern_of_the_manager(
    hooked: Hooked,
) -> None:
    hooked.add()
    with hooked.lab.program.store.begin(write=True) as record:
        (one,) = record.webhooks.all()
        now = hooked.lab.now[0]
        record.webhooks.put(replace(one, failing_since_at=now, paused_at=now))
        record.commit()
    words = "1 webhook is sent nothing</a>, because nothing arrived for days."
    assert words in hooked.manager.page("/setup")
    assert words not in hooked.lab.as_role(Role.CONSULTANT).page("/setup")
    assert "Nothing is sent since" in hooked.manager.page("/setup/webhooks")
    hooked.manager.post("/setup/webhooks/try", {"number": hooked.number})
    assert words not in hooked.manager.page("/setup")


def queued_for_this_machine(lab: Lab) -> str:
    """A test that waits for a receiver at 127.0.0.1, as no page would let it; its key."""
    asked = Asked(url="https://127.0.0.1:8443/", region="", tells_overdue=True, tells_services=True)
    with lab.program.store.begin(write=True) as record:
        view = lab.web.board.view(record, lab.now[0])
        key, now = bytes(32), lab.now[0]
        made = subscribe(record, view, asked, number="W1", key=key, by=BOSS, base_url="", now=now)
        waiting = trial(made, "t", now)
        # The process that serves has the machine's clock.
        at = utc_now()
        waiting = replace(waiting, planned_at=at, stale_at=at + STALE_AFTER)
        record.webhooks.add([waiting])
        record.commit()
    return waiting.key


def settled(url: str, key: str, seconds: float) -> DeliveryRow:
    """The message once it does not wait any more, or after so many seconds."""
    until = time.monotonic() + seconds
    with closing(open_store(url, clock=utc_now)) as store:
        while True:
            with store.begin() as record:
                row = record.webhooks.row(key)
            assert row is not None
            is_over = row.state not in (State.QUEUED, State.SENDING)
            if is_over or time.monotonic() >= until:
                return row
            time.sleep(0.2)


@pytest.mark.parametrize("words", [(), ("--plan-only",)])
def test_serve_sends_webhooks_and_production_never_to_this_machine(
    lab: Lab, words: tuple[str, ...]
) -> None:
    key, url = queued_for_this_machine(lab), lab.program.settings.database
    kept = {k: v for k, v in os.environ.items() if not k.startswith("DUEWARD")}
    process = subprocess.Popen(
        [sys.executable, "-m", "fleet", "serve", "--port", "0", "--database", url, *words],
        env=kept,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        row = settled(url, key, 6 if words else 20)
    finally:
        process.terminate()
        process.wait(20)
        assert process.stderr is not None
        process.stderr.close()
    if words:
        assert row.state is State.QUEUED
    else:
        assert (row.state, row.answer) == (
            State.DEFERRED,
            "127.0.0.1 leads to 127.0.0.1, an address that is this machine itself;"
            " give one that the public internet reaches",
        )
