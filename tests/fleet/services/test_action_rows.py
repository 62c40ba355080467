"""Are open actions listed as they stand on a day, the most pressing first, with what moves them on?

42 CFR 493.1239 (read in a reprint): an action is not at its end before it was reviewed.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.evidence import Action, Effect
from fleet.domain.records import Mark
from fleet.services.action_rows import ActionRow, action_rows, state_of
from fleet.services.actions import carry_on, open_action, review
from fleet.services.mark import mark, strike
from fleet.services.questions import Narrow, Question
from tests.fakes import FakeRecord
from tests.fleet.services.action_fleet import (
    BENCH,
    HOLIDAYS,
    NOON,
    WEDNESDAY,
    entry,
    fill,
    november,
)

OPEN = Action(number="n", site="alder", opened_on=november(20), problem="cold")
ACTED = replace(OPEN, action="mended", responsible="G. Reyes", review_on=WEDNESDAY)
WORKED = replace(ACTED, effective=Effect.YES, reviewed_by="N. Ames", closed_on=november(26))


@pytest.mark.parametrize(
    ("action", "day", "state"),
    [
        (OPEN, 25, "to act on"),
        (replace(OPEN, action="mended"), 25, "to act on"),
        (ACTED, 24, "to review"),
        (ACTED, 25, "to review"),
        (ACTED, 26, "review overdue"),
        (replace(ACTED, review_on=None), 26, "to review"),
        (replace(ACTED, effective=Effect.NO, reviewed_by="N. Ames"), 26, "to act on"),
        (replace(WORKED, closed_on=None), 26, "to close"),
        (WORKED, 25, "to review"),
        (WORKED, 26, "closed"),
    ],
)
def test_an_action_stands_as_it_is_on_the_day(action: Action, day: int, state: str) -> None:
    assert state_of(action, november(day)) == state


@pytest.fixture
def record() -> FakeRecord:
    """A record with an action in each state; the last entry of the refrigerator is struck."""
    made = FakeRecord()
    fill(made)
    mark(made, HOLIDAYS, entry("R-1 temperature", 24, "8.1"), anyway=False, stamp=BENCH)
    for about, day in (("B-1", 16), ("P-1", 17), ("alder", 18)):
        open_action(made, about, "trouble", on=november(day), stamp=BENCH)
    for number, due in (("B-1/2026-11-16/1", 30), ("P-1/2026-11-17/1", 20)):
        carry_on(made, number, "mended", "G. Reyes", november(due), stamp=BENCH)
    carry_on(made, "alder/2026-11-18/1", "cleared", "G. Reyes", november(19), stamp=BENCH)
    review(made, "alder/2026-11-18/1", Effect.YES, "N. Ames", on=november(24), stamp=BENCH)
    return made


def listed(
    record: FakeRecord,
    *,
    on: dt.date | None = None,
    narrow: Narrow | None = None,
    everything: bool = False,
    known_at: dt.datetime | None = None,
) -> list[ActionRow]:
    question = Question(now=NOON, on=on, narrow=narrow or Narrow(), known_at=known_at)
    return action_rows(record, question, everything=everything)


def test_what_is_overdue_comes_first_and_what_is_closed_last(record: FakeRecord) -> None:
    assert [(row.number, row.state) for row in listed(record, everything=True)] == [
        ("P-1/2026-11-17/1", "review overdue"),
        ("R-1/2026-11-24/1", "to act on"),
        ("B-1/2026-11-16/1", "to review"),
        ("alder/2026-11-18/1", "closed"),
    ]
    assert [row.state for row in listed(record)] == ["review overdue", "to act on", "to review"]


def test_each_says_what_moves_it_on(record: FakeRecord) -> None:
    assert [row.next for row in listed(record, everything=True)] == [
        "Its review was due on 2026-11-20; say whether it worked:"
        " dueward action review P-1/2026-11-17/1 --effective yes --by NAME",
        "Say what is done, by whom, and when it is reviewed: dueward action carry-on"
        " R-1/2026-11-24/1 --action '...' --by NAME --review-on DATE",
        "Review on 2026-11-30 whether it worked:"
        " dueward action review B-1/2026-11-16/1 --effective yes --by NAME",
        None,
    ]


def test_a_row_tells_where_the_unit_stands_and_what_opened_it(record: FakeRecord) -> None:
    row = listed(record)[1]

    assert (row.site, row.county, row.region) == ("alder", "Cherry", "West")
    assert (row.property_number, row.kind, row.task) == ("R-1", "refrigerator", "temperature")
    assert (row.entry, row.struck_by) == ("R-1/temperature/2026-11-24/1", None)


def test_a_struck_reading_is_told_and_its_action_stays_open(record: FakeRecord) -> None:
    key = "R-1/temperature/2026-11-24/1"
    strike(record, HOLIDAYS, key, "misread", Mark.DONE, reading="4.1", stamp=BENCH)

    row = next(row for row in listed(record) if row.entry == key)

    assert (row.state, row.struck_by) == ("to act on", "R-1/temperature/2026-11-24/2")
    assert row.next == (
        "The reading was struck by R-1/temperature/2026-11-24/2 and now reads 4.1; say so if"
        " nothing else was wrong. Say what is done, by whom, and when it is reviewed: dueward"
        " action carry-on R-1/2026-11-24/1 --action '...' --by NAME --review-on DATE"
    )


def test_a_day_before_it_was_closed_still_lists_it(record: FakeRecord) -> None:
    assert [(row.number, row.state) for row in listed(record, on=november(18))] == [
        ("alder/2026-11-18/1", "to review"),
        ("P-1/2026-11-17/1", "to review"),
        ("B-1/2026-11-16/1", "to review"),
    ]


def test_nothing_is_known_before_it_was_written(record: FakeRecord) -> None:
    assert listed(record, known_at=NOON - dt.timedelta(seconds=1), everything=True) == []


@pytest.mark.parametrize(
    ("narrow", "numbers"),
    [
        (Narrow(kinds=("Balance",)), ["B-1/2026-11-16/1"]),
        (Narrow(sites=("birch",)), []),
        (Narrow(counties=("cherry",), kinds=("pipette", "balance")),
         ["P-1/2026-11-17/1", "B-1/2026-11-16/1"]),
        (Narrow(regions=("East",)), []),
    ],
)  # fmt: skip
def test_the_list_is_narrowed(record: FakeRecord, narrow: Narrow, numbers: list[str]) -> None:
    assert [row.number for row in listed(record, narrow=narrow)] == numbers
