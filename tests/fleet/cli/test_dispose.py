"""`dueward dispose`: reports first, removes only what is meant, and only with a backup at hand."""

from __future__ import annotations

import datetime as dt
import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from tests.fleet.cli.conftest import NOON, Dueward
from tests.fleet.files.certificates import PLAIN_PDF

LATER = NOON.replace(year=2028, day=3)
"""A day after the two years of what was loaded at NOON."""
DISPOSE = ("dispose", "--before", "2026-03-01", "--why", "yearly disposal")
ON = ("--on", "2026-03-02")

Later = Callable[..., Result]


@pytest.fixture
def later(loaded: Dueward) -> Later:
    """The command on the small fleet, when its retention is over."""
    return lambda *words: loaded(*words, at=LATER)


@pytest.fixture
def backup(loaded: Dueward, tmp_path: Path) -> Path:
    """A copy of the database as it is now."""
    copy = tmp_path / "copy.db"
    with closing(sqlite3.connect(tmp_path / "own.db")) as own:
        own.execute("VACUUM INTO ?", (str(copy),))
    return copy


def rows(result: Result) -> list[dict[str, Any]]:
    assert result.exit_code == 0, result.stderr
    found: list[dict[str, Any]] = json.loads(result.stdout)
    return found


def words_left(tmp_path: Path) -> list[str]:
    with closing(sqlite3.connect(tmp_path / "own.db")) as own:
        return [row[0] for row in own.execute("SELECT initials FROM entry WHERE initials <> ''")]


def test_without_yes_it_only_reports(later: Later, tmp_path: Path) -> None:
    for more in ((), ("--dry-run",), ("--dry-run", "--yes")):
        result = later(*DISPOSE, *more)

        assert rows(result) == [
            {
                "kind": "microscope",
                "retention": "P2Y",
                "entries": 4,
                "entries_until": "2026-02-27",
                "certificates": 0,
                "certificates_until": None,
                "kept_in_retention": 0,
                "kept_recorded_later": 0,
                "kept_with_correction": 0,
                "kept_open_action": 0,
                "kept_certificates": 0,
                "removed_before": 0,
            }
        ]
        assert result.stderr == (
            "4 entries and 0 certificates may go; nothing was removed: add --yes"
            " (on SQLite also --backup FILE)\n"
        )
    assert len(words_left(tmp_path)) == 4


def test_what_was_loaded_is_kept_for_two_years_from_then(loaded: Dueward) -> None:
    for at, dated, recorded in ((NOON, 4, 0), (LATER - dt.timedelta(days=1), 0, 4)):
        result = loaded(*DISPOSE, at=at)

        (row,) = rows(result)
        kept = (row["kept_in_retention"], row["kept_recorded_later"])
        assert (row["entries"], kept) == (0, (dated, recorded))
        assert result.stderr == (
            "nothing has outlived its retention before that day; nothing was removed\n"
        )


def test_no_answer_changes_when_it_is_done(later: Later, backup: Path, tmp_path: Path) -> None:
    questions = [
        ("due", *ON),
        ("gaps", "--from", "2026-02-01", "--to", "2026-03-02", *ON),
        ("why", "A-1", "annual-service", *ON),
    ]
    before = [later(*question).stdout for question in questions]

    done = later(*DISPOSE, "--backup", str(backup), "--yes")

    assert [row["entries"] for row in rows(done)] == [4]
    assert done.stderr == (
        "removed the words of 4 entries and 0 certificates; backups, exports and packets made"
        " before still hold them, and what a service report says stays in its change line\n"
    )
    assert [later(*question).stdout for question in questions] == before
    assert words_left(tmp_path) == []
    again = later(*DISPOSE, "--yes")
    assert [row["removed_before"] for row in rows(again)] == [4]


def test_the_files_it_was_loaded_from_still_say_nothing_new(
    later: Later, backup: Path, files: Path
) -> None:
    later(*DISPOSE, "--backup", str(backup), "--yes")

    loaded_again = {row["table"]: row for row in rows(later("load", str(files)))}
    marked_again = later(
        *("mark", "A-1", "annual-service", "--on", "2025-01-03", "--as", "done"),
        *("--initials", "OV", "--key", "A-1/annual-service/2025-01-03/1"),
    )

    assert (loaded_again["entries"]["new"], loaded_again["entries"]["unchanged"]) == (0, 4)
    assert json.loads(marked_again.stdout)["source"] == "removed"


@pytest.mark.parametrize(
    ("given", "problem"),
    [
        (None, "what is removed cannot be brought back without a backup"),
        ("own.db", "it is the database itself"),
        ("old.db", "{old} is not a backup of the record as it is now"),
    ],
)
def test_it_is_refused_without_a_backup_of_now(
    later: Later, backup: Path, tmp_path: Path, given: str | None, problem: str
) -> None:
    backup.rename(tmp_path / "old.db")
    later("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "done", "--initials", "GR")
    option = () if given is None else ("--backup", str(tmp_path / given))

    result = later(*DISPOSE, *option, "--yes")

    assert (result.exit_code, result.stdout) == (2, "")
    assert result.stderr == (
        f"--backup: {problem.format(old=tmp_path / 'old.db')};"
        " run dueward backup FILE, then give --backup FILE\n"
    )
    assert len(words_left(tmp_path)) == 5


def test_a_certificate_goes_and_its_report_stays(
    loaded: Dueward, tmp_path: Path, later: Later
) -> None:
    file = tmp_path / "report.pdf"
    file.write_bytes(PLAIN_PDF)
    service = ("service", "A-1", "annual-service", "--on", "2026-02-27")
    loaded(*service, "--vendor", "Example Optics", "--certificate", str(file))
    copy = tmp_path / "copy.db"
    with closing(sqlite3.connect(tmp_path / "own.db")) as own:
        own.execute("VACUUM INTO ?", (str(copy),))

    done = later(*DISPOSE, "--backup", str(copy), "--yes")
    saved = later(*service, "--save", str(tmp_path / "back.pdf"))

    assert [(row["entries"], row["certificates"]) for row in rows(done)] == [(5, 1)]
    assert (saved.exit_code, saved.stderr) == (
        2,
        "report.pdf: the file is not kept (any more); ask the vendor for it\n",
    )
    with closing(sqlite3.connect(tmp_path / "own.db")) as own:
        assert own.execute("SELECT vendor FROM service_report").fetchall() == [("Example Optics",)]


def test_the_report_for_people_fits_the_terminal(later: Later) -> None:
    told = later(*DISPOSE, "--format", "table").stdout.splitlines()

    headings, (kind, *cells) = told[0], told[1].split()
    assert headings.split("  ")[0] == "kind"
    assert headings.endswith("what stays, and why")
    assert (kind, *cells) == ("microscope", "P2Y", "4", "0", "Fri", "27", "Feb", "2026")
    assert max(map(len, told)) <= 80


def test_an_unknown_kind_and_no_reason_are_refused(later: Later, backup: Path) -> None:
    kind = later(*DISPOSE, "--kind", "kiln")
    why = later("dispose", "--before", "2026-03-01", "--why", " ", "--backup", str(backup), "--yes")

    assert (kind.exit_code, kind.stderr) == (
        2,
        "no kind 'kiln'; the units are of: microscope\n",
    )
    assert (why.exit_code, why.stderr) == (
        2,
        "dispose, why: no reason is given; say why with --why\n",
    )
