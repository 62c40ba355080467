"""Is every change of the register that came after its days found, and no other (design 4.6)?"""

from __future__ import annotations

import dataclasses
import datetime as dt

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
)
from fleet.domain.register import Change
from fleet.services.ports import Stamp
from fleet.services.questions import Narrow
from fleet.storage import SqlStore
from tests.fleet.services.audit_fleet import FIRST, AuditFleet, at, march

WED, THU, FRI = march(11), march(12), march(13)
FOUND, NOT = True, False


def outage(from_on: dt.date, to_on: dt.date | None) -> Outage:
    return Outage(property_number="M-1", from_on=from_on, to_on=to_on, reason="lamp")


def closure(to_on: dt.date, site: str = "alder", reason: str = "flood") -> Closure:
    return Closure(site=site, from_on=WED, to_on=to_on, reason=reason)


def holiday(name: str, site: str = "alder") -> Holiday:
    return Holiday(site=site, country="US", subdivision="NE", on=WED, name=name)


def pattern(open_days: str) -> Pattern:
    return Pattern(site="birch", from_on=WED, open_days=open_days)


def placement(site: str) -> Placement:
    return Placement(property_number="M-1", site=site, from_on=WED)


def told(fleet: AuditFleet, **asked: object) -> list[tuple[str, str, dt.date | None]]:
    """Site, unit and day of each row."""
    rows = fleet.rows("backdated", **asked)
    return [(row.site, row.property_number, row.on) for row in rows]


def learned(
    old: RegisterRecord | None,
    new: RegisterRecord | None,
    stored: dt.datetime,
    *,
    initial: bool = False,
) -> AuditFleet:
    """The clean month, and one change of its register."""
    fleet = AuditFleet.clean()
    fleet.learn(old, new, stored, initial=initial)
    return fleet


def unit(fleet: AuditFleet, **fields: object) -> Change:
    """A change of M-1."""
    old = fleet.record.register().units["M-1",]
    return Change(old=old, new=dataclasses.replace(old, **fields), initial=False)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("old", "new", "site", "number", "on"),
    [
        (None, outage(WED, None), "alder", "M-1", WED),
        (outage(WED, None), outage(WED, THU), "alder", "M-1", THU),
        (outage(WED, FRI), outage(WED, None), "alder", "M-1", FRI),
        (outage(WED, FRI), outage(WED, THU), "alder", "M-1", THU),
        (outage(WED, THU), None, "alder", "M-1", WED),
        (None, placement("birch"), "birch", "M-1", WED),
        (placement("alder"), placement("birch"), "birch", "M-1", WED),
        (None, closure(THU), "alder", "", WED),
        (None, closure(THU, ""), "", "", WED),
        (closure(THU), closure(march(16)), "alder", "", FRI),
        (closure(THU), None, "alder", "", WED),
        (None, holiday("Fair day"), "alder", "", WED),
        (None, holiday("Fair day", ""), "", "", WED),
        (holiday("Fair day"), None, "alder", "", WED),
        (None, pattern("Mon Wed"), "birch", "", WED),
        (pattern("Mon Wed"), pattern("Wed"), "birch", "", WED),
    ],
)
def test_a_change_stored_after_its_days_is_backdated(
    old: RegisterRecord | None, new: RegisterRecord | None, site: str, number: str, on: dt.date
) -> None:
    fleet = AuditFleet.clean()
    if old is not None:
        fleet.learn(None, old, at(FIRST), initial=True)
    fleet.learn(old, new, at(march(20)))

    assert told(fleet) == [(site, number, on)]


@pytest.mark.parametrize(
    ("old", "new"),
    [
        (outage(WED, FRI), dataclasses.replace(outage(WED, FRI), reason="stage")),
        (closure(THU), closure(THU, reason="storm")),
        (holiday("Fair day"), holiday("County fair")),
        (None, Person(email="w@agency.example", name="Wren", role=Role.BENCH, site="alder")),
    ],
)
def test_what_changes_no_day_is_not_backdated(
    old: RegisterRecord | None, new: RegisterRecord
) -> None:
    fleet = AuditFleet.clean()
    if old is not None:
        fleet.learn(None, old, at(FIRST), initial=True)
    fleet.learn(old, new, at(march(20)))

    assert told(fleet) == []


@pytest.mark.parametrize(
    ("fields", "on"),
    [
        ({"retired_on": THU}, THU),
        ({"retired_on": march(26)}, None),
        ({"in_service_on": march(3)}, FIRST),
        ({"record_from_on": WED, "retired_on": THU}, WED),
        ({"manufacturer": "Southfield", "model": "N2", "serial": "1", "site": "birch"}, None),
    ],
)
def test_a_unit_is_backdated_by_the_earliest_of_its_changed_days(
    fields: dict[str, object], on: dt.date | None
) -> None:
    fleet = AuditFleet.clean()
    change = unit(fleet, **fields)
    fleet.learn(change.old, change.new, at(march(20)))

    assert [row.on for row in fleet.rows("backdated")] == ([] if on is None else [on])


def test_a_site_is_not_backdated() -> None:
    fleet = AuditFleet.clean()
    old = fleet.record.register().sites["birch",]
    fleet.learn(old, dataclasses.replace(old, open_days="Thu"), at(march(20)))

    assert told(fleet) == []


def test_what_is_known_from_the_beginning_is_not_backdated() -> None:
    assert told(learned(None, outage(WED, THU), at(march(20)), initial=True)) == []


@pytest.mark.parametrize(
    ("site", "stored", "is_found"),
    [
        ("alder", at(WED, 23, 59), NOT),
        ("alder", at(THU, 0, 1), FOUND),
        ("", at(WED, 18, 59), NOT),
        ("", at(WED, 19, 1), FOUND),
    ],
    ids=["late that day", "past midnight", "all sites, before UTC's", "all sites, past UTC's"],
)
def test_a_day_ends_by_the_clock_of_its_site(
    site: str, stored: dt.datetime, is_found: bool
) -> None:
    """Chicago is five hours behind UTC in the week of 11 March 2026 (summer time since 8 March)."""
    fleet = learned(None, closure(WED, site), stored)

    assert told(fleet) == ([(site, "", WED)] if is_found else [])


def test_a_unit_stands_where_it_stood_on_the_day() -> None:
    fleet = AuditFleet.clean()
    fleet.moved("M-1", WED)
    fleet.learn(None, outage(march(9), march(10)), at(march(20)))
    fleet.learn(None, outage(THU, FRI), at(march(20)))

    assert told(fleet) == [("alder", "M-1", march(9)), ("birch", "M-1", THU)]


def test_a_row_says_what_came_late_and_what_settles_it() -> None:
    (row,) = learned(None, outage(WED, THU), at(march(20))).rows("backdated")

    assert (row.site, row.county, row.region) == ("alder", "Cherry", "West")
    assert (row.property_number, row.kind, row.task) == ("M-1", "microscope", "")
    assert (row.finding, row.on, row.entries) == ("backdated", WED, None)
    assert (row.period_from, row.period_to, row.opens, row.closes) == (None, None, None, None)
    assert row.settle == (
        "The outage from 2026-03-11 was recorded on 2026-03-20 by file:lead; note why it came"
        " late, or withdraw it."
    )


@pytest.mark.parametrize(
    ("old", "new", "settle"),
    [
        (
            outage(WED, None),
            outage(WED, THU),
            "The outage from 2026-03-11 was changed (to: none before, 2026-03-12 now) on 2026-03-20"
            " by file:lead; note why it came late, or load it as it was.",
        ),
        (
            outage(WED, None),
            None,
            "The outage from 2026-03-11 was withdrawn on 2026-03-20 by file:lead; note why it came"
            " late, or load it again.",
        ),
        (
            placement("alder"),
            placement("birch"),
            "The move of 2026-03-11 was changed (site: alder before, birch now) on 2026-03-20 by"
            " file:lead; note why it came late, or load it as it was.",
        ),
        (
            None,
            pattern("Mon"),
            "The weekly pattern from 2026-03-11 was recorded on 2026-03-20 by file:lead; note why"
            " it came late, or withdraw it.",
        ),
        (
            None,
            closure(WED, ""),
            "The closure of all sites from 2026-03-11 was recorded on 2026-03-20 by file:lead; note"
            " why it came late, or withdraw it.",
        ),
        (
            None,
            dataclasses.replace(closure(WED), open=True),
            "The extra opening from 2026-03-11 was recorded on 2026-03-20 by file:lead; note why it"
            " came late, or withdraw it.",
        ),
        (
            None,
            holiday("Fair day", ""),
            "The holiday of US-NE on 2026-03-11 was recorded on 2026-03-20 by file:lead; note why"
            " it came late, or withdraw it.",
        ),
        (
            None,
            dataclasses.replace(holiday("Fair day", ""), subdivision=""),
            "The holiday of US on 2026-03-11 was recorded on 2026-03-20 by file:lead; note why it"
            " came late, or withdraw it.",
        ),
    ],
)
def test_each_sort_of_record_has_its_words(
    old: RegisterRecord | None, new: RegisterRecord | None, settle: str
) -> None:
    fleet = AuditFleet.clean()
    if old is not None:
        fleet.learn(None, old, at(FIRST), initial=True)
    fleet.learn(old, new, at(march(20)))

    assert [row.settle for row in fleet.rows("backdated")] == [settle]


def test_a_unit_is_told_with_its_changed_days() -> None:
    fleet = AuditFleet.clean()
    change = unit(fleet, retired_on=THU, record_from_on=WED, serial="77")
    fleet.learn(change.old, change.new, at(march(20)))

    assert [row.settle for row in fleet.rows("backdated")] == [
        "The unit was changed (retired_on: none before, 2026-03-12 now; record_from: none before,"
        " 2026-03-11 now) on 2026-03-20 by file:lead; note why it came late, or load it as it was."
    ]


def test_only_what_is_asked_for_is_told() -> None:
    fleet = learned(None, outage(WED, THU), at(march(20)))
    fleet.learn(None, closure(WED, ""), at(march(21)))
    everywhere, of_unit = ("", "", WED), ("alder", "M-1", WED)

    assert told(fleet) == [everywhere, of_unit]
    assert told(fleet, known_at=at(march(20))) == [of_unit]
    assert told(fleet, known_at=at(march(19))) == []
    assert told(fleet, from_on=WED, to_on=WED) == [everywhere, of_unit]
    assert told(fleet, from_on=THU) == told(fleet, to_on=march(10)) == []
    assert told(fleet, on=WED) == told(fleet, on=None) == [everywhere, of_unit]
    assert told(fleet, on=march(10)) == []
    assert told(fleet, narrow=Narrow(sites=("Alder",))) == [of_unit]
    assert told(fleet, narrow=Narrow(counties=("cherry",), regions=("west",))) == [of_unit]
    assert told(fleet, narrow=Narrow(kinds=("Microscope",))) == [of_unit]
    assert told(fleet, narrow=Narrow(kinds=("centrifuge",))) == []
    assert told(fleet, narrow=Narrow(tasks=("optics",))) == []


def test_the_planted_ones_are_found_among_all_findings_and_nothing_else() -> None:
    fleet = AuditFleet.clean()
    fleet.learn(None, placement("birch"), at(march(10)))
    fleet.learn(placement("birch"), None, at(march(10), 17))
    fleet.learn(None, outage(march(28), march(29)), at(march(31)))
    fleet.learn(None, closure(march(31), "birch"), at(WED))
    fleet.learn(closure(march(31), "birch"), None, at(march(31)))

    rows = fleet.rows()

    assert [(row.finding, row.site, row.property_number, row.on) for row in rows] == [
        ("backdated", "alder", "M-1", march(28)),
        ("backdated", "birch", "", WED),
    ]


def test_a_backdated_change_is_found_in_a_database(store: SqlStore) -> None:
    fleet = learned(None, outage(WED, THU), at(march(20)))
    fleet.learn(outage(WED, THU), None, at(march(21)))
    expected = fleet.rows("backdated")
    with store.begin(write=True) as record:
        for change, stamp in fleet.record.changes:
            record.change([change], stamp)
        book = fleet.record.register().book
        assert book is not None
        record.add_book(book.text, "", True, Stamp(at(FIRST), "lead", "file"))
        record.commit()

    with store.begin() as record:
        assert fleet.asked_of(record, "backdated") == expected
    assert len(expected) == 2
