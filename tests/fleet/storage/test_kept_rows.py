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


def keep(store: SqlStore, unit_ids: list[int], tasks: list[str] | None, *rows: Row) -> None:
    with store.begin(write=True) as record:
        record.keep(unit_ids, tasks, years(*rows))
        record.commit()


def kept(store: SqlStore, from_year: int = 0, *whole_tasks: str) -> list[Row]:
    with store.begin() as record:
        found = record.kept_years(from_year, whole_tasks)
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
    keep(store, [one, two], None, *rows)

    assert kept(store) == rows


def test_years_from_one_on_and_whole_tasks_are_read(store: SqlStore) -> None:
    one, _ = a_fleet(store)
    rows = [
        row(one, task, year)
        for task in ("annual-service", "clean", "optics")
        for year in (2024, 2025, 2026)
    ]
    keep(store, [one], None, *rows)

    assert [found[1:3] for found in kept(store, 2026, "annual-service", "none")] == [
        ("annual-service", 2024),
        ("annual-service", 2025),
        ("annual-service", 2026),
        ("clean", 2026),
        ("optics", 2026),
    ]
    assert [found[1:3] for found in kept(store, 2027)] == []


def test_keeping_replaces_all_of_the_named_units_and_no_others(store: SqlStore) -> None:
    one, two = a_fleet(store)
    keep(store, [one, two], None, row(one, "optics", 2025), row(two, "optics", 2025))
    keep(store, [one], None, row(one, "clean", 2026, 7))

    assert kept(store) == [row(one, "clean", 2026, 7), row(two, "optics", 2025)]


def test_keeping_some_tasks_leaves_the_others(store: SqlStore) -> None:
    one, _ = a_fleet(store)
    keep(store, [one], None, row(one, "clean", 2025), row(one, "optics", 2025))
    keep(store, [one], ["optics"], row(one, "optics", 2026))

    assert kept(store) == [row(one, "clean", 2025), row(one, "optics", 2026)]


def test_keeping_nothing_empties(store: SqlStore) -> None:
    one, two = a_fleet(store)
    keep(store, [one, two], None, row(one, "optics", 2025), row(two, "optics", 2025))
    keep(store, [one, two], None)

    assert kept(store) == []
