"""Is a renumbered unit shown under its present number, and stored under the one it came with?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.evidence import Action, Extension, Renumbering, ServiceReport
from fleet.domain.numbers import formers_of, present_numbers, renumbered
from fleet.domain.records import Mark, Outage, Placement, RegisterRecord, Site
from fleet.domain.register import Change
from fleet.errors import KeyTaken
from fleet.services.ports import Record
from fleet.storage import SqlStore
from tests.fleet.storage.examples import ENTRY, SITE, STAMP, UNIT, add, load_units, moved

A_DAY = dt.date(2026, 3, 2)


def given_up(former: str, number: str, on: str = "2026-03-02") -> Renumbering:
    day = dt.date.fromisoformat(on)
    return Renumbering(former=former, property_number=number, from_on=day)


def write(store: SqlStore, *records: RegisterRecord, days: int = 0) -> None:
    """Write records as they are known so many days later."""
    with store.begin(write=True) as record:
        known = record.register()
        tables = (known.renumberings, known.outages, known.placements, known.sites)
        changes = [
            Change(old=next((t[r.key] for t in tables if r.key in t), None), new=r, initial=False)
            for r in records
        ]
        record.change(changes, moved(STAMP, days))
        record.commit()


@pytest.mark.parametrize(
    ("steps", "present"),
    [
        ([], {}),
        ([given_up("A", "B")], {"A": "B", "B": "B"}),
        ([given_up("A", "B"), given_up("B", "C")], {"A": "C", "B": "C", "C": "C"}),
        ([given_up("A", "B"), given_up("B", "A", "2026-03-03")], {"A": "A", "B": "A"}),
        (
            [given_up("A", "C", "2026-03-04"), given_up("B", "A", "2026-03-03")],
            {"A": "C", "B": "C", "C": "C"},
        ),
        (
            [
                given_up("A", "C", "2026-03-04"),
                given_up("B", "A", "2026-03-03"),
                given_up("C", "B", "2026-03-05"),
            ],
            {"A": "B", "B": "B", "C": "B"},
        ),
    ],
    ids=["none", "once", "twice", "back", "back and on", "round"],
)
def test_every_number_leads_to_the_one_borne_now(
    steps: list[Renumbering], present: dict[str, str]
) -> None:
    assert present_numbers(steps) == present
    assert formers_of(steps, "B") == sorted(n for n, now in present.items() if now == "B" != n)


RECORDS: tuple[RegisterRecord, ...] = (
    Placement(property_number="M-001", site=SITE.site, from_on=A_DAY),
    Outage(property_number="M-001", from_on=A_DAY, to_on=None, reason="lamp"),
    Extension(
        property_number="M-001",
        task="service",
        from_on=A_DAY,
        until_on=A_DAY,
        reason="snow",
        granted_by="R. Moss",
    ),
    ServiceReport(property_number="M-001", task="service", on=A_DAY, entry=ENTRY.key),
    Action(
        number="M-001/2026-03-02/1",
        site=SITE.site,
        property_number="M-001",
        entry=ENTRY.key,
        opened_on=A_DAY,
        problem="blurred",
    ),
)


def test_all_that_is_of_the_unit_is_shown_under_the_number_it_bears_now(store: SqlStore) -> None:
    load_units(store, "M-001", "M-002")
    write(store, *RECORDS, days=1)
    write(store, given_up("M-001", "N-001"), days=2)

    now = [renumbered(record, {"M-001": "N-001"}) for record in RECORDS]
    for known_at in (None, moved(STAMP, 1).at):
        with store.begin() as record:
            register = record.register(known_at)
        tables = (
            register.placements,
            register.outages,
            register.extensions,
            register.reports,
            register.actions,
        )
        assert [list(table.items()) for table in tables] == [[(one.key, one)] for one in now]
        assert sorted(register.units) == [("M-002",), ("N-001",)]
        assert list(register.renumberings.values()) == [given_up("M-001", "N-001")]
    with store.begin() as record:
        assert record.register(STAMP.at).units[("N-001",)] == replace(UNIT, property_number="N-001")
        lines = [line.change.record for line in record.change_lines()]
    assert [one for one in lines if type(one) in map(type, RECORDS)] == now


def test_entries_keep_their_keys_their_chain_and_its_hashes(store: SqlStore) -> None:
    load_units(store, "M-001")
    add(store, ENTRY)
    before = heads(store)
    write(store, given_up("M-001", "N-001"))
    unlike = {chain for chain, head in heads(store).items() if before.get(chain) != head}
    assert unlike == {"register/renumbering"}

    later = replace(ENTRY, key="N-001/optics/2026-03-03/1", property_number="N-001")
    former = replace(ENTRY, key="M-001/optics/2026-03-04/1", mark=Mark.UNUSED)
    add(store, later, former)

    with store.begin() as record:
        ids = record.unit_ids()
        found = list(record.entries([ids["N-001"]]))
        assert record.stored([ENTRY.key])[ENTRY.key].entry.property_number == "N-001"
        assert list(record.flaws(lambda lines: None)) == []
        assert len(record.marks([ids["M-001"]]).unit_ids) == 3
    assert ids == {"M-001": 1, "N-001": 1}
    assert list(ids) == ["M-001", "N-001"]
    assert [(s.seq, s.entry.property_number, s.entry.key) for s in found] == [
        (1, "N-001", ENTRY.key),
        (2, "N-001", later.key),
        (3, "N-001", former.key),
    ]
    assert heads(store)["entry/M-001"] == (3,)
    assert "entry/N-001" not in heads(store)


def heads(store: SqlStore) -> dict[str, object]:
    """The head of every chain: of entry chains the length only once lines were added."""
    with store.begin() as record:
        found = record.heads()
    return {c: (h.seq,) if c.startswith("entry/") else h for c, h in found.items()}


def test_a_key_taken_before_stays_taken_after(store: SqlStore) -> None:
    load_units(store, "M-001")
    add(store, ENTRY)
    write(store, given_up("M-001", "N-001"))

    with pytest.raises(KeyTaken):
        add(store, replace(ENTRY, property_number="N-001", mark=Mark.UNUSED))


def test_changes_under_the_new_number_go_to_the_same_rows(store: SqlStore) -> None:
    load_units(store, "M-001")
    write(store, *RECORDS[:2])
    write(store, given_up("M-001", "N-001"))
    with store.begin(write=True) as record:
        (open_outage,) = record.register().outages.values()
        ended = replace(open_outage, to_on=dt.date(2026, 3, 9))
        record.change([Change(old=open_outage, new=ended, initial=False)], STAMP)
        (placement,) = record.register().placements.values()
        record.change([Change(old=placement, new=None, initial=False)], STAMP)
        record.commit()

    with store.begin() as record:
        assert list(record.register().outages.values()) == [ended]
        assert record.register().placements == {}
        assert record.withdrawn(Placement) == {("N-001", "2026-03-02")}
        assert record.withdrawn(Site) == frozenset()
        assert list(record.flaws(lambda lines: None)) == []


def test_a_unit_that_is_renumbered_again_and_back_is_one_unit(store: SqlStore) -> None:
    load_units(store, "M-001")
    add(store, ENTRY)
    for step in (
        given_up("M-001", "N-001", "2026-03-02"),
        given_up("N-001", "P-001", "2026-03-03"),
        given_up("P-001", "M-001", "2026-03-04"),
    ):
        write(store, step)

        with store.begin() as record:
            assert list(record.register().units) == [(step.property_number,)]
            assert numbers_of(record) == {step.property_number}
            assert set(record.unit_ids().values()) == {1}
            assert list(record.unit_ids())[-1] == step.property_number


def numbers_of(record: Record) -> set[str]:
    return {stored.entry.property_number for stored in record.entries()}


def test_a_first_load_may_bring_a_unit_with_its_former_number(store: SqlStore) -> None:
    with store.begin(write=True) as record:
        unit = replace(UNIT, property_number="N-001")
        new = (SITE, unit, given_up("M-001", "N-001"))
        record.change([Change(old=None, new=one, initial=True) for one in new], STAMP)
        record.append([ENTRY], STAMP)
        record.commit()

    with store.begin() as record:
        assert list(record.register().units) == [("N-001",)]
        assert record.unit_ids() == {"M-001": 1, "N-001": 1}
        assert numbers_of(record) == {"N-001"}
        assert "entry/N-001" in record.heads()
