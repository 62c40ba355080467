"""What `dueward verify` and `dueward roles` say, and how they end."""

# ruff: noqa: S608 (the names of tables are our own)
from __future__ import annotations

import csv
import datetime as dt
import io
import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from fleet.services.ports import Stamp
from fleet.storage import open_store
from fleet.storage.append_only import expected_triggers
from tests.fleet.cli.conftest import Dueward

NEXT = (
    "what to do: write nothing more to this database, and keep it as it is; restore the last backup"
    " beside it with dueward restore, verify that one, and compare the lines named here in both"
)


def tampered(tmp_path: Path, *statements: str) -> None:
    """Change the database behind the program, and leave its triggers as they were."""
    with closing(sqlite3.connect(tmp_path / "own.db")) as plain:
        for name in expected_triggers():
            plain.execute(f"DROP TRIGGER {name}")
        for statement in (*statements, *expected_triggers().values()):
            plain.execute(statement)
        plain.commit()


def counted(tmp_path: Path) -> tuple[int, int]:
    """The chains of the database and the lines in them, as SQLite counts them."""
    tables = ("entry", "change_line", "rule_book", "holiday_year")
    with closing(sqlite3.connect(tmp_path / "own.db")) as plain:
        (chains,) = plain.execute("SELECT count(*) FROM chain_head").fetchone()
        counts = [plain.execute(f"SELECT count(*) FROM {table}").fetchone() for table in tables]
    return chains, sum(count for (count,) in counts)


def test_a_whole_record_is_one_object_and_ends_with_0(loaded: Dueward, tmp_path: Path) -> None:
    result = loaded("verify")

    found = json.loads(result.stdout)
    assert result.exit_code == 0
    assert result.stderr == ""
    assert len(found.pop("root")) == 64
    assert (found.pop("chains"), found.pop("lines")) == counted(tmp_path)
    assert found == {
        "whole": True,
        "removed": 0,
        "sealed_at": None,
        "root_given_at": None,
        "rebuilt": False,
        "flaws": [],
    }


def test_a_sealed_root_can_be_asked_about_when_more_was_written(loaded: Dueward) -> None:
    sealed = json.loads(loaded("verify", "--seal", "--rebuild").stdout)
    loaded("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "done")

    asked = json.loads(loaded("verify", "--root", sealed["root"][:16]).stdout)

    assert sealed["sealed_at"] == asked["root_given_at"] == "2026-03-02T18:00:00+00:00"
    assert sealed["rebuilt"]
    assert asked["whole"]
    assert asked["root"] != sealed["root"]
    assert asked["sealed_at"] is None


def test_the_first_broken_entry_is_named_with_what_to_do(loaded: Dueward, tmp_path: Path) -> None:
    tampered(tmp_path, "UPDATE entry SET initials = 'ZZ' WHERE key = 'A-1/optics/2026-02-23/1'")

    result = loaded("verify")

    problem = "entry/A-1, line 2 (A-1/optics/2026-02-23/1): it was changed after it was written"
    assert result.exit_code == 1
    assert json.loads(result.stdout)["flaws"] == [problem]
    assert not json.loads(result.stdout)["whole"]
    assert result.stderr.splitlines() == [f"the record is not whole: {problem}", NEXT]


def test_a_broken_record_is_not_sealed(loaded: Dueward, tmp_path: Path) -> None:
    tampered(tmp_path, "UPDATE entry SET initials = 'ZZ' WHERE key = 'A-1/optics/2026-02-23/1'")

    result = loaded("verify", "--seal", "--rebuild")

    assert result.exit_code == 1
    assert result.stderr.splitlines()[1:] == [
        NEXT,
        "what is kept of marked days was not worked out again: the record comes first",
        "nothing was sealed",
    ]
    with closing(sqlite3.connect(tmp_path / "own.db")) as plain:
        assert plain.execute("SELECT count(*) FROM seal").fetchone() == (0,)


def test_marked_days_kept_otherwise_are_named_by_the_unit(loaded: Dueward, tmp_path: Path) -> None:
    tampered(tmp_path, "DELETE FROM marked_year WHERE task = 'annual-service' AND year = 2025")

    plain, rebuilt = loaded("verify"), loaded("verify", "--rebuild")

    assert plain.exit_code == 0
    assert rebuilt.exit_code == 1
    assert json.loads(rebuilt.stdout)["flaws"] == [
        f"{unit}: its marked days are kept otherwise than its entries add up to"
        for unit in ("A-1", "B-1")
    ]
    assert rebuilt.stderr.splitlines()[0] == (
        "the record is not whole: A-1: its marked days are kept otherwise than its entries add up"
        " to"
    )
    mended = loaded("verify", "--rebuild", "--mend")
    assert (mended.exit_code, mended.stderr.splitlines()[-1]) == (
        1,
        "mended: what is kept of A-1, B-1 is what the entries add up to again",
    )
    assert loaded("verify", "--rebuild").exit_code == 0


def test_a_root_of_another_record_fails_in_plain_words(loaded: Dueward) -> None:
    result = loaded("verify", "--root", "0123456789abcdef")

    assert result.exit_code == 1
    assert result.stderr.splitlines() == [
        "the record is not whole: root 0123456789abcdef was never given out of this record: it is"
        " not a continuation of the one that root was printed of",
        NEXT,
    ]


def test_what_is_no_root_is_wrong_use(loaded: Dueward) -> None:
    result = loaded("verify", "--root", "abc")

    assert result.exit_code == 2
    assert result.stderr == (
        "--root: 'abc' is no root hash; give the 64 digits 0-9 and a-f, or the first 16 or more,"
        " as they were printed\n"
    )


def test_a_person_reads_words(loaded: Dueward, tmp_path: Path) -> None:
    chains, lines = counted(tmp_path)
    root = json.loads(loaded("verify").stdout)["root"]

    assert loaded("verify", "--rebuild", "--format", "table").stdout == (
        f"{lines} lines in {chains} chains were looked at.\n"
        "The record is whole: every line is as it was written.\n"
        "What is kept of marked days is what the entries add up to.\n"
        f"Root: {root}\n"
        "It is not kept; say --seal to be able to ask about it later with --root.\n"
    )
    assert loaded("verify", "--seal", "--format", "table").stdout.endswith(
        f"Root: {root}\nIt is kept as one given out; write it down apart from the database.\n"
    )
    assert (
        "The root asked about was given out at 2026-03-02T18:00:00+00:00; it holds.\n"
        in loaded("verify", "--root", root, "--format", "table").stdout
    )


@pytest.mark.parametrize(
    ("removed", "words"),
    [
        (("A-1",), "1 line was"),
        (("A-1", "B-1"), "2 lines were"),
    ],
    ids=["one", "two"],
)
def test_what_was_removed_after_its_retention_is_told(
    loaded: Dueward, tmp_path: Path, removed: tuple[str, ...], words: str
) -> None:
    at = dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC)
    url = f"sqlite:///{tmp_path / 'own.db'}"
    with closing(open_store(url, clock=lambda: at)) as store, store.begin(write=True) as record:
        keys = [f"{unit}/optics/2026-02-23/1" for unit in removed]
        assert record.stored(keys).keys() == set(keys)
        record.remove(keys, [], "yearly disposal", Stamp(at, "alice", "command"))
        record.commit()

    assert json.loads(loaded("verify").stdout)["removed"] == len(removed)
    assert loaded("verify", "--format", "table").stdout.splitlines()[1:3] == [
        f"{words} removed after the retention, last at 2026-03-01T09:00:00+00:00;"
        " their hashes stand.",
        "The record is whole: every line is as it was written.",
    ]


def test_many_flaws_are_counted_for_a_person(loaded: Dueward, tmp_path: Path) -> None:
    people = ", ".join(
        f"('p{n:02}@forge.example', 'P', 'bench', '', '', 'en', '', '')" for n in range(25)
    )
    tampered(tmp_path, f"INSERT INTO person VALUES {people}")

    lines = loaded("verify", "--format", "table").stdout.splitlines()

    assert len(lines) == 1 + 20 + 1
    assert lines[1].startswith("  register/person (p00@forge.example bench")
    assert lines[-1] == "  and 5 more: see --format json"


def test_csv_is_one_row(loaded: Dueward, tmp_path: Path) -> None:
    tampered(tmp_path, "UPDATE entry SET initials = 'ZZ' WHERE key = 'A-1/optics/2026-02-23/1'")

    (row,) = csv.DictReader(io.StringIO(loaded("verify", "--format", "csv").stdout))

    assert row["whole"] == "no"
    assert row["flaws"].startswith("entry/A-1, line 2 (A-1/optics/2026-02-23/1): ")


def test_roles_on_sqlite_are_refused_with_what_to_do_there(loaded: Dueward) -> None:
    result = loaded("roles", "web")

    assert result.exit_code == 2
    assert result.stderr == (
        "--database: SQLite has no roles; let the permissions of the file and its folder say who"
        " may write to it\n"
    )


@pytest.mark.parametrize("content", [b"", b"\n", b"\xff\xfe", b"a\0b"])
def test_a_password_file_without_a_password_is_refused(
    loaded: Dueward, tmp_path: Path, content: bytes
) -> None:
    file = tmp_path / "password.txt"
    file.write_bytes(content)

    result = loaded("roles", "web", "--password-file", str(file))

    assert result.exit_code == 2
    assert result.stderr == (
        f"{file}: its first line is no password; write it there in UTF-8, alone\n"
    )


@pytest.mark.postgres
@pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True)
def test_a_login_is_made_and_found_and_its_password_never_shown(
    dueward: Dueward, fleet_url: str, tmp_path: Path
) -> None:
    file = tmp_path / "password.txt"
    file.write_text("an invented passphrase\n", encoding="utf-8")
    words = ("roles", "cli web", "--database", fleet_url, "--password-file", str(file))

    made, found, refused = (
        dueward(*words),
        dueward(*words),
        dueward("roles", "owner", *words[2:]),
    )

    assert made.stderr.splitlines() == [
        "made login cli web: it may read the record and add to it",
        "run the program as cli web from now on, and keep the owner's address for upgrades",
    ]
    assert found.stderr.startswith("found login cli web: ")
    assert (made.exit_code, found.exit_code, refused.exit_code) == (0, 0, 1)
    assert "passphrase" not in made.output + found.output + refused.output


@pytest.mark.postgres
@pytest.mark.parametrize("empty_url", ["postgresql"], indirect=True)
def test_the_program_runs_as_the_login(dueward: Dueward, fleet_url: str, files: Path) -> None:
    assert dueward("roles", "cli_app", "--database", fleet_url).exit_code == 0
    address = fleet_url.replace("owner@", "cli_app@")

    for words in (
        ("load", str(files)),
        ("mark", "A-1", "optics", "--on", "2026-03-02", "--as", "done"),
        ("due", "--on", "2026-03-02"),
        ("digest", "--on", "2026-03-02"),
        ("verify", "--rebuild", "--seal"),
    ):
        result = dueward(*words, "--database", address)
        assert result.exit_code == 0, (words, result.stderr)
    assert dueward("upgrade", "--database", fleet_url).exit_code == 0
