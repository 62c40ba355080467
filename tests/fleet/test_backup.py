"""Is a backup of a database in use whole, and does it come back, on both databases?"""

from __future__ import annotations

import errno
import os
import threading
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from fleet.errors import StoreError
from tests.fleet.backed_up import contents, put_back, saved, tables, written
from tests.fleet.storage.examples import ENTRY, add, load_units, open_now
from tests.postgres_server import new_database

Fresh = Callable[[], str]


@pytest.fixture
def filled(fleet_url: str) -> str:
    """A fleet with two units and 40 entries; its address."""
    with closing(open_now(fleet_url)) as store:
        load_units(store, "M-001", "M-002")
        for number in ("M-001", "M-002"):
            entries = [
                replace(ENTRY, key=f"{number}/{n}", property_number=number, note=f"note {n}")
                for n in range(20)
            ]
            add(store, *entries)
    return fleet_url


@pytest.fixture
def fresh(request: pytest.FixtureRequest, fleet_url: str, tmp_path: Path) -> Fresh:
    """Makes places to restore into, on the same kind of database, in a folder of their own."""
    folder = tmp_path / "restored"
    folder.mkdir()
    serial = iter(range(100))

    def make() -> str:
        if fleet_url.startswith("sqlite"):
            return f"sqlite:///{folder / f'{next(serial)}.db'}"
        return new_database(request.getfixturevalue("postgres_address"))

    return make


def test_a_backup_comes_back_with_all_it_held(filled: str, fresh: Fresh, tmp_path: Path) -> None:
    made, target = saved(filled, tmp_path / "a.backup"), fresh()
    restored = put_back(target, tmp_path / "a.backup")
    assert contents(target) == contents(filled)
    assert restored.checked == made.checked
    assert made.checked is not None
    assert (made.checked.root, made.checked.lines) == (contents(filled)[0], 43)
    assert made.bytes == (tmp_path / "a.backup").stat().st_size


def test_a_backup_of_a_database_in_use_is_of_one_moment(
    filled: str, fresh: Fresh, tmp_path: Path
) -> None:
    stop, wrote = threading.Event(), 0

    def write() -> None:
        nonlocal wrote
        with closing(open_now(filled)) as store:
            while not stop.is_set():
                add(store, replace(ENTRY, key=f"live {wrote}"))
                wrote += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        while wrote < 3:
            assert writer.is_alive()
        began = wrote
        saved(filled, tmp_path / "a.backup")
        after = wrote
        while wrote < after + 2:
            assert writer.is_alive()
    finally:
        stop.set()
        writer.join()
    target = fresh()
    put_back(target, tmp_path / "a.backup")
    with closing(open_now(target)) as store, store.begin() as record:
        copied = list(record.lines(["entry/M-001"]))
    with closing(open_now(filled)) as store, store.begin() as record:
        lines = list(record.lines(["entry/M-001"]))
    assert lines[: len(copied)] == copied
    assert 20 + began <= len(copied) < len(lines)


def test_a_restored_fleet_goes_on_where_it_was(filled: str, fresh: Fresh, tmp_path: Path) -> None:
    saved(filled, tmp_path / "a.backup")
    target = fresh()
    put_back(target, tmp_path / "a.backup")
    for url in (filled, target):
        with closing(open_now(url)) as store:
            add(store, replace(ENTRY, key="next"))
    assert contents(target) == contents(filled)
    with written(target) as connection, pytest.raises(Exception, match="append-only"):
        connection.exec_driver_sql("DELETE FROM entry")


def test_a_fleet_that_stands_is_never_overwritten(filled: str, tmp_path: Path) -> None:
    saved(filled, tmp_path / "a.backup")
    before = contents(filled)
    with pytest.raises(StoreError, match="there is a fleet here already; name a new database"):
        put_back(filled, tmp_path / "a.backup")
    assert contents(filled) == before


def test_a_file_that_is_there_is_replaced_only_on_request(filled: str, tmp_path: Path) -> None:
    file = tmp_path / "a.backup"
    file.write_text("mine")
    with pytest.raises(StoreError) as refused:
        saved(filled, file)
    assert str(refused.value) == (
        f"{file}: there is a file of that name; name another, or say --replace to replace it"
    )
    assert file.read_text() == "mine"
    saved(filled, file, over=True)
    assert file.stat().st_size > 1_000


def test_a_refused_backup_leaves_nothing_and_what_stood_stands(
    filled: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "backups"
    folder.mkdir()
    (folder / "a.backup").write_text("mine")

    def full(_: int) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr("fleet.storage.backups.os.fsync", full)
    with pytest.raises(StoreError) as refused:
        saved(filled, folder / "a.backup", over=True)
    assert str(refused.value) == (
        f"{folder / 'a.backup'}: the disk is full, and nothing was left behind; free some space,"
        " then run the command again"
    )
    assert [path.name for path in folder.iterdir()] == ["a.backup"]
    assert (folder / "a.backup").read_text() == "mine"


def test_a_changed_record_is_copied_and_its_flaws_are_told(
    filled: str, fresh: Fresh, tmp_path: Path
) -> None:
    _change_behind(filled)
    made = saved(filled, tmp_path / "a.backup")
    assert made.checked is not None
    (flaw,) = made.checked.flaws
    assert (flaw.chain, flaw.seq, flaw.problem) == (
        "entry/M-001",
        8,
        "it was changed after it was written",
    )
    target = fresh()
    with pytest.raises(StoreError) as refused:
        put_back(target, tmp_path / "a.backup")
    assert str(refused.value) == (
        f"{tmp_path / 'a.backup'}: it is damaged: chain entry/M-001, line 8 (M-001/7):"
        " it was changed after it was written;"
        " take another backup, or say --anyway to restore it as it is"
    )
    assert tables(target) == []
    put_back(target, tmp_path / "a.backup", anyway=True)
    with closing(open_now(target)) as store, store.begin() as record:
        assert list(record.flaws(lambda _: None)) == [flaw]


def _change_behind(url: str) -> None:
    """Change an entry as a forger does who owns the database."""
    with written(url) as connection:
        if url.startswith("sqlite"):
            trigger = "SELECT sql FROM sqlite_schema WHERE name = 'entry_no_update'"
            made = connection.exec_driver_sql(trigger).scalar_one()
            connection.exec_driver_sql("DROP TRIGGER entry_no_update")
        else:
            connection.exec_driver_sql("ALTER TABLE entry DISABLE TRIGGER USER")
        connection.exec_driver_sql("UPDATE entry SET note = 'forged' WHERE key = 'M-001/7'")
        if url.startswith("sqlite"):
            connection.exec_driver_sql(made)
        else:
            connection.exec_driver_sql("ALTER TABLE entry ENABLE TRIGGER USER")


def test_what_is_kept_of_units_is_worked_out_anew_where_it_was_wrong(
    filled: str, fresh: Fresh, tmp_path: Path
) -> None:
    saved(filled, tmp_path / "a.backup")
    good = fresh()
    assert put_back(good, tmp_path / "a.backup").mended == 2
    with written(good) as connection:
        connection.exec_driver_sql("DELETE FROM marked_year WHERE unit_id = 2")
    saved(good, tmp_path / "b.backup")
    again = fresh()
    assert put_back(again, tmp_path / "b.backup").mended == 1
    saved(again, tmp_path / "c.backup")
    assert put_back(fresh(), tmp_path / "c.backup").mended == 0
