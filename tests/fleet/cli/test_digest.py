"""What does `dueward digest` tell, write and send?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from fleet.cli.main import main
from fleet.wiring import Program, Settings
from tests.fleet.cli.conftest import NOON, Dueward


def rows(text: str) -> list[dict[str, Any]]:
    answer: list[dict[str, Any]] = json.loads(text)
    return answer


def test_digest_tells_who_gets_what(loaded: Dueward) -> None:
    result = loaded("digest", "--on", "2026-03-02")

    told = rows(result.stdout)
    assert (result.exit_code, result.stderr) == (0, "")
    assert [(row["recipient"], row["kind"], row["period"]) for row in told] == [
        ("north@bench.example", "consultant", "2026-W10"),
        ("lead@alder.example", "site_lead", "2026-W10"),
    ]
    for row in told:
        assert list(row) == [
            *("recipient", "name", "kind", "period", "subject", "text", "skipped"),
        ]
        assert "Alder Creek Laboratory" in row["text"]
        assert row["skipped"] is None


def test_who_gets_nothing_is_told_with_the_reason(loaded: Dueward) -> None:
    before_any_record = loaded("digest", "--on", "2025-03-12")

    assert {
        (row["subject"], row["text"], row["skipped"]) for row in rows(before_any_record.stdout)
    } == {(None, None, "nothing to do; all clear is told once a month")}
    table = loaded("digest", "--on", "2025-03-12", "--format", "table").stdout
    assert " ".join(table.split()) == (
        "2 people get none: nothing to do; all clear is told once a month: north@bench.example,"
        " lead@alder.example"
    )


def test_the_table_has_a_line_a_message(loaded: Dueward) -> None:
    lines = loaded("digest", "--on", "2026-03-02", "--format", "table").stdout.splitlines()

    assert lines[0].split() == ["recipient", "kind", "subject", "lines"]
    assert lines[1].startswith("north@bench.example  consultant  North: ")
    assert max(map(len, lines)) <= 80


def test_digests_are_written_as_files(loaded: Dueward, tmp_path: Path) -> None:
    out = tmp_path / "digests"

    result = loaded("digest", "--on", "2026-03-02", "--out", str(out))

    assert result.stderr == f"wrote 4 files to {out}\n"
    assert {str(file.relative_to(out)) for file in out.rglob("*.*")} == {
        "consultant/north@bench.example.eml",
        "consultant/north@bench.example.html",
        "site_lead/lead@alder.example.eml",
        "site_lead/lead@alder.example.html",
    }


def test_the_default_day_is_today(loaded: Dueward) -> None:
    assert loaded("digest").stdout == loaded("digest", "--on", "2026-03-02").stdout


def test_sending_without_a_server_says_what_to_set(loaded: Dueward) -> None:
    result = loaded("digest", "--on", "2026-03-02", "--send")

    assert result.exit_code == 2
    assert result.stderr == (
        "DUEWARD_SMTP: '' names no mail server; write smtp://USER@HOST:587 (STARTTLS),"
        " smtps://USER@HOST:465 or smtp://localhost:2525\n"
    )


@pytest.mark.usefixtures("loaded")
def test_a_server_that_does_not_answer_fails_and_no_message_is_forgotten(tmp_path: Path) -> None:
    def program(database: str | None) -> Program:
        environment = {"DUEWARD_SMTP": "smtp://127.0.0.1:1"}
        url = f"sqlite:///{tmp_path / 'own.db'}"
        settings = Settings.from_environment(environment, url)
        return Program(settings=settings, clock=lambda: NOON, stopwatch=float, user="alice")

    result = CliRunner().invoke(main, ["digest", "--on", "2026-03-02", "--send"], obj=program)

    assert result.exit_code == 1
    first, second, fault, summary = result.stderr.splitlines()
    assert first.startswith("north@bench.example: deferred, mail server 127.0.0.1:1, connecting: ")
    assert second == "lead@alder.example: deferred, not tried, sending had stopped"
    assert fault.startswith("mail server 127.0.0.1:1, connecting: ")
    assert summary == "0 messages of 2 sent"
