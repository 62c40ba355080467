"""Is the program put together from its settings, and from nothing else?"""

from __future__ import annotations

import datetime as dt
import os
import pwd
import re
from contextlib import ExitStack
from pathlib import Path

import pytest

from fleet import wiring
from fleet.errors import BadInput, StoreError
from fleet.wiring import Program, Settings


@pytest.mark.parametrize(
    ("environment", "named", "database"),
    [
        ({}, None, "sqlite:///dueward.db"),
        ({"DUEWARD_DATABASE": ""}, None, "sqlite:///dueward.db"),
        ({"DUEWARD_DATABASE": "sqlite:///of-the-machine.db"}, None, "sqlite:///of-the-machine.db"),
        ({"DUEWARD_DATABASE": "sqlite:///of-the-machine.db"}, "sqlite:///x.db", "sqlite:///x.db"),
        (
            {},
            "postgresql+psycopg://owner@db.example/fleet",
            "postgresql+psycopg://owner@db.example/fleet",
        ),
    ],
)
def test_a_database_that_is_named_beats_the_environment_and_that_the_default(
    environment: dict[str, str], named: str | None, database: str
) -> None:
    assert Settings.from_environment(environment, named).database == database


@pytest.mark.parametrize(
    ("environment", "named", "message"),
    [
        ({}, "", "--database: no database is named"),
        ({}, "fleet.db", "--database: 'fleet.db' is not the address of a database"),
        (
            {},
            "mysql://u:p@db.example/fleet?password=s@cret",
            "--database: 'mysql://…' is not the address of a database",
        ),
        ({}, "host=db.example password=s", "--database: '…' is not the address of a database"),
        (
            {"DUEWARD_DATABASE": "db://owner:secret@db.example/fleet"},
            None,
            "DUEWARD_DATABASE: 'db://…' is not the address of a database",
        ),
    ],
)
def test_what_is_no_address_is_refused_without_its_password(
    environment: dict[str, str], named: str | None, message: str
) -> None:
    with pytest.raises(BadInput) as caught:
        Settings.from_environment(environment, named)

    assert str(caught.value) == f"{message}; write sqlite:///FILE or postgresql://USER@HOST/NAME"


def test_mail_settings_come_from_the_environment() -> None:
    settings = Settings.from_environment({"DUEWARD_SMTP": "smtp://localhost:2525"})

    assert settings.mail.smtp == "smtp://localhost:2525"


def test_the_user_is_the_one_the_machine_knows_and_cannot_be_given(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setenv("LOGNAME", "someone-else")
    monkeypatch.setenv("USER", "someone-else")

    assert wiring.program().user == pwd.getpwuid(os.getuid()).pw_name


def test_a_user_without_a_name_is_known_by_number(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "getuid", lambda: 987_654_321)

    assert wiring.system_user() == "uid 987654321"


def test_the_clock_has_a_zone_and_a_stamp_says_who_and_when() -> None:
    at = dt.datetime(2026, 3, 2, 18, tzinfo=dt.UTC)
    program = Program(settings=Settings(), clock=lambda: at, stopwatch=lambda: 0.0, user="alice")

    stamp = program.stamp("file")

    assert wiring.program().clock().utcoffset() == dt.timedelta(0)
    assert (stamp.at, stamp.by, stamp.source) == (at, "command:alice", "file")


def test_the_slower_of_two_first_loads_does_not_wipe_out_the_quicker(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    quick, slow = wiring.program(url), wiring.program(url)
    meanwhile = ExitStack()
    meanwhile.enter_context(slow.filled())
    with quick.filled() as store, store.begin(write=True) as record:
        record.add_book("the quicker one's", "00", True, quick.stamp("file"))
        record.commit()

    with pytest.raises(StoreError) as caught:
        meanwhile.close()

    assert str(caught.value) == (
        f"{tmp_path / 'fleet.db'}: another load made it meanwhile, and nothing of this one was"
        " kept; load again into the one that is there"
    )
    with wiring.program(url).store.begin() as record:
        book = record.register().book
    assert book is not None
    assert book.text == "the quicker one's"


def test_an_empty_file_becomes_the_database(tmp_path: Path) -> None:
    file = tmp_path / "e.db"
    file.touch(mode=0o640)
    program = wiring.program(f"sqlite:///{file}")

    with program.filled() as store, store.begin(write=True) as record:
        record.add_book("a book", "00", True, program.stamp("file"))
        record.commit()
    program.close()

    assert file.stat().st_mode & 0o777 == 0o640
    with wiring.program(f"sqlite:///{file}").store.begin() as record:
        book = record.register().book
    assert book is not None
    assert book.text == "a book"


def test_a_dry_run_leaves_an_empty_file_empty(tmp_path: Path) -> None:
    file = tmp_path / "e.db"
    file.touch()

    with wiring.program(f"sqlite:///{file}").filled(dry_run=True) as store, store.begin() as record:
        assert record.register().book is None

    assert [(path.name, path.stat().st_size) for path in tmp_path.iterdir()] == [("e.db", 0)]


@pytest.mark.parametrize("size", [3, 100, 5_000])
def test_a_file_that_is_no_database_is_told_and_left_as_it_is(tmp_path: Path, size: int) -> None:
    file = tmp_path / "letter.db"
    file.write_bytes(b"x" * size)

    with pytest.raises(StoreError) as caught, wiring.program(f"sqlite:///{file}").filled():
        pass

    assert str(caught.value) == (
        f"{file}: this is not a database; name another file with --database, or move this one away"
    )
    assert [(path.name, path.read_bytes()) for path in tmp_path.iterdir()] == [
        ("letter.db", b"x" * size)
    ]


def test_a_refusal_while_a_database_is_made_names_the_one_that_was_asked_for(
    tmp_path: Path,
) -> None:
    file = tmp_path / "fleet.db"

    def fill() -> None:
        with wiring.program(f"sqlite:///{file}").filled():
            (made,) = tmp_path.glob("*/made.db")
            raise StoreError(f"{made}: its disk is full")

    with pytest.raises(StoreError) as caught:
        fill()

    assert str(caught.value) == f"{file}: its disk is full"
    assert list(tmp_path.iterdir()) == []


def test_numbers_of_prints_are_eight_signs_and_differ() -> None:
    of = Program(settings=Settings(), clock=wiring.utc_now, stopwatch=float, user="alice")

    drawn = [of.draw_number() for _ in range(200)]

    assert all(re.fullmatch("[0-9A-Z]{8}", number) for number in drawn)
    assert len(set(drawn)) == 200
    assert set("".join(drawn)) == set("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ")
