"""`dueward work` and `dueward outbox`: what is sent, what is not, and what a person does then."""

from __future__ import annotations

import datetime as dt
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fleet.cli.main import main
from fleet.wiring import Program, Settings
from tests.fleet.cli.conftest import Dueward
from tests.notifications.storing_sink import StoringSink

MONDAY = dt.datetime(2026, 3, 2, 13, 0, tzinfo=dt.UTC)
"""07:00 in Chicago."""
EARLY = MONDAY - dt.timedelta(hours=1)
Run = Callable[..., Result]
ROOT = Path(__file__).resolve().parents[3]


@pytest.fixture
def sink() -> StoringSink:
    return StoringSink()


@pytest.fixture
def run(loaded: Dueward, tmp_path: Path, sink: StoringSink) -> Run:
    """Runs a command at an instant, with a mail server that takes everything."""

    def at(*words: str, now: dt.datetime = MONDAY, smtp: str = "") -> Result:
        def program(database: str | None) -> Program:
            environment = {"DUEWARD_SMTP": smtp or f"smtp://127.0.0.1:{sink.port}"}
            settings = Settings.from_environment(environment, f"sqlite:///{tmp_path / 'own.db'}")
            return Program(settings=settings, clock=lambda: now, stopwatch=float, user="alice")

        return CliRunner().invoke(main, words, obj=program, catch_exceptions=False)

    return at


def listed(result: Result) -> list[dict[str, Any]]:
    rows: list[dict[str, Any]] = json.loads(result.stdout)
    return rows


def test_each_mail_goes_once_however_often_it_is_run(run: Run, sink: StoringSink) -> None:
    assert run("work", "--once", now=EARLY).stderr == (
        "0 mails planned, 0 left out; 0 sent, 0 put off, 0 given up\n"
    )
    assert run("work", "--once").stderr == (
        "2 mails planned, 1 left out; 2 sent, 0 put off, 0 given up\n"
    )
    again = run("work", "--once")

    assert (again.exit_code, again.stderr) == (
        0,
        "0 mails planned, 0 left out; 0 sent, 0 put off, 0 given up\n",
    )
    assert len(sink.stored) == 2
    assert [(row["kind"], row["reason"]) for row in listed(run("outbox"))] == [
        ("gaps", "told in the digest of 2026-W10")
    ]
    assert len(listed(run("outbox", "--all"))) == 3


def test_planning_alone_sends_nothing(run: Run, sink: StoringSink) -> None:
    run("work", "--once", "--plan-only", now=EARLY)
    done = run("work", "--once", "--plan-only")

    assert done.stderr == "2 mails planned, 1 left out; 0 sent, 0 put off, 0 given up\n"
    assert sink.stored == []
    assert sorted(row["state"] for row in listed(run("outbox"))) == [
        "queued",
        "queued",
        "suppressed",
    ]


def test_without_a_server_it_says_what_to_set(loaded: Dueward) -> None:
    result = loaded("work", "--once")

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr.startswith("DUEWARD_SMTP: '' names no mail server; write smtp://")


def test_a_server_that_is_down_is_told_and_all_waits(run: Run) -> None:
    run("work", "--once", now=EARLY)
    down = run("work", "--once", smtp="smtp://127.0.0.1:1")

    assert down.exit_code == 1
    first, second = down.stderr.splitlines()
    assert first.startswith("sending has stopped: mail server 127.0.0.1:1, connecting: ")
    assert second == "2 mails planned, 1 left out; 0 sent, 0 put off, 0 given up"
    later = run("work", "--once", now=MONDAY + dt.timedelta(minutes=5))
    assert later.stderr == "0 mails planned, 0 left out; 2 sent, 0 put off, 0 given up\n"


def test_a_clock_set_back_is_told_until_a_person_says_it_is_right(run: Run) -> None:
    run("work", "--once")

    back = run("work", "--once", now=EARLY)
    assert back.exit_code == 1
    assert back.stderr.splitlines()[0] == (
        "the clock says 2026-03-02 12:00 UTC, but it was 2026-03-02 13:00 UTC already; set this"
        " machine's clock; if it is right, run dueward work --clock-is-right once"
    )
    assert run("work", "--once", "--clock-is-right", now=EARLY).exit_code == 0


def planned(run: Run) -> list[dict[str, Any]]:
    run("work", "--once", "--plan-only", now=EARLY)
    run("work", "--once", "--plan-only")
    return listed(run("outbox", "--state", "queued"))


def test_a_mail_can_be_read_before_it_goes(run: Run, tmp_path: Path) -> None:
    row = next(row for row in planned(run) if row["kind"] == "site_lead")

    shown = run("outbox", "--show", row["key"][:6]).stdout
    assert shown.startswith("From: Dueward <digest@dueward.example>\nTo: Lee Alderman <lead@")
    assert "\nState: queued\n\nAlder Creek Laboratory: week of Mon 2 Mar 2026\n" in shown
    file = tmp_path / "one.eml"
    assert run("outbox", "--show", row["key"], "--out", str(file)).exit_code == 0
    assert file.read_bytes().startswith(b"From: Dueward")


def test_what_was_taken_back_is_not_sent_until_it_is_asked_for(run: Run, sink: StoringSink) -> None:
    key = planned(run)[0]["key"]

    back = run("outbox", "--suppress", key, "--why", "she has left", "--format", "table")
    assert back.stdout.endswith(": taken back\n")
    run("work", "--once")
    assert len(sink.stored) == 1
    assert "she has left" in {row["reason"] for row in listed(run("outbox"))}
    assert run("outbox", "--retry", key[:8]).exit_code == 0
    run("work", "--once")
    assert len(sink.stored) == 2


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (
            ("--retry", "zzzz"),
            "--retry: 'zzzz' names no message, or more than one; write the first 4 or more"
            " characters of a key of dueward outbox --all\n",
        ),
        (
            ("--suppress", "zzzz"),
            "--why: no reason is given; say why, so that others can read it: --why TEXT\n",
        ),
        (
            ("--resume", "ana@lab.example"),
            "--resume: 'ana@lab.example' has refused nothing; see dueward outbox --addresses for"
            " those that are\n",
        ),
        (
            ("--show", "zzzz", "--addresses"),
            "dueward outbox: --addresses, --show, --retry, --suppress and --resume do different"
            " things; give one of them at a time\n",
        ),
    ],
)
def test_what_cannot_be_done_is_said_with_the_mend(
    run: Run, words: tuple[str, ...], message: str
) -> None:
    result = run("outbox", *words)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", message)


def test_what_was_sent_cannot_be_sent_again_or_taken_back(run: Run) -> None:
    planned(run)
    run("work", "--once")
    row = listed(run("outbox", "--state", "sent"))[0]

    told = f"{row['key'][:8]} to {row['recipient']} is sent; only what is "
    again = run("outbox", "--retry", row["key"])
    assert again.stderr == f"--retry: {told}dead, deferred, suppressed can be sent again\n"
    back = run("outbox", "--suppress", row["key"], "--why", "too late")
    assert back.stderr == f"--suppress: {told}deferred, queued can be taken back\n"


def test_the_table_counts_the_states_and_says_why(run: Run) -> None:
    assert run("outbox", "--format", "table").stdout == (
        "Nothing was planned since Mon 26 Jan 2026.\n"
    )
    planned(run)

    told = run("outbox", "--format", "table").stdout
    assert told.startswith("3 messages since Mon 26 Jan 2026: 2 queued and 1 suppressed\n")
    run("work", "--once")
    assert run("outbox", "--state", "dead", "--format", "table").stdout == (
        "3 messages since Mon 26 Jan 2026: 2 sent and 1 suppressed\n\nNone of it is dead.\n"
    )
    assert run("outbox", "--addresses", "--format", "table").stdout == "No address refuses mail.\n"


@pytest.mark.usefixtures("loaded")
def test_the_timetable_ends_when_it_is_asked_to(tmp_path: Path, sink: StoringSink) -> None:
    """As a service manager does it: SIGTERM, and the process ends well."""
    environment = {
        **os.environ,
        "DUEWARD_DATABASE": f"sqlite:///{tmp_path / 'own.db'}",
        "DUEWARD_SMTP": f"smtp://127.0.0.1:{sink.port}",
    }
    with subprocess.Popen(
        [sys.executable, "-m", "fleet", "work"],
        cwd=ROOT,
        env=environment,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stderr is not None
        first = process.stderr.readline()
        time.sleep(1.5)
        process.send_signal(signal.SIGTERM)
        rest = process.stderr.read()

    assert process.returncode == 0
    assert first == "the timetable runs; Ctrl-C stops it\n"
    assert rest.endswith("the timetable has stopped\n")


def test_templates_are_copied_listed_and_checked(loaded: Dueward, tmp_path: Path) -> None:
    own = tmp_path / "own"

    assert loaded("templates", "--copy", str(own)).stderr == (
        f"wrote 31 files to {own}; keep only those you change\n"
    )
    again = loaded("templates", "--copy", str(own))
    assert (again.exit_code, again.stderr.splitlines()[0]) == (
        2,
        f"{own / '_base/body.html'}: it is there already; name an empty folder",
    )
    assert {row["own"] for row in listed(loaded("templates", str(own)))} == {"yes"}
    good = loaded("templates", str(own), "--check", "--format", "table")
    assert (good.exit_code, good.stdout) == (0, f"{own} may be used.\n")
    (own / "news" / "body.txt").write_text("{{ missing }}")
    bad = loaded("templates", str(own), "--check", "--format", "table")
    assert bad.exit_code == 2
    assert bad.stdout == (
        "news/body.txt line 1: a mail of the kind news cannot be made of it: 'missing' is"
        " undefined; compare it with the shipped one (--copy)\n"
    )
