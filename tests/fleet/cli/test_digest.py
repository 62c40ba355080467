"""What does `dueward digest` tell, write and send?"""

from __future__ import annotations

import json
import re
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner, Result

from fleet.cli.main import main
from fleet.domain.chain import Seal, root_of
from fleet.storage import SqlStore, open_store
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


@pytest.mark.parametrize(
    ("roles", "kinds"),
    [
        ((), ["consultant", "site_lead"]),
        (("site lead",), ["site_lead"]),
        (("Site Lead", "consultant"), ["consultant", "site_lead"]),
        (("manager",), []),
    ],
)
def test_only_the_readers_named_are_written_to(
    loaded: Dueward, roles: tuple[str, ...], kinds: list[str]
) -> None:
    """So that a machine's scheduler can send each role's at its own time."""
    words = [word for role in roles for word in ("--for", role)]

    result = loaded("digest", "--on", "2026-03-02", *words)

    assert [row["kind"] for row in rows(result.stdout)] == kinds


def test_a_reader_who_gets_no_digest_is_refused(loaded: Dueward) -> None:
    result = loaded("digest", "--for", "inspector")

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        "dueward digest: Invalid value for '--for': 'inspector' is not one of 'site lead',"
        " 'consultant', 'manager'; see dueward digest --help\n"
    )


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
    assert loaded("digest", "--on", "2026-03-02", "--format", "table").stdout == (
        "recipient            kind        subject\n"
        "north@bench.example  consultant  North: 1 task overdue, 1 month to review\n"
        "lead@alder.example   site lead   Alder Creek Laboratory: 1 overdue\n"
        "\n"
        "2 mails: 1 consultant and 1 site lead.\n"
    )


def test_a_long_subject_is_cut_in_the_table_alone(
    loaded: Dueward, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "60")

    told = loaded("digest", "--on", "2026-03-02", "--format", "table").stdout.splitlines()

    assert told[2] == "lead@alder.example   site lead   Alder Creek Laboratory: …"
    subjects = [row["subject"] for row in rows(loaded("digest", "--on", "2026-03-02").stdout)]
    assert subjects == [
        "North: 1 task overdue, 1 month to review",
        "Alder Creek Laboratory: 1 overdue",
    ]


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

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        "DUEWARD_SMTP: '' names no mail server; write smtp://USER@HOST:587 (STARTTLS),"
        " smtps://USER@HOST:465 or smtp://localhost:2525\n"
    )


def sent(tmp_path: Path, **environment: str) -> Result:
    """What `digest --send` does with these settings."""

    def program(database: str | None) -> Program:
        url = f"sqlite:///{tmp_path / 'own.db'}"
        settings = Settings.from_environment(environment, url)
        return Program(settings=settings, clock=lambda: NOON, stopwatch=float, user="alice")

    return CliRunner().invoke(main, ["digest", "--on", "2026-03-02", "--send"], obj=program)


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize(
    ("environment", "message"),
    [
        (
            {
                "DUEWARD_SMTP": "smtps://ana@mail.example",
                "DUEWARD_SMTP_PASSWORD_FILE": "no-such-file",
            },
            "DUEWARD_SMTP_PASSWORD_FILE: 'no-such-file' cannot be read"
            " (No such file or directory); name a file that this program may read\n",
        ),
        (
            {"DUEWARD_SMTP": "smtps://mail.example", "DUEWARD_SMTP_CA_FILE": "no-such-file"},
            "DUEWARD_SMTP_CA_FILE: 'no-such-file' cannot be read as certificates"
            " ([Errno 2] No such file or directory); name a file of PEM certificates\n",
        ),
        (
            {"DUEWARD_SMTP": "smtp://127.0.0.1:1", "DUEWARD_MAIL_FROM": "nobody"},
            "DUEWARD_MAIL_FROM: 'nobody' is not an address that can be written to:"
            " An email address must have an @-sign.; write one address, as digest@lab.example\n",
        ),
    ],
)
def test_settings_that_cannot_work_are_told_before_anything_is_answered(
    tmp_path: Path, environment: dict[str, str], message: str
) -> None:
    result = sent(tmp_path, **environment)

    assert (result.exit_code, result.stdout, result.stderr) == (2, "", message)


@pytest.mark.usefixtures("loaded")
def test_a_server_that_does_not_answer_fails_and_no_message_is_forgotten(tmp_path: Path) -> None:
    result = sent(tmp_path, DUEWARD_SMTP="smtp://127.0.0.1:1")

    assert result.exit_code == 1
    assert {row["skipped"] for row in rows(result.stdout)} == {None}
    fault, summary = result.stderr.splitlines()
    assert fault.startswith("sending has stopped: mail server 127.0.0.1:1, connecting: ")
    assert summary == "0 messages sent, 2 waiting, 0 dead; see dueward outbox"


@pytest.mark.usefixtures("loaded")
def test_what_was_planned_once_is_not_planned_again(tmp_path: Path) -> None:
    sent(tmp_path, DUEWARD_SMTP="smtp://127.0.0.1:1")

    again = sent(tmp_path, DUEWARD_SMTP="smtp://127.0.0.1:1")

    assert rows(again.stdout) == []
    assert again.stderr.splitlines()[:2] == [
        "lead@alder.example: the site lead digest of 2026-W10 is in the outbox already, queued",
        "north@bench.example: the consultant digest of 2026-W10 is in the outbox already, queued",
    ]


# --- the record's root


MANAGER = "email,name,role\nmax@bench.example,Max Orr,manager\n"


@pytest.fixture
def managed(loaded: Dueward, files: Path) -> Dueward:
    """The small fleet with a manager."""
    (files / "people.csv").write_text(MANAGER, encoding="utf-8")
    assert loaded("load", str(files / "people.csv")).exit_code == 0
    return loaded


def opened(tmp_path: Path) -> closing[SqlStore]:
    return closing(open_store(f"sqlite:///{tmp_path / 'own.db'}", clock=lambda: NOON))


def seals(tmp_path: Path) -> list[Seal]:
    """The roots that were given out, from the database itself."""
    with opened(tmp_path) as store, store.begin() as record:
        return list(record.seals())


def root_in(text: str) -> str:
    """The root that a mail's text tells, its groups put together."""
    told = re.search(r"Record root on Mon 2 Mar 2026:((?:\s+[0-9a-f]{16}){4})\s", text)
    assert told is not None
    return re.sub(r"\s", "", told[1])


def present_root(tmp_path: Path) -> str:
    """The root of the record as it is."""
    with opened(tmp_path) as store, store.begin() as record:
        return root_of(record.heads())


def test_telling_a_manager_s_digest_shows_the_root_and_writes_nothing(
    managed: Dueward, tmp_path: Path
) -> None:
    (row,) = rows(managed("digest", "--for", "manager").stdout)

    assert root_in(row["text"]) == present_root(tmp_path)
    assert seals(tmp_path) == []


def test_what_leaves_the_program_bears_a_root_that_is_sealed(
    managed: Dueward, tmp_path: Path
) -> None:
    before = present_root(tmp_path)

    result = managed("digest", "--out", str(tmp_path / "out"))

    (seal,) = seals(tmp_path)
    (row,) = [row for row in rows(result.stdout) if row["kind"] == "manager"]
    assert (seal.root, seal.sealed_at) == (before, NOON)
    assert root_in(row["text"]) == seal.root
    page = (tmp_path / "out" / "manager" / "max@bench.example.html").read_text(encoding="utf-8")
    assert seal.root in re.sub(r"<[^>]+>|\s", "", page)
    assert present_root(tmp_path) == before  # a seal is under no root


def test_a_root_is_sealed_again_each_time_it_is_given_out(managed: Dueward, tmp_path: Path) -> None:
    managed("digest", "--out", str(tmp_path / "out"))
    managed("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "done", "--initials", "GR")
    managed("digest", "--out", str(tmp_path / "out"))

    first, second = seals(tmp_path)
    assert first.root != second.root == present_root(tmp_path)


@pytest.mark.usefixtures("managed")
def test_sending_seals_the_root_too(tmp_path: Path) -> None:
    result = sent(tmp_path, DUEWARD_SMTP="smtp://127.0.0.1:1")

    assert result.exit_code == 1
    assert [seal.root for seal in seals(tmp_path)] == [present_root(tmp_path)]


def test_nothing_is_sealed_where_no_manager_is_written_to(managed: Dueward, tmp_path: Path) -> None:
    managed("digest", "--for", "site lead", "--out", str(tmp_path / "out"))

    assert seals(tmp_path) == []


def test_nothing_is_sealed_where_there_is_no_manager(loaded: Dueward, tmp_path: Path) -> None:
    loaded("digest", "--out", str(tmp_path / "out"))

    assert seals(tmp_path) == []


@pytest.mark.usefixtures("managed")
def test_nothing_is_sealed_where_the_settings_cannot_work(tmp_path: Path) -> None:
    assert sent(tmp_path, DUEWARD_SMTP="").exit_code == 2
    assert seals(tmp_path) == []
