"""The register: what the change lines add up to, now and as known at an instant."""

from __future__ import annotations

import datetime as dt
import random
from dataclasses import replace

import pytest

from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Role,
    Unit,
)
from fleet.domain.register import BookText, Change, Register
from fleet.errors import StoreError
from fleet.services.ports import ChangeLine, HolidayYear
from fleet.storage import SqlStore
from fleet.storage.engines import place_of
from tests.fleet.storage.examples import SITE, STAMP, UNIT, moved, new

DAY = dt.date(2026, 3, 2)

WHOLE: dict[str, RegisterRecord] = {
    "sites": SITE,
    "patterns": Pattern(site="alder-creek", from_on=DAY, open_days="Mon Tue"),
    "holidays": Holiday(site="", country="US", subdivision="NE", on=DAY, name="Arbor Day"),
    "closures": Closure(site="", from_on=DAY, to_on=DAY, reason="flood", open=True),
    "units": replace(UNIT, retired_on=DAY),
    "placements": Placement(property_number="M-001", site="alder-creek", from_on=DAY),
    "outages": Outage(property_number="M-001", from_on=DAY, to_on=None, reason="lamp"),
    "people": Person(email="r.alder@lab.example", name="R. Alder", role=Role.BENCH),
}


def change(store: SqlStore, *changes: Change, days: int = 0) -> None:
    with store.begin(write=True) as record:
        record.change(changes, moved(STAMP, days))
        record.commit()


def register(store: SqlStore, days: int | None = None) -> Register:
    with store.begin() as record:
        return record.register(None if days is None else moved(STAMP, days).at)


def test_every_record_is_kept_and_read_back(store: SqlStore) -> None:
    records = list(WHOLE.values())
    change(store, *(Change(old=None, new=record, initial=True) for record in reversed(records)))

    whole = Register(**{name: {record.key: record} for name, record in WHOLE.items()})  # type: ignore[arg-type]
    assert register(store) == whole
    assert register(store, days=-1) == whole


def test_change_counts_from_the_instant_it_was_stored(store: SqlStore) -> None:
    moved_unit = replace(UNIT, serial="4711")
    change(store, new(SITE), new(UNIT))
    change(store, Change(old=UNIT, new=moved_unit, initial=False), days=10)

    assert register(store).units == {("M-001",): moved_unit}
    assert register(store, days=10).units == {("M-001",): moved_unit}
    assert register(store, days=9).units == {("M-001",): UNIT}
    assert register(store, days=-900).units == {("M-001",): UNIT}


def test_record_added_later_to_what_was_there_is_not_known_before(store: SqlStore) -> None:
    outage = Outage(property_number="M-001", from_on=DAY, to_on=None, reason="lamp")
    change(store, new(SITE), new(UNIT))
    change(store, Change(old=None, new=outage, initial=False), days=5)

    assert register(store, days=4).outages == {}
    assert register(store, days=5).outages == {outage.key: outage}


def test_record_changed_twice_in_one_load_keeps_both_lines(store: SqlStore) -> None:
    second, third = replace(UNIT, serial="2"), replace(UNIT, serial="3")
    change(
        store,
        new(SITE),
        new(UNIT),
        Change(old=UNIT, new=second, initial=False),
        Change(old=second, new=third, initial=False),
    )

    assert register(store).units == {("M-001",): third}
    assert register(store, days=-1).units == {("M-001",): UNIT}


def test_a_withdrawn_record_is_known_only_before(store: SqlStore) -> None:
    change(store, *(Change(old=None, new=record, initial=True) for record in WHOLE.values()))
    whole = register(store)
    gone = [WHOLE[name] for name in WHOLE if name not in ("sites", "units")]

    change(store, *(Change(old=old, new=None, initial=False) for old in gone), days=5)

    kept = Register(sites=whole.sites, units=whole.units)
    assert register(store) == register(store, days=5) == kept
    assert register(store, days=4) == whole
    with store.begin() as record:
        assert {key for old in gone for key in record.withdrawn(type(old))} == {
            old.key for old in gone
        }
        assert record.withdrawn(Unit) == frozenset()


def test_of_several_changes_of_one_record_the_last_stands(store: SqlStore) -> None:
    first = Outage(property_number="M-001", from_on=DAY, to_on=None, reason="lamp")
    second = replace(first, reason="stage")
    came, went = (
        Change(old=None, new=first, initial=False),
        Change(old=first, new=None, initial=False),
    )
    again = Change(old=None, new=second, initial=False)
    change(store, new(SITE), new(UNIT), came, went)
    assert register(store).outages == {}

    change(store, came, days=1)
    change(store, went, again, days=2)

    assert register(store).outages == register(store, days=2).outages == {first.key: second}
    assert register(store, days=1).outages == {first.key: first}


def test_change_lines_are_read_back_with_their_stamp(store: SqlStore) -> None:
    first = Outage(property_number="M-001", from_on=DAY, to_on=None, reason="lamp")
    ended = replace(first, to_on=DAY + dt.timedelta(days=1))
    came, changed, went = (
        Change(old=None, new=first, initial=False),
        Change(old=first, new=ended, initial=False),
        Change(old=ended, new=None, initial=False),
    )
    change(store, new(SITE), new(UNIT), came)
    change(store, changed, days=1)
    change(store, went, days=2)

    with store.begin() as record:
        lines = list(record.change_lines())

    assert lines == [
        ChangeLine(new(SITE), STAMP.at, "r.alder"),
        ChangeLine(new(UNIT), STAMP.at, "r.alder"),
        ChangeLine(came, STAMP.at, "r.alder"),
        ChangeLine(changed, moved(STAMP, 1).at, "r.alder"),
        ChangeLine(went, moved(STAMP, 2).at, "r.alder"),
    ]


def test_tables_hold_what_the_change_lines_add_up_to(store: SqlStore) -> None:
    chance = random.Random(20260302)
    units = {f"M-{n:03}": replace(UNIT, property_number=f"M-{n:03}") for n in range(20)}
    change(store, new(SITE), *map(new, units.values()))
    for days in range(1, 30):
        number = chance.choice(sorted(units))
        changed = replace(units[number], serial=str(days), retired_on=chance.choice([None, DAY]))
        change(store, Change(old=units[number], new=changed, initial=False), days=days)
        units[number] = changed

    assert register(store) == register(store, days=30)
    assert set(register(store).units.values()) == set(units.values())


def test_latest_book_counts_from_the_instant_it_was_stored(store: SqlStore) -> None:
    with store.begin(write=True) as record:
        record.add_book("first", "1" * 64, True, STAMP)
        record.add_book("second", "2" * 64, False, moved(STAMP, 3))
        record.commit()

    assert register(store).book == BookText(
        text="second", sha256="2" * 64, stored_at=moved(STAMP, 3).at
    )
    first = BookText(text="first", sha256="1" * 64, stored_at=STAMP.at)
    assert register(store, days=2).book == first
    assert register(store, days=-900).book == first


def test_unit_at_an_unknown_site_is_refused(store: SqlStore) -> None:
    with pytest.raises(StoreError) as refusal:
        change(store, new(UNIT))

    start = f"{place_of(store._engine.url)}: the database refused: "
    assert str(refusal.value).lower().startswith(f"{start}".lower())
    assert "foreign key constraint" in str(refusal.value).lower()


def test_holiday_year_reads_back_and_the_later_look_up_counts(store: SqlStore) -> None:
    early = HolidayYear("US", "NE", 2026, {dt.date(2026, 4, 24): "Arbor Day"}, "one")
    late = HolidayYear("US", "NE", 2026, {dt.date(2026, 12, 25): "Christmas Day"}, "two")
    other = HolidayYear("US", "", 2026, {}, "one")
    with store.begin(write=True) as record:
        record.add_holiday_years([early, other], STAMP)
        record.add_holiday_years([late], moved(STAMP, 1))
        record.commit()

    with store.begin() as record:
        years = {(year.subdivision, year.year): year for year in record.holiday_years()}
    assert years == {("NE", 2026): late, ("", 2026): other}
