"""Is a corrective action documented as the law asks, step by step, and closed only when it worked?

42 CFR 493.1282(b)(1)(i), (b)(3): corrective actions are documented where equipment performs outside
its operating parameters or storage criteria are not met. 42 CFR 493.1239(a)-(c): it is reviewed
whether they worked (both read in a reprint). The fields follow from that; the words are our own.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import replace

import pytest

from fleet.domain.evidence import Action, Effect
from fleet.domain.register import Change
from fleet.errors import BadInput, NotFound
from fleet.services.actions import carry_on, close, open_action, review
from tests.fakes import FakeRecord
from tests.fleet.services.action_fleet import BENCH, WEDNESDAY, fill, november

NUMBER = "R-1/2026-11-23/1"
PROBLEM = "door did not close"


@pytest.fixture
def record() -> FakeRecord:
    """A record with an action about R-1, opened on Monday."""
    made = FakeRecord()
    fill(made)
    open_action(made, "R-1", PROBLEM, task="temperature", on=november(23), stamp=BENCH)
    return made


def carried_on(record: FakeRecord, what: str = "hinge mended", day: int = 27) -> Action:
    return carry_on(record, NUMBER, what, "Gail Reyes", november(day), stamp=BENCH)


def test_an_action_says_where_what_and_since_when(record: FakeRecord) -> None:
    assert record.register().actions[(NUMBER,)] == Action(
        number=NUMBER,
        site="alder",
        property_number="R-1",
        task="temperature",
        opened_on=november(23),
        problem=PROBLEM,
    )


def test_the_number_is_the_next_free_one_of_its_unit_and_day(record: FakeRecord) -> None:
    second = open_action(record, "R-1", "light broken", on=november(23), stamp=BENCH)
    of_site = open_action(record, "alder", "eyewash blocked", stamp=BENCH)

    assert second.number == "R-1/2026-11-23/2"
    assert (of_site.number, of_site.property_number) == ("alder/2026-11-25/1", "")


def test_the_same_problem_said_twice_is_one_action_while_it_is_open(record: FakeRecord) -> None:
    lines = len(record.changes)

    again = open_action(record, "R-1", PROBLEM, task="temperature", on=november(23), stamp=BENCH)

    assert (again.number, len(record.changes)) == (NUMBER, lines)


def test_it_is_carried_on_reviewed_and_closed_by_change_lines(record: FakeRecord) -> None:
    """42 CFR 493.1239(a)-(c): what was done, by whom, and whether it worked."""
    carried_on(record)
    closed = review(record, NUMBER, Effect.YES, "Noor Ames", on=WEDNESDAY, stamp=BENCH)

    assert (closed.action, closed.responsible, closed.review_on) == (
        "hinge mended",
        "Gail Reyes",
        november(27),
    )
    assert (closed.effective, closed.reviewed_by, closed.closed_on) == (
        Effect.YES,
        "Noor Ames",
        WEDNESDAY,
    )
    lines = [change for change, _ in record.changes if isinstance(change.record, Action)]
    assert [(line.old is None, line.initial) for line in lines] == [
        (True, False),
        (False, False),
        (False, False),
    ]


def test_a_review_that_found_no_effect_keeps_it_open_and_asks_for_another_action(
    record: FakeRecord,
) -> None:
    carried_on(record)
    unmoved = review(record, NUMBER, Effect.NO, "Noor Ames", stamp=BENCH)
    assert (unmoved.effective, unmoved.closed_on) == (Effect.NO, None)

    with pytest.raises(BadInput) as refusal:
        carried_on(record)
    assert str(refusal.value) == (
        f"action {NUMBER}, --action: a review found that this did not work;"
        " say what is done instead"
    )

    anew = carried_on(record, "door replaced", 30)
    assert (anew.effective, anew.reviewed_by, anew.review_on) == (None, "", november(30))


def test_each_step_said_twice_writes_nothing(record: FakeRecord) -> None:
    carried_on(record)
    first = len(record.changes)
    carried_on(record)
    assert len(record.changes) == first

    review(record, NUMBER, Effect.YES, "Noor Ames", stamp=BENCH)
    closed = len(record.changes)
    review(record, NUMBER, Effect.YES, "Noor Ames", stamp=BENCH)
    close(record, NUMBER, stamp=BENCH)
    assert len(record.changes) == closed


def test_one_that_a_file_says_worked_is_closed_by_a_step_of_its_own(record: FakeRecord) -> None:
    old = carried_on(record)
    told = replace(old, effective=Effect.YES, reviewed_by="Noor Ames")
    record.change([Change(old=old, new=told, initial=False)], BENCH)

    assert close(record, NUMBER, on=november(24), stamp=BENCH).closed_on == november(24)


def test_nothing_is_closed_without_what_the_law_asks_for(record: FakeRecord) -> None:
    """42 CFR 493.1239: without a review of whether it worked it stays open."""
    with pytest.raises(BadInput) as bare:
        close(record, NUMBER, stamp=BENCH)
    assert str(bare.value) == (
        f"action {NUMBER}: it lacks what was done, who did it, a review that found that it worked;"
        " see dueward action carry-on --help (a review that says yes closes it)"
    )

    carried_on(record)
    with pytest.raises(BadInput) as unreviewed:
        close(record, NUMBER, stamp=BENCH)
    assert str(unreviewed.value) == (
        f"action {NUMBER}: it lacks a review that found that it worked;"
        " see dueward action review --help (a review that says yes closes it)"
    )

    review(record, NUMBER, Effect.NO, "Noor Ames", stamp=BENCH)
    with pytest.raises(BadInput, match="it lacks a review that found that it worked;"):
        close(record, NUMBER, stamp=BENCH)


Step = Callable[[FakeRecord], object]


def _reviewed(on: dt.date) -> Step:
    return lambda record: review(record, NUMBER, Effect.YES, "N. Ames", on=on, stamp=BENCH)


REFUSED: list[tuple[str, Step, str]] = [
    (
        "to come",
        _reviewed(november(26)),
        f"action {NUMBER}, --on: 2026-11-26 lies in the future (today is 2026-11-25);"
        " give the day it was seen or done",
    ),
    (
        "before it was opened",
        _reviewed(november(22)),
        f"action {NUMBER}, --on: it cannot be reviewed on 2026-11-22, before it was opened on"
        " 2026-11-23; give a later day",
    ),
    (
        "review planned before it was opened",
        lambda record: carried_on(record, day=22),
        f"action {NUMBER}, --review-on: 2026-11-22 is before the action was opened on 2026-11-23;"
        " give a later day",
    ),
    (
        "no words",
        lambda record: carry_on(record, NUMBER, " ", "G. Reyes", november(27), stamp=BENCH),
        "action, --action: it is empty; write a few words",
    ),
    (
        "nobody",
        lambda record: carry_on(record, NUMBER, "mended", "", november(27), stamp=BENCH),
        "action, --by: it is empty; write a few words",
    ),
    (
        "opened in the future",
        lambda record: open_action(record, "R-1", "cold", on=november(26), stamp=BENCH),
        "action open, --on: 2026-11-26 lies in the future (today is 2026-11-25);"
        " give the day it was seen or done",
    ),
    (
        "a task of a site",
        lambda record: open_action(record, "alder", "dark", task="optics", stamp=BENCH),
        "action open, --task: alder is a site and has no tasks; leave it out",
    ),
]


@pytest.mark.parametrize(
    ("step", "message"), [row[1:] for row in REFUSED], ids=[row[0] for row in REFUSED]
)
def test_a_step_that_cannot_be_is_refused_in_one_line(
    record: FakeRecord, step: Step, message: str
) -> None:
    carried_on(record)
    before = len(record.changes)

    with pytest.raises(BadInput) as refusal:
        step(record)

    assert str(refusal.value) == message
    assert len(record.changes) == before


def test_there_is_nothing_to_review_before_something_is_done(record: FakeRecord) -> None:
    with pytest.raises(BadInput) as refusal:
        review(record, NUMBER, Effect.YES, "Noor Ames", stamp=BENCH)

    assert str(refusal.value) == (
        f"action {NUMBER}: there is nothing to review: it has no action and no responsible;"
        " say first what is done (dueward action carry-on)"
    )


def test_a_closed_one_is_not_moved(record: FakeRecord) -> None:
    carried_on(record)
    review(record, NUMBER, Effect.YES, "Noor Ames", stamp=BENCH)

    with pytest.raises(BadInput) as refusal:
        carried_on(record, "something else")

    assert str(refusal.value) == (
        f"action {NUMBER}: it was closed on 2026-11-25;"
        " open another one if the problem is back (dueward action open)"
    )


@pytest.mark.parametrize(
    ("about", "task", "message"),
    [
        ("R-2", "", "no unit or site 'R-2'; write its property number or short name as in the units"
         " or sites file"),
        ("R-1", "optics", "no task 'optics'; a refrigerator has: temperature"),
    ],
)  # fmt: skip
def test_what_is_not_there_is_named(
    record: FakeRecord, about: str, task: str, message: str
) -> None:
    with pytest.raises(NotFound) as refusal:
        open_action(record, about, "cold", task=task, stamp=BENCH)
    assert str(refusal.value) == message


def test_an_unknown_number_is_named(record: FakeRecord) -> None:
    with pytest.raises(NotFound) as refusal:
        close(record, "R-1/1", stamp=BENCH)
    assert str(refusal.value) == ("no action 'R-1/1'; numbers stand in dueward actions --all")
