"""`dueward work` sends webhooks as it sends mail, and `dueward outbox` shows and settles them."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fleet.cli.main import main
from fleet.services.board import Board
from fleet.services.webhooks.subscriptions import Asked, subscribe
from fleet.wiring import Program, Settings
from tests.fleet.cli.conftest import NOON, Dueward
from tests.https_receiver import HOST, Receiver, answer, guard_of, is_signed
from tests.notifications.storing_sink import StoringSink
from tests.tls_certificates import Certificates, make_certificates

Run = Callable[..., Result]
KEY = bytes(range(32))
MARK = ("mark", "A-1", "annual-service", "--on", "2026-03-02", "--as", "done", "--anyway")


@pytest.fixture(scope="module")
def known(tmp_path_factory: pytest.TempPathFactory) -> Certificates:
    return make_certificates(tmp_path_factory.mktemp("certificates"), {"right": HOST})


@pytest.fixture
def receiver(known: Certificates) -> Iterator[Receiver]:
    with Receiver(known.context("right")) as opened:
        yield opened


@pytest.fixture
def run(loaded: Dueward, tmp_path: Path, known: Certificates, receiver: Receiver) -> Iterator[Run]:
    """Runs a command at an instant; the receiver is subscribed to everything."""
    sink, (guard, _) = StoringSink(), guard_of(known.file("right"))

    def program(now: dt.datetime) -> Program:
        environment = {
            "DUEWARD_SMTP": f"smtp://127.0.0.1:{sink.port}",
            "DUEWARD_BASE_URL": "https://pages.example/",
        }
        return Program(
            settings=Settings.from_environment(environment, f"sqlite:///{tmp_path / 'own.db'}"),
            clock=lambda: now,
            stopwatch=float,
            user="alice",
            call_guard=guard,
        )

    def at(*words: str, now: dt.datetime = NOON) -> Result:
        made = program(now)
        return CliRunner().invoke(main, words, obj=lambda _: made, catch_exceptions=False)

    with closing(program(NOON)) as first, first.store.begin(write=True) as record:
        view = Board(first.public_holidays).view(record, NOON)
        asked = Asked(url=receiver.url, region="", tells_overdue=True, tells_services=True)
        subscribe(
            record,
            view,
            asked,
            number="W1",
            key=KEY,
            by="program@bench.example",
            base_url="",
            now=NOON,
        )
        record.commit()
    yield at
    sink.close()


def listed(result: Result) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = json.loads(result.stdout)
    return [row for row in rows if row["kind"] == "webhook"]


def test_work_sends_what_was_recorded_by_a_command(run: Run, receiver: Receiver) -> None:
    run(*MARK)
    done = run("work", "--once")
    assert done.exit_code == 0
    assert done.stderr.endswith("\n1 webhook queued; 1 sent, 0 put off, 0 given up\n")
    (one,) = receiver.asked
    assert json.loads(one.body)["page"] == "https://pages.example/units/A-1"
    assert is_signed(one, "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=")
    assert "webhook" not in run("work", "--once").stderr
    assert listed(run("outbox")) == []
    (row,) = listed(run("outbox", "--all"))
    assert (row["recipient"], row["state"], row["period"], row["subject"], row["code"]) == (
        receiver.url,
        "sent",
        "service.recorded",
        "service recorded: A-1 annual-service",
        204,
    )


def test_planning_alone_sends_no_webhook(run: Run, receiver: Receiver) -> None:
    run(*MARK)
    done = run("work", "--once", "--plan-only")
    assert done.stderr.endswith("\n1 webhook queued; 0 sent, 0 put off, 0 given up\n")
    assert receiver.asked == []
    (row,) = listed(run("outbox"))
    assert (row["state"], row["attempts"]) == ("queued", 0)


def test_a_refusal_is_told_and_the_message_sent_again_by_its_key(
    run: Run, receiver: Receiver
) -> None:
    receiver.says += [answer(404), answer(200)]
    run(*MARK)
    done = run("work", "--once")
    assert (done.exit_code, "0 sent, 0 put off, 1 given up" in done.stderr) == (1, True)
    shown = run("outbox", "--format", "table").stdout
    assert f"dead   {receiver.url.split('/')[2]}  service recorded: A-1" in shown
    (row,) = listed(run("outbox"))
    assert (row["state"], row["reason"]) == ("dead", "refused")
    key = row["key"][:8]

    text = run("outbox", "--show", key).stdout
    assert text.startswith(f"To: {receiver.url}\nwebhook-id: msg_{row['key']}\nState: dead\n\n{{")
    assert json.loads(text.partition("\n\n")[2])["type"] == "service.recorded"
    again = run("outbox", "--retry", key, "--format", "table")
    assert again.stdout == f"{key} to {receiver.url}: queued again\n"
    assert run("work", "--once").stderr.endswith(
        "0 webhooks queued; 1 sent, 0 put off, 0 given up\n"
    )
    assert len(receiver.asked) == 2


def test_a_message_that_waits_is_taken_back(run: Run, receiver: Receiver) -> None:
    run(*MARK)
    run("work", "--once", "--plan-only")
    (row,) = listed(run("outbox"))
    run("outbox", "--suppress", row["key"], "--why", "not needed")
    (row,) = listed(run("outbox"))
    assert (row["state"], row["reason"]) == ("suppressed", "not needed")
    run("work", "--once")
    assert receiver.asked == []
    assert listed(run("outbox", "--recipient", "somebody@else.example")) == []
    assert len(listed(run("outbox", "--recipient", receiver.url))) == 1
