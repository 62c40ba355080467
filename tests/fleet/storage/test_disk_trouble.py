"""What does a disk leave behind that fails or fills in the midst of making a database?"""

from __future__ import annotations

import os
import sqlite3
from contextlib import ExitStack, closing
from pathlib import Path

import pytest

from fleet.errors import StoreError
from fleet.storage import upgrade
from fleet.storage.engines import make_engine, parse_url
from fleet.storage.refusals import in_words
from fleet.storage.schema import HEAD
from fleet.wiring import Program, Settings
from tests.fleet.storage.examples import SITE, STAMP, new
from tests.studies.survival.invented import invented
from tests.studies.survival.version_0001 import build


def test_a_database_whose_log_could_not_be_written_back_does_not_get_its_name(
    tmp_path: Path,
) -> None:
    """A log that stays beside the new file holds what is missing in it: SQLite, WAL, 2.2.

    Another reader keeps it from being written back here, a full disk does elsewhere.
    """
    file = tmp_path / "fleet.db"
    of = Program(
        settings=Settings(database=f"sqlite:///{file}"),
        clock=lambda: STAMP.at,
        stopwatch=float,
        user="alice",
    )
    with pytest.raises(StoreError) as refused:
        _fill_while_another_reads(of, tmp_path)

    assert str(refused.value) == (
        f"{file}: it could not be written to the disk whole, so nothing of it was kept;"
        " free some space, then run the command again"
    )
    assert list(tmp_path.iterdir()) == []


def _fill_while_another_reads(of: Program, folder: Path) -> None:
    with ExitStack() as stack, of.filled() as store:
        (made,) = folder.glob("*/made.db")
        other = stack.enter_context(closing(sqlite3.connect(made, isolation_level=None)))
        with store.begin(write=True) as record:
            record.change([new(SITE)], STAMP)
            record.commit()
        other.execute("BEGIN")
        other.execute("SELECT count(*) FROM site").fetchall()


def test_a_copy_that_fails_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "fleet.db"
    build(f"sqlite:///{file}", invented(1, 5), [])

    def full(_: int) -> None:
        assert not list(tmp_path.glob("*-before-*.db")), "it has its name before it is whole"
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        upgrade(f"sqlite:///{file}")

    assert [path.name for path in tmp_path.iterdir()] == ["fleet.db"]


def test_what_is_left_of_a_copy_that_was_killed_is_no_hindrance(tmp_path: Path) -> None:
    file = tmp_path / "fleet.db"
    build(f"sqlite:///{file}", invented(1, 5), [])
    (tmp_path / f"fleet-before-{HEAD}-1.db.part").write_text("half of it")

    assert upgrade(f"sqlite:///{file}") == tmp_path / f"fleet-before-{HEAD}-1.db"
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        f"fleet-before-{HEAD}-1.db",
        "fleet.db",
    ]


@pytest.mark.parametrize(
    ("code", "words"),
    [
        (
            sqlite3.SQLITE_IOERR_SHMSIZE,
            "its disk is full and nothing was written; free some space, then run the command again",
        ),
        (
            sqlite3.SQLITE_IOERR_READ,
            "it cannot be read from or written to the disk; see that the disk has room and works,"
            " then run the command again",
        ),
    ],
)
def test_a_disk_that_fails_is_told_with_the_mend(tmp_path: Path, code: int, words: str) -> None:
    """A full disk may have no room even for the 32 KB by which programs share a file's log."""
    file = tmp_path / "fleet.db"
    with closing(sqlite3.connect(file)):
        engine = make_engine(parse_url(f"sqlite:///{file}"))
    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorcode = code

    with pytest.raises(StoreError) as refused, in_words(engine):
        raise error

    assert str(refused.value) == f"{file}: {words}"
