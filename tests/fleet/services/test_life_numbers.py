"""Is a renumbered unit one unit, whichever of its numbers is typed, on both databases?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest

from fleet.domain.records import Entry, Mark
from fleet.errors import BadInput, NotFound
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.kept import rebuild
from fleet.services.life.acts import Act
from fleet.services.life.issue import issue
from fleet.services.life.numbers import renumber
from fleet.services.life.outages import back, broken
from fleet.services.mark import mark, strike
from fleet.services.ports import Record
from fleet.services.questions import Question
from fleet.services.why import explain_row
from fleet.storage import SqlStore
from tests.fleet.services.life_fleet import (
    HOLIDAYS,
    NOON,
    SCOPE,
    STAMP,
    at,
    day,
    filled,
    marked,
)

OTHER = replace(SCOPE, property_number="B-1", serial="9", site="birch")
QUESTION = Question(now=NOON, on=day("2026-03-04"))


@pytest.fixture
def record(store: SqlStore) -> Iterator[Record]:
    with store.begin(write=True) as opened:
        filled(opened, OTHER)
        rebuild(opened, list(opened.unit_ids().values()), HOLIDAYS)
        marked(opened, "optics", "2026-03-03")
        yield opened


def given(record: Record, old: str, new: str, on: str = "2026-03-02") -> Act:
    return renumber(record, HOLIDAYS, old, new, day(on), stamp=STAMP)


def rows(record: Record, number: str, known_at: str = "") -> dict[str, tuple[object, ...]]:
    asked = replace(QUESTION, known_at=at(known_at).at) if known_at else QUESTION
    answer = due_rows(record, HOLIDAYS, asked)
    return {row.task: row[4:] for row in answer.rows if row.property_number == number}


def test_answers_now_and_then_are_the_same_under_the_new_number(record: Record) -> None:
    now, then = rows(record, "A-1"), rows(record, "A-1", "2026-03-02")
    gaps = finding_rows(record, HOLIDAYS, day("2026-01-05"), day("2026-03-03"), QUESTION)

    act = given(record, "A-1", "N-1")

    assert act.said == [
        "The unit that was A-1 bears the number N-1 from Mon 2 Mar 2026.",
        "It is shown as N-1 everywhere, and found under its former numbers too.",
    ]
    assert (rows(record, "N-1"), rows(record, "N-1", "2026-03-02")) == (now, then)
    assert rows(record, "A-1") == rows(record, "A-1", "2026-03-02") == {}
    after = finding_rows(record, HOLIDAYS, day("2026-01-05"), day("2026-03-03"), QUESTION)
    assert {(g.on, g.task, g.closes) for g in gaps} == {(g.on, g.task, g.closes) for g in after}
    assert {gap.property_number for gap in after} == {"N-1", "B-1"}


@pytest.mark.parametrize("typed", ["A-1", "N-1"])
def test_either_number_finds_the_unit(record: Record, typed: str) -> None:
    given(record, "A-1", "N-1")

    why = explain_row(record, HOLIDAYS, typed, "service", replace(QUESTION, known_at=NOON))
    entry = Entry(
        key="", property_number=typed, task="optics", on=day("2026-03-04"), mark=Mark.DONE
    )
    stored, is_new = mark(record, HOLIDAYS, entry, anyway=False, stamp=STAMP)
    same = mark(record, HOLIDAYS, stored.entry, anyway=False, stamp=STAMP)
    by_key = replace(stored.entry, property_number=typed)

    assert why.steps[0].startswith("Unit N-1 (formerly A-1; microscope, Exemplar M1) has been")
    assert (stored.entry.key, stored.seq, is_new) == ("N-1/optics/2026-03-04/1", 2, True)
    assert same == (stored, False)
    assert mark(record, HOLIDAYS, by_key, anyway=False, stamp=STAMP) == (stored, False)
    assert rows(record, "N-1")["optics"][3] == "done"
    act = broken(record, HOLIDAYS, typed, None, "lamp", anyway=False, stamp=STAMP)
    formerly = " (formerly A-1)" if typed == "A-1" else ""
    assert act.said[0] == f"Unit N-1{formerly} is out of service from Thu 5 Mar 2026."
    back(record, HOLIDAYS, typed, day("2026-03-06"), anyway=True, stamp=STAMP)
    assert [o.property_number for o in record.register().outages.values()] == ["N-1"]


def test_an_entry_from_before_is_struck_by_its_old_key(record: Record) -> None:
    given(record, "A-1", "N-1")

    strike(record, HOLIDAYS, "A-1/optics/2026-03-03/1", "slip", None, stamp=STAMP)

    (struck, correction) = record.entries([record.unit_ids()["N-1"]])
    assert correction.entry.strikes == struck.entry.key
    assert (struck.seq, correction.seq) == (1, 2)
    assert rows(record, "N-1")["optics"][4] is None


NO_OTHER = "choose a number that no other unit bears or has borne"


@pytest.mark.parametrize(
    ("old", "new", "on", "words"),
    [
        ("N-1", "B-1", "2026-03-04", f"NEW: another unit bears the number 'B-1'; {NO_OTHER}"),
        ("B-1", "A-1", "2026-03-04", f"NEW: 'A-1' is a former number of unit N-1; {NO_OTHER}"),
        ("N-1", " ", "2026-03-04", "NEW: the new number is empty; write the number it bears now"),
        (
            "N-1",
            "P-1",
            "2026-03-05",
            "on: 2026-03-05 lies in the future (today is 2026-03-04); a new number counts at once:"
            " renumber the unit on the day it gets it",
        ),
        (
            "N-1",
            "A-1",
            "2026-03-02",
            "on: unit N-1 got its present number on 2026-03-02; say a later day with --on, which"
            " has come",
        ),
    ],
)
def test_a_number_is_taken_by_one_unit_only(
    record: Record, old: str, new: str, on: str, words: str
) -> None:
    given(record, "A-1", "N-1")

    with pytest.raises(BadInput) as refused:
        given(record, old, new, on)

    assert str(refused.value) == f"renumber, {words}"


def test_a_new_unit_takes_no_number_that_was_borne(record: Record) -> None:
    given(record, "A-1", "N-1")

    with pytest.raises(BadInput) as refused:
        issue(record, HOLIDAYS, replace(SCOPE, serial="5"), None, anyway=False, stamp=STAMP)
    assert str(refused.value) == (
        "issue, property_number: 'A-1' is a former number of unit N-1; give it a number that no"
        " unit has borne"
    )
    with pytest.raises(NotFound):
        given(record, "X-1", "Y-1")


def test_a_unit_comes_back_to_a_number_of_its_own(record: Record) -> None:
    before = rows(record, "A-1")
    given(record, "A-1", "N-1", "2026-03-02")
    assert given(record, "A-1", "N-1", "2026-03-02").facts["from"] is None
    given(record, "A-1", "P-1", "2026-03-03")

    act = given(record, "N-1", "A-1", "2026-03-04")

    assert act.said[0] == "The unit that was N-1 and P-1 bears the number A-1 from Wed 4 Mar 2026."
    assert rows(record, "A-1") == before
    assert [(r.former, r.property_number) for r in record.register().renumberings.values()] == [
        ("A-1", "N-1"),
        ("N-1", "P-1"),
        ("P-1", "A-1"),
    ]


def test_its_past_is_one_chain_that_nothing_broke(record: Record) -> None:
    given(record, "A-1", "N-1")
    marked(record, "optics", "2026-03-04", "N-1")

    assert list(record.flaws(lambda lines: None)) == []
    assert record.heads()["entry/A-1"].seq == 2
    assert "entry/N-1" not in record.heads()
