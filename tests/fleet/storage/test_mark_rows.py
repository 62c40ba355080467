"""Live marks: now, and as known at an instant."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import numpy as np
import pytest

from fleet.domain.records import Entry, Mark
from fleet.services.ports import MarkColumns
from fleet.storage import SqlStore
from tests.fleet.storage.examples import ENTRY, STAMP, add, load_units, moved

DAY = dt.date(2026, 3, 2)


def mark(key: str, on: dt.date = DAY, as_: Mark | None = Mark.DONE, **words: object) -> Entry:
    return replace(ENTRY, key=key, on=on, mark=as_, **words)  # type: ignore[arg-type]


def marks(
    store: SqlStore, *numbers: str, known_at: dt.datetime | None = None
) -> list[tuple[str, str, str, str, bool]]:
    """Rows of (property number, task, first day, last day, is done), in any order: sorted."""
    with store.begin() as record:
        ids = record.unit_ids()
        found = record.marks([ids[number] for number in numbers] or None, known_at)
    names = {unit_id: number for number, unit_id in ids.items()}
    return sorted(
        (
            names[int(unit_id)],
            found.task_names[task],
            str(np.datetime64(int(from_day), "D")),
            str(np.datetime64(int(to_day), "D")),
            bool(done),
        )
        for unit_id, task, from_day, to_day, done in zip(
            found.unit_ids,
            found.tasks,
            found.from_days,
            found.to_days,
            found.is_done,
            strict=True,
        )
    )


def first_days(store: SqlStore, known_at: dt.datetime | None = None) -> list[str]:
    return [row[2] for row in marks(store, known_at=known_at)]


def test_marks_are_columns_of_the_promised_types(store: SqlStore) -> None:
    load_units(store)
    with store.begin() as record:
        none: MarkColumns = record.marks()
    add(store, mark("a"))
    with store.begin() as record:
        one = record.marks()

    for found in (none, one):
        kinds = [
            column.dtype.name
            for column in (found.unit_ids, found.tasks, found.from_days, found.to_days)
        ]
        assert kinds == ["int64", "int32", "int32", "int32"]
        assert found.is_done.dtype == np.bool_
    assert (len(none.unit_ids), len(one.unit_ids)) == (0, 1)


def test_marks_of_all_kinds_and_spans_are_read(store: SqlStore) -> None:
    load_units(store, "M-001", "M-002")
    add(
        store,
        mark("a", dt.date(1969, 12, 31)),
        mark("b", dt.date(2024, 2, 29), Mark.UNUSED, to_on=dt.date(2024, 3, 4), task="clean"),
        mark("c", DAY, Mark.FILLED, property_number="M-002"),
        mark("d", DAY, Mark.EXPLAINED),
    )

    assert marks(store) == [
        ("M-001", "clean", "2024-02-29", "2024-03-04", False),
        ("M-001", "optics", "1969-12-31", "1969-12-31", True),
        ("M-001", "optics", "2026-03-02", "2026-03-02", False),
        ("M-002", "optics", "2026-03-02", "2026-03-02", False),
    ]
    assert marks(store, "M-002") == [("M-002", "optics", "2026-03-02", "2026-03-02", False)]


def test_struck_mark_is_live_no_more_and_a_mere_correction_is_no_mark(store: SqlStore) -> None:
    load_units(store)
    add(store, mark("a"), mark("b", dt.date(2026, 3, 3)))
    add(store, mark("c", as_=None, strikes="a", why="wrong unit"))

    assert first_days(store) == ["2026-03-03"]


def test_correction_with_a_mark_takes_the_place_of_what_it_strikes(store: SqlStore) -> None:
    load_units(store)
    add(store, mark("a"), mark("b", as_=Mark.UNUSED, strikes="a", why="was not used"))

    assert marks(store) == [("M-001", "optics", "2026-03-02", "2026-03-02", False)]


def test_mark_struck_later_was_live_before(store: SqlStore) -> None:
    load_units(store)
    add(store, mark("a"))
    add(store, mark("b", as_=None, strikes="a", why="wrong unit"), stamp=moved(STAMP, 10))

    assert first_days(store, moved(STAMP, -1).at) == []
    assert first_days(store, STAMP.at) == ["2026-03-02"]
    assert first_days(store, moved(STAMP, 9).at) == ["2026-03-02"]
    assert first_days(store, moved(STAMP, 10).at) == []


@pytest.mark.parametrize(
    ("known_at", "expected"),
    [
        (dt.datetime(2026, 1, 5, 7, 59, 59, 999_999, dt.UTC), []),
        (dt.datetime(2026, 1, 5, 8, 0, tzinfo=dt.UTC), ["2026-01-05"]),
        (dt.datetime(2026, 1, 5, 1, 59, tzinfo=dt.timezone(dt.timedelta(hours=-6))), []),
        (dt.datetime(2026, 2, 1, tzinfo=dt.UTC), []),
        (None, []),
    ],
    ids=["before", "at the instant", "in another zone", "after it was struck", "now"],
)
def test_imported_entries_count_from_when_they_were_recorded(
    store: SqlStore, known_at: dt.datetime | None, expected: list[str]
) -> None:
    """Design 4.6: recorded_at for imported entries, stored_at for all others."""
    load_units(store)
    recorded = dt.datetime(2026, 1, 5, 8, 0, tzinfo=dt.UTC)
    struck = dt.datetime(2026, 1, 20, 8, 0, tzinfo=dt.UTC)
    add(
        store,
        mark("a", dt.date(2026, 1, 5), recorded_at=recorded),
        mark("b", as_=None, strikes="a", why="wrong day", recorded_at=struck),
    )

    assert first_days(store, known_at) == expected
