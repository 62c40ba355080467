"""What a unit of work keeps, and what two of them see of each other."""

from __future__ import annotations

import datetime as dt
import threading
from dataclasses import replace
from pathlib import Path

import pytest
import sqlalchemy as sa
from sqlalchemy import event

from fleet.errors import NotFound, StoreError
from fleet.services.ports import Record, Store
from fleet.storage import SqlStore, create, engines, open_store
from tests.fleet.storage.examples import ENTRY, SITE, STAMP, UNIT, add, load_units, new


def keys(store: SqlStore) -> list[str]:
    with store.begin() as record:
        return [line.entry.key for line in record.entries()]


def test_store_and_its_units_of_work_fill_the_ports(store: SqlStore) -> None:
    """The type checker holds the signatures against the ports."""
    port: Store = store
    with port.begin(write=True) as work:
        record: Record = work
        assert record.unit_ids() == {}


def test_no_commit_keeps_nothing(store: SqlStore) -> None:
    with store.begin(write=True) as record:
        record.change([new(SITE), new(UNIT)], STAMP)
        record.append([ENTRY], STAMP)
        record.add_book("text", "0" * 64, True, STAMP)

    with store.begin() as record:
        assert record.unit_ids() == {}
        assert record.register().book is None
        assert list(record.entries()) == []


def test_error_keeps_nothing(store: SqlStore) -> None:
    def load_and_fail() -> None:
        with store.begin(write=True) as record:
            record.change([new(SITE), new(UNIT)], STAMP)
            record.append([replace(ENTRY, property_number="M-999")], STAMP)
            record.commit()

    with pytest.raises(NotFound, match=r"^no unit 'M-999'; load it before its entries$"):
        load_and_fail()

    with store.begin() as record:
        assert record.unit_ids() == {}


def test_what_is_read_is_of_one_moment(store: SqlStore) -> None:
    load_units(store)
    with store.begin() as reader:
        assert list(reader.entries()) == []
        add(store, ENTRY)
        assert list(reader.entries()) == []

    assert keys(store) == [ENTRY.key]


def test_writing_needs_a_unit_of_work_begun_for_writing(store: SqlStore) -> None:
    load_units(store)
    with (
        store.begin() as record,
        pytest.raises(RuntimeError, match=r"^this unit of work was begun for reading; begin it"),
    ):
        record.append([ENTRY], STAMP)


def test_four_writers_at_once_keep_one_chain(store: SqlStore) -> None:
    load_units(store)
    failures: list[Exception] = []

    def write(name: str) -> None:
        try:
            for number in range(10):
                add(store, replace(ENTRY, key=f"{name}-{number}"))
        except Exception as error:
            failures.append(error)

    writers = [threading.Thread(target=write, args=(name,)) for name in "abcd"]
    for writer in writers:
        writer.start()
    for writer in writers:
        writer.join()

    assert failures == []
    with store.begin() as record:
        assert [line.seq for line in record.entries()] == list(range(1, 41))


def test_chain_goes_on_after_a_commit_and_another_writer(store: SqlStore) -> None:
    load_units(store)
    with store.begin(write=True) as record:
        record.append([replace(ENTRY, key="first")], STAMP)
        record.commit()
        add(store, replace(ENTRY, key="second"))
        record.append([replace(ENTRY, key="third")], STAMP)
        record.commit()

    assert keys(store) == ["first", "second", "third"]


def test_writer_that_waits_too_long_is_told(
    fleet_url: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(engines, "WAIT_SECONDS", 0.2)
    store = open_store(fleet_url, clock=lambda: STAMP.at)
    other = open_store(fleet_url, clock=lambda: STAMP.at)
    place = engines.place_of(engines.parse_url(fleet_url))
    with store.begin(write=True), pytest.raises(StoreError) as refusal, other.begin(write=True):
        pass

    store.close()
    other.close()
    assert str(refusal.value) == (
        f"{place}: another program is writing to it and did not finish within 5 seconds;"
        " wait for it, then run the command again"
    )


def test_full_disk_is_told_and_keeps_nothing(tmp_path: Path) -> None:
    """SQLite answers 'database or disk is full' beyond max_page_count (SQLite manual, pragma)."""
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    create(url)
    store = open_store(url, clock=lambda: STAMP.at)
    load_units(store)
    many = [replace(ENTRY, key=str(number), note="x" * 400) for number in range(20_000)]

    def limit(connection: sa.engine.interfaces.DBAPIConnection, _: object) -> None:
        connection.cursor().execute("PRAGMA max_page_count=400").close()

    event.listen(store._engine, "connect", limit)
    with pytest.raises(StoreError) as refusal:
        add(store, *many)

    assert str(refusal.value) == (
        f"{tmp_path / 'fleet.db'}: its disk is full and nothing was written;"
        " free some space, then run the command again"
    )
    assert keys(store) == []


def test_instant_without_a_zone_is_refused(store: SqlStore) -> None:
    load_units(store)
    naive = dt.datetime(2026, 3, 2, 12, 0)  # noqa: DTZ001
    with (
        store.begin(write=True) as record,
        pytest.raises(ValueError, match=r"^2026-03-02T12:00:00 has no time zone; an instant is"),
    ):
        record.append([replace(ENTRY, recorded_at=naive)], STAMP)


def test_question_about_an_instant_without_a_zone_is_refused(store: SqlStore) -> None:
    naive = dt.datetime(2026, 3, 2, 12, 0)  # noqa: DTZ001
    with (
        store.begin() as record,
        pytest.raises(ValueError, match=r"^2026-03-02T12:00:00 has no time zone; an instant is"),
    ):
        record.marks(known_at=naive)


def test_column_of_instants_takes_none_without_a_zone(store: SqlStore) -> None:
    naive = dt.datetime(2026, 3, 2, 12, 0)  # noqa: DTZ001
    with (
        store.begin() as record,
        pytest.raises(sa.exc.StatementError, match="2026-03-02T12:00:00 has no time zone"),
    ):
        record.register(known_at=naive)
