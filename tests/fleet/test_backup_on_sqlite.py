"""What can a backup of a SQLite file suffer, and is it noticed?"""

from __future__ import annotations

import os
import sqlite3
import subprocess
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from random import Random

import pytest
from alembic import command
from alembic.config import Config

from fleet.errors import StoreError
from fleet.storage import create, lifecycle, open_store, sqlite_copies
from tests.fleet.backed_up import contents, put_back, refusal_of, saved, written
from tests.fleet.storage.examples import ENTRY, STAMP, add, load_units, open_now


@pytest.fixture
def small(tmp_path: Path) -> Path:
    """A backup of a small SQLite fleet."""
    url = f"sqlite:///{tmp_path / 'small.db'}"
    create(url)
    with closing(open_now(url)) as store:
        load_units(store, "M-001")
        add(store, *[replace(ENTRY, key=f"{n}", note=f"note {n}" * 20) for n in range(60)])
    saved(url, tmp_path / "small.backup")
    return tmp_path / "small.backup"


def _rows(file: Path) -> dict[str, list[str]]:
    with closing(sqlite3.connect(file)) as connection:
        connection.text_factory = bytes
        names = connection.execute("SELECT name FROM sqlite_schema WHERE type = 'table'").fetchall()
        tables = [name.decode() for (name,) in names]
        rows = {t: connection.execute(f"SELECT * FROM {t}") for t in [*tables, "sqlite_schema"]}  # noqa: S608
        return {
            table: sorted(repr(row[:3] if table == "sqlite_schema" else row) for row in found)
            for table, found in rows.items()
        }


def test_a_flipped_bit_is_refused_or_changes_nothing(small: Path, tmp_path: Path) -> None:
    draw, whole = Random(20261125), small.read_bytes()
    put_back(f"sqlite:///{tmp_path / 'right.db'}", small)
    right, refusals = _rows(tmp_path / "right.db"), 0
    used = [at for at in range(len(whole)) if whole[at]]
    for turn in range(40):
        at, flipped = draw.choice(used), bytearray(whole)
        flipped[at] ^= 1 << draw.randrange(8)
        spoiled, target = tmp_path / "spoiled.backup", tmp_path / f"{turn}.db"
        spoiled.write_bytes(flipped)
        refused = refusal_of(f"sqlite:///{target}", spoiled)
        if refused is None:
            assert _rows(target) == right, at
        else:
            refusals += 1
            assert refused.startswith(f"{spoiled}: "), at
            assert not target.exists()
    assert refusals > 20


@pytest.mark.parametrize(
    ("spoil", "told"),
    [
        (lambda whole: whole[:-4096], "SQLite"),
        (lambda whole: b"SQLite", "it does not begin as a SQLite database does"),
        (lambda whole: b"", "it does not begin as a SQLite database does"),
        (lambda whole: whole.replace(b"note 7note 7", b"note 8note 7"), "line 8 (7): it was cha"),
        (
            lambda whole: whole.replace(b"BEFORE DELETE ON entry ", b"BEFORE UPDATE ON entry "),
            "'entry_no_delete' in its schema is missing or was changed",
        ),
        (lambda whole: whole.replace(b"alder-creek", b"alder-cr\xff\xffk"), "it is damaged"),
    ],
    ids=["cut off", "beginning only", "empty", "text", "trigger", "no utf-8"],
)
def test_a_damaged_backup_is_refused_and_leaves_nothing(
    small: Path, tmp_path: Path, spoil: Callable[[bytes], bytes], told: str
) -> None:
    folder = tmp_path / "new"
    folder.mkdir()
    small.write_bytes(spoil(small.read_bytes()))
    with pytest.raises(StoreError) as refused:
        put_back(f"sqlite:///{folder / 'a.db'}", small)
    assert str(refused.value).startswith(f"{small}: it is damaged: ")
    assert told in str(refused.value)
    assert list(folder.iterdir()) == []


def test_what_is_written_after_the_copy_began_is_not_in_it(
    small: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    url, copied = f"sqlite:///{tmp_path / 'small.db'}", tmp_path / "b.backup"
    counted = sqlite_copies._table_counts

    def count_then_write(connection: sqlite3.Connection) -> dict[str, int]:
        counts = counted(connection)
        with closing(open_now(url)) as store:
            add(store, replace(ENTRY, key=f"late {counts['entry']}"))
        monkeypatch.undo()
        return counts

    monkeypatch.setattr(sqlite_copies, "_table_counts", count_then_write)
    saved(url, copied)
    assert _rows(copied)["entry"] == _rows(small)["entry"]
    assert len(_rows(tmp_path / "small.db")["entry"]) == 61


def test_an_empty_file_takes_a_backup(small: Path, tmp_path: Path) -> None:
    target = tmp_path / "empty.db"
    target.touch()
    put_back(f"sqlite:///{target}", small)
    assert contents(f"sqlite:///{target}") == contents(f"sqlite:///{tmp_path / 'small.db'}")


def test_the_log_of_another_database_is_not_read_into_a_restored_one(
    small: Path, tmp_path: Path
) -> None:
    # A log beside a database is played back into it (SQLite file format, section 4).
    target = tmp_path / "new.db"
    (tmp_path / "new.db-wal").write_bytes(b"left behind")
    with pytest.raises(StoreError) as refused:
        put_back(f"sqlite:///{target}", small)
    assert str(refused.value) == (
        f"{target}: new.db-wal of another database is left beside it; move it away,"
        " or name another place"
    )


def test_the_log_of_another_database_beside_a_backup_is_not_read_into_it(
    small: Path, tmp_path: Path
) -> None:
    target = tmp_path / "nightly.backup"
    saved(f"sqlite:///{tmp_path / 'small.db'}", target)
    before = target.read_bytes()
    (tmp_path / "nightly.backup-wal").write_bytes(b"left behind")

    with pytest.raises(StoreError) as refused:
        saved(f"sqlite:///{tmp_path / 'small.db'}", target, over=True)

    assert str(refused.value) == (
        f"{target}: nightly.backup-wal of another database is left beside it; move it away,"
        " or name another file"
    )
    assert target.read_bytes() == before


def test_a_database_in_use_is_no_backup(tmp_path: Path) -> None:
    url = f"sqlite:///{tmp_path / 'live.db'}"
    create(url)
    with closing(open_now(url)) as store, store.begin(write=True), store.begin() as reading:
        reading.register()
        (tmp_path / "live.db-wal").write_bytes(b"x" * 32)
        with pytest.raises(StoreError, match="this database is in use, its log stands beside it"):
            put_back(f"sqlite:///{tmp_path / 'new.db'}", tmp_path / "live.db")
        (tmp_path / "live.db-wal").write_bytes(b"")


@pytest.mark.parametrize("name", ["small.db", "small.db-wal", "./sub/../small.db", "link.db"])
def test_a_backup_onto_the_database_itself_is_refused(
    small: Path, tmp_path: Path, name: str
) -> None:
    (tmp_path / "sub").mkdir()
    (tmp_path / "link.db").symlink_to(tmp_path / "small.db")
    file = tmp_path / name
    with pytest.raises(StoreError) as refused:
        saved(f"sqlite:///{tmp_path / 'small.db'}", file, over=True)
    assert str(refused.value) == f"{file}: that is the database itself; name another file"


def test_a_backup_is_as_private_as_the_database(small: Path, tmp_path: Path) -> None:
    (tmp_path / "small.db").chmod(0o600)
    saved(f"sqlite:///{tmp_path / 'small.db'}", tmp_path / "b.backup")
    assert (tmp_path / "b.backup").stat().st_mode & 0o777 == 0o600


def test_a_backup_of_an_earlier_version_is_restored_as_it_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    config, file = Config(), tmp_path / "old.db"
    config.set_main_option("script_location", str(lifecycle._SCRIPTS))
    with written(f"sqlite:///{file}") as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "0001")
    made = saved(f"sqlite:///{file}", tmp_path / "old.backup")
    assert made.checked is None
    restored = put_back(f"sqlite:///{tmp_path / 'new.db'}", tmp_path / "old.backup")
    assert restored.checked is None
    assert lifecycle.schema_state(f"sqlite:///{tmp_path / 'new.db'}") == "older"
    lifecycle.upgrade(f"sqlite:///{tmp_path / 'new.db'}")
    open_store(f"sqlite:///{tmp_path / 'new.db'}", clock=lambda: STAMP.at).close()


@pytest.mark.skipif(os.geteuid() != 0, reason="only root may mount a small disk")
def test_a_disk_that_fills_up_leaves_nothing(small: Path, tmp_path: Path) -> None:
    disk = tmp_path / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=64k", "tmpfs", str(disk)]
    if subprocess.run(mount, capture_output=True).returncode != 0:
        pytest.skip("this machine mounts no small disk")
    told = (
        "the disk is full, and nothing was left behind; free some space, then run the command again"
    )
    try:
        for action, place in (
            (lambda: saved(f"sqlite:///{tmp_path / 'small.db'}", disk / "a.backup"), "small.db"),
            (lambda: put_back(f"sqlite:///{disk / 'a.db'}", small), "disk/a.db"),
        ):
            with pytest.raises(StoreError) as refused:
                action()
            assert str(refused.value) == f"{tmp_path / place}: {told}"
            assert list(disk.iterdir()) == []
    finally:
        subprocess.run(["umount", str(disk)], check=True)
