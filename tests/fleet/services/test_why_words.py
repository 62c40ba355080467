"""Do the sentences of `why` say what happened, and nothing that says nothing?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.errors import Unanswered
from fleet.services.kept import rebuild
from fleet.services.questions import Question
from fleet.services.why import explain_row
from tests.outside import day
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.reference.records import (
    RefClosure,
    RefEntry,
    RefEvery,
    RefFleet,
    RefOutage,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
)

NOON = dt.datetime(2026, 3, 20, 12, tzinfo=dt.UTC)
SERVICE = RefRule(kind="microscope", task="service", every=RefEvery(1, "Y"))
EITHER = replace(SERVICE, due_after=frozenset({"moved", "repaired"}))
UNIT = RefUnit(
    property_number="U-1", kind="microscope", site="alder", in_service_on=day("2025-06-02")
)
FLEET = RefFleet(sites=(RefSite(site="alder"), RefSite(site="birch")), units=(UNIT,), rules=())
MOVED = RefPlacement(property_number="U-1", site="birch", from_on=day("2026-03-03"))
REPAIRED = RefOutage(property_number="U-1", from_on=day("2026-02-02"), to_on=day("2026-03-10"))


def steps(fleet: RefFleet, rule: RefRule, on: str = "2026-03-20") -> list[str]:
    """The sentences on the one unit and rule, without the first, which tells where it stands."""
    record = BridgedRecord(replace(fleet, rules=(rule,)))
    rebuild(record, list(record.unit_ids().values()), NoPublicHolidays())  # type: ignore[arg-type]
    question = Question(now=NOON, on=day(on))
    found = explain_row(record, NoPublicHolidays(), "U-1", rule.task, question)  # type: ignore[arg-type]
    return found.steps[1:]


@pytest.mark.parametrize(
    ("placements", "outages", "words"),
    [
        ((MOVED,), (), "The unit was moved on Tue 3 Mar 2026"),
        ((), (REPAIRED,), "The unit came back from repair on Tue 10 Mar 2026"),
        ((MOVED,), (REPAIRED,), "The unit came back from repair on Tue 10 Mar 2026"),
        (
            (replace(MOVED, from_on=day("2026-03-10")),),
            (REPAIRED,),
            "The unit was moved and came back from repair on Tue 10 Mar 2026",
        ),
    ],
)
def test_which_event_made_it_due_is_told(
    placements: tuple[RefPlacement, ...], outages: tuple[RefOutage, ...], words: str
) -> None:
    told = steps(replace(FLEET, placements=placements, outages=outages), EITHER)

    on = words.rpartition(" on ")[2]
    assert told[3] == f"{words} and the task has not been done since, so it is due by {on}."


@pytest.mark.parametrize(
    ("early", "grace", "words"),
    [
        (0, 0, "a closed day"),
        (45, 0, "it opens 45 days before, and a closed day"),
        (0, 1, "it has 1 day of grace, and a closed day"),
        (45, 15, "it opens 45 days before, has 15 days of grace, and a closed day"),
    ],
)
def test_a_window_or_a_grace_that_there_is_not_is_not_told(
    early: int, grace: int, words: str
) -> None:
    told = steps(FLEET, replace(SERVICE, early=early, grace=grace))

    assert told[0].startswith(
        "The rule 'service of the microscope' comes back every year from the last time it was done;"
        f" {words} moves it to the next open day. Source: "
    )


def test_a_due_date_that_is_pulled_back_before_the_record_begins_says_so() -> None:
    unit = replace(UNIT, record_from_on=day("2026-03-15"))

    told = steps(replace(FLEET, units=(unit,)), replace(SERVICE, roll="preceding"))

    assert told[1:] == [
        "It has not been done; the unit entered service on Mon 2 Jun 2025.",
        "The record begins on Sun 15 Mar 2026, so it is wanted from then.",
        "Sun 15 Mar 2026 is closed at alder (Sunday), so the open day before is meant:"
        " it is due on Fri 13 Mar 2026.",
        "It is overdue after Sun 15 Mar 2026.",
        "So on Fri 20 Mar 2026 it is overdue, 7 days past its due date (5 open days).",
    ]


def test_a_due_date_that_is_put_off_to_the_next_open_day_says_so() -> None:
    unit = replace(UNIT, record_from_on=day("2026-03-15"))

    told = steps(replace(FLEET, units=(unit,)), replace(SERVICE, early=3))

    assert told[3:5] == [
        "Sun 15 Mar 2026 is closed at alder (Sunday), so the next open day is meant:"
        " it is due on Mon 16 Mar 2026.",
        "It may be done from Thu 12 Mar 2026 on, and is overdue after Mon 16 Mar 2026.",
    ]


@pytest.mark.parametrize(
    ("times", "record_from", "words", "missing"),
    [
        (1, "2026-03-18", "The last 2 cells that closed before are empty.", "2 marks"),
        (1, "2026-03-19", "The last cell that closed before is empty.", "1 mark"),
        (2, "2026-03-18", "The last 2 cells that closed before have too few marks.", "2 marks"),
        (2, "2026-03-19", "The last cell that closed before has too few marks.", "1 mark"),
    ],
)
def test_cells_that_ask_for_several_marks_may_have_too_few_of_them(
    times: int, record_from: str, words: str, missing: str
) -> None:
    rule = RefRule(kind="microscope", task="optics", each="open-day", times=times)
    unit = replace(UNIT, record_from_on=day(record_from))

    told = steps(replace(FLEET, units=(unit,)), rule)

    assert told[2:] == [words, f"So on Fri 20 Mar 2026 it is overdue, {missing} missing."]


def test_a_unit_whose_due_date_cannot_be_told_has_no_answer_and_the_reason() -> None:
    closed = RefClosure(
        site="alder", from_on=day("2024-01-01"), to_on=day("2029-12-31"), reason="rebuilding"
    )
    done = RefEntry(
        key="k", property_number="U-1", task="service", on=day("2025-06-03"), mark="done"
    )

    with pytest.raises(Unanswered) as caught:
        steps(replace(FLEET, closures=(closed,), entries=(done,)), SERVICE)

    assert str(caught.value) == (
        "unit U-1, service: site alder: no open day within 366 days of 2026-06-03;"
        " check its closures and its weekly pattern"
    )
