"""What is kept of the marked days, and how it is replaced."""

from __future__ import annotations

from fleet.services.ports import KeptYears
from fleet.storage import SqlStore
from tests.fleet.storage.examples import load_units

Row = tuple[int, str, int, bytes, bytes, bytes | None]


def row(unit_id: int, task: str, year: int, fill: int = 1, extra: bytes | None = None) -> Row:
    return (unit_id, task, year, bytes([fill]) * 46, bytes(46), extra)


def years(*rows: Row) -> KeptYears:
    return KeptYears(*(zip(*rows, strict=True) if rows else ([],) * 6))


def keep(store: SqlStore, unit_ids: list[int], *rows: Row) -> None:
    with store.begin(write=True) as record:
        record.keep(unit_ids, years(*rows))
        record.commit()


def kept(store: SqlStore) -> list[Row]:
    with store.begin() as record:
        found = record.kept_years()
    columns = (found.unit_ids, found.tasks, found.years, found.marked, found.done, found.extra)
    return sorted(zip(*columns, strict=True), key=lambda row: row[:3])


def a_fleet(store: SqlStore) -> tuple[int, int]:
    load_units(store, "M-001", "M-002")
    with store.begin() as record:
        ids = record.unit_ids()
    return ids["M-001"], ids["M-002"]


def test_nothing_is_kept_at_first(store: SqlStore) -> None:
    assert kept(store) == []


def test_years_read_back_with_and_without_extra_marks(store: SqlStore) -> None:
    one, two = a_fleet(store)
    rows = [row(one, "optics", 2026, 255, bytes(range(183)) * 2), row(two, "optics", 2026)]
    keep(store, [one, two], *rows)

    assert kept(store) == rows


def test_keeping_replaces_all_of_the_named_units_and_no_others(store: SqlStore) -> None:
    one, two = a_fleet(store)
    keep(store, [one, two], row(one, "optics", 2025), row(two, "optics", 2025))
    keep(store, [one], row(one, "clean", 2026, 7))

    assert kept(store) == [row(one, "clean", 2026, 7), row(two, "optics", 2025)]


def test_keeping_nothing_empties(store: SqlStore) -> None:
    one, two = a_fleet(store)
    keep(store, [one, two], row(one, "optics", 2025), row(two, "optics", 2025))
    keep(store, [one, two])

    assert kept(store) == []
