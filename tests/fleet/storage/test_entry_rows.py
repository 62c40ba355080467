"""Entries: their chains, their keys, the order they are read in."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from dataclasses import replace

import pytest
import sqlalchemy as sa

from fleet.domain.records import Entry, Outage, StoredEntry
from fleet.domain.register import Change
from fleet.errors import KeyTaken, NotFound
from fleet.services.ports import Stamp
from fleet.storage import SqlStore
from fleet.storage.canonical import START, canonical_json, entry_content, link
from fleet.storage.schema import change_line, entry, rule_book, unit
from tests.fleet.storage.examples import ENTRY, SITE, STAMP, UNIT, add, load_units, moved, new

RECORDED = dt.datetime(2026, 3, 1, 8, 0, 0, 250, dt.UTC)

FULL = Entry(
    key="M-001/optics/2026-03-02/2",
    property_number="M-001",
    task="optics",
    on=dt.date(2026, 3, 2),
    to_on=dt.date(2026, 3, 6),
    mark=None,
    initials="RÄ",
    note="a\ttab, a \\ and a\nnew line; 100 %",
    reading="4.50",
    recorded_at=RECORDED,
    strikes="M-001/optics/2026-03-02/1",
    why="wrong unit",
)


def entries(store: SqlStore, task: str | None = None, *numbers: str) -> list[StoredEntry]:
    with store.begin() as record:
        ids = record.unit_ids()
        return list(record.entries([ids[number] for number in numbers] or None, task))


def test_entry_reads_back_as_it_was_written(store: SqlStore) -> None:
    load_units(store)
    add(store, ENTRY, FULL)

    first, second = entries(store)

    assert first == StoredEntry(
        entry=ENTRY, seq=1, stored_at=STAMP.at, by="r.alder", source="command"
    )
    assert second.entry == FULL
    assert (second.known_at, first.known_at) == (RECORDED, STAMP.at)


def test_entries_come_by_unit_and_then_in_chain_order(store: SqlStore) -> None:
    load_units(store, "M-002", "M-001")
    given = [("M-001", "a"), ("M-002", "b"), ("M-001", "c"), ("M-002", "d")]
    add(store, *(replace(ENTRY, property_number=number, key=key) for number, key in given))

    assert [(line.entry.key, line.seq) for line in entries(store)] == [
        *(("b", 1), ("d", 2)),
        *(("a", 1), ("c", 2)),
    ]
    assert [line.entry.key for line in entries(store, None, "M-001")] == ["a", "c"]


def test_entries_of_one_task_only(store: SqlStore) -> None:
    load_units(store)
    add(store, ENTRY, replace(ENTRY, key="other", task="annual-service"))

    assert [line.entry.key for line in entries(store, "annual-service")] == ["other"]


def test_stored_finds_what_stands_and_leaves_out_the_rest(store: SqlStore) -> None:
    load_units(store)
    add(store, *(replace(ENTRY, key=f"key-{number}") for number in range(2_000)))

    with store.begin() as record:
        found = record.stored([f"key-{number}" for number in range(1_000, 3_000)])

    assert sorted(found) == sorted(f"key-{number}" for number in range(1_000, 2_000))
    assert found["key-1000"].seq == 1_001
    assert found["key-1000"].entry == replace(ENTRY, key="key-1000")


def test_key_that_stands_is_refused_and_nothing_of_the_call_is_kept(store: SqlStore) -> None:
    load_units(store)
    add(store, ENTRY)
    fresh = replace(ENTRY, key="fresh")
    with store.begin(write=True) as record:
        with pytest.raises(KeyTaken) as refusal:
            record.append([fresh, replace(ENTRY, note="again", initials="")], STAMP)
        record.append([replace(fresh, note="kept")], STAMP)
        record.commit()

    assert str(refusal.value) == (
        "key 'M-001/optics/2026-03-02/1' already stands for another entry (initials, note differs);"
        " an entry is never changed: strike it and write a new one"
    )
    assert [line.entry.note for line in entries(store)] == ["", "kept"]
    assert broken_links(store) == []


def test_same_entry_again_is_refused_by_the_store(store: SqlStore) -> None:
    """To take the same entry twice for one is for who asks `stored` first."""
    load_units(store)
    add(store, ENTRY)
    with pytest.raises(KeyTaken, match=r"\(the instant it was stored differs\)"):
        add(store, ENTRY, stamp=moved(STAMP, 1))


def test_same_key_twice_in_one_call_is_refused(store: SqlStore) -> None:
    load_units(store)
    with pytest.raises(KeyTaken, match=r"\(task differs\)"):
        add(store, ENTRY, replace(ENTRY, task="annual-service"))

    assert entries(store) == []


def test_entry_of_an_unknown_unit_is_refused(store: SqlStore) -> None:
    with pytest.raises(NotFound, match=r"^no unit 'M-001'; load it before its entries$"):
        add(store, ENTRY)


def test_chains_of_entries_can_be_computed_again_from_what_is_read(store: SqlStore) -> None:
    load_units(store, "M-001", "M-002", "M-003")
    for day in range(4):
        given = [
            replace(FULL, key=f"{number}-{day}-{n}", property_number=number, strikes="")
            for n in range(3)
            for number in ("M-001", "M-003")
        ]
        add(store, *given, stamp=moved(STAMP, day))

    assert len(entries(store)) == 24
    assert broken_links(store) == []


def test_entry_changed_behind_the_program_breaks_its_chain(store: SqlStore) -> None:
    load_units(store)
    add(store, ENTRY, replace(ENTRY, key="second"))
    with store._engine.connect() as connection:
        off = {
            "sqlite": "DROP TRIGGER entry_no_update",
            "postgresql": "ALTER TABLE entry DISABLE TRIGGER USER",
        }
        connection = connection.execution_options(dueward_write=True)
        connection.exec_driver_sql(off[connection.dialect.name])
        connection.exec_driver_sql("UPDATE entry SET initials = 'ZZ' WHERE seq = 1")
        connection.commit()

    assert broken_links(store) == [ENTRY.key]


def test_chains_of_change_lines_and_books_can_be_computed_again(store: SqlStore) -> None:
    load_units(store, "M-001", "M-002")
    with store.begin(write=True) as record:
        changed = replace(UNIT, serial="4711")
        record.change([Change(old=UNIT, new=changed, initial=False)], moved(STAMP, 1))
        record.change([Change(old=SITE, new=SITE, initial=False)], moved(STAMP, 1))
        outage = Outage(property_number="M-001", from_on=ENTRY.on, to_on=None, reason="lamp")
        record.change([Change(old=None, new=outage, initial=False)], moved(STAMP, 1))
        record.change([Change(old=outage, new=None, initial=False)], moved(STAMP, 2))
        record.add_book("first", "1" * 64, True, STAMP)
        record.add_book("second", "2" * 64, False, STAMP)
        record.commit()

    assert relinked(store, change_line) == [
        *(("outage", 1), ("outage", 2)),
        *(("site", 1), ("site", 2)),
        *(("unit", 1), ("unit", 2), ("unit", 3)),
    ]
    assert relinked(store, rule_book) == [(None, 1), (None, 2)]


def broken_links(store: SqlStore) -> list[str]:
    """Keys of the entries whose hash does not follow from what is read and the hash before."""
    with store.begin() as record:
        rows = record._connection.execute(
            sa.select(unit.c.property_number, entry.c.seq, entry.c.prev_hash, entry.c.hash).join(
                unit, unit.c.id == entry.c.unit_id
            )
        )
        kept = {(number, seq): (before, digest) for number, seq, before, digest in rows}
        lines = list(record.entries())
    tails: dict[str, bytes] = defaultdict(lambda: START)
    broken = []
    for line in lines:
        number = line.entry.property_number
        stamp = Stamp(at=line.stored_at, by=line.by, source=line.source)
        digest = link(tails[number], entry_content(line.entry, line.seq, stamp))
        if kept[number, line.seq] != (tails[number], digest):
            broken.append(line.entry.key)
        tails[number] = kept[number, line.seq][1]
    return broken


def relinked(store: SqlStore, table: sa.Table) -> list[tuple[str | None, int]]:
    """Chain and number of each line of a table whose hash follows from its cells."""
    with store.begin() as record:
        rows = record._connection.execute(sa.select(table).order_by(*table.primary_key)).mappings()
        lines = [dict(row) for row in rows]
    tails: dict[str | None, bytes] = defaultdict(lambda: START)
    good = []
    for line in lines:
        before, digest = line.pop("prev_hash"), line.pop("hash")
        line["stored_at"] = line["stored_at"].strftime("%Y-%m-%dT%H:%M:%S.%fZ")
        chain = line.get("chain")
        if before == tails[chain] and digest == link(before, canonical_json(line)):
            good.append((chain, line["seq"]))
        tails[chain] = digest
    return good


def test_first_load_makes_units_findable(store: SqlStore) -> None:
    with store.begin(write=True) as record:
        record.change([new(SITE), new(UNIT)], STAMP)
        assert list(record.unit_ids()) == ["M-001"]
