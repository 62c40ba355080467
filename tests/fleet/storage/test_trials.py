"""A copy to try things on: nobody waits for it, and nothing of it is kept."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fleet.errors import StoreError
from fleet.services.ports import Stamp
from fleet.storage import create, open_store
from fleet.storage.trials import trial_of

NOON = dt.datetime(2026, 3, 2, 18, tzinfo=dt.UTC)
STAMP = Stamp(at=NOON, by="alice", source="command")


def clock() -> dt.datetime:
    return NOON


def test_while_something_is_tried_another_may_write(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    file = tmp_path / "own.db"
    create(f"sqlite:///{file}")
    store = open_store(f"sqlite:///{file}", clock=clock)
    try:
        with trial_of(file, clock) as trial, trial.begin(write=True) as tried:
            tried.add_book("tried", "0" * 64, True, STAMP)
            with store.begin(write=True) as record:
                record.add_book("kept", "1" * 64, True, STAMP)
                record.commit()
            tried.commit()
        with store.begin() as record:
            book = record.register().book
            assert book is not None
            assert book.text == "kept"
    finally:
        store.close()
    assert [path.name for path in tmp_path.iterdir() if path.is_dir()] == []


def test_what_is_wrong_is_told_of_the_database_itself(tmp_path: Path) -> None:
    file = tmp_path / "own.db"
    file.write_bytes(b"no database at all, but long enough to look like a file of something")
    with pytest.raises(StoreError) as caught, trial_of(file, clock):
        pass
    assert str(file) in str(caught.value)
    assert "trial.db" not in str(caught.value)
