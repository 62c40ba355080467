"""Does what ends, a unit, a site, the time to a due date, end as it says?"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from fleet.domain.evidence import Extension
from fleet.domain.records import Closure, Outage, Placement
from fleet.services.calendars import FOR_GOOD_ON
from fleet.services.due import due_rows
from fleet.services.life.acts import Act, kept_until
from fleet.services.life.extend import extend
from fleet.services.ports import Record
from fleet.services.questions import Question
from tests.fakes import FakeRecord
from tests.fleet.services.life_acts import (
    BACK,
    BROKEN,
    CLOSE,
    ISSUE,
    MOVE,
    NEW,
    RETIRE,
    refusal,
    states,
    twice,
)  # fmt: skip
from tests.fleet.services.life_fleet import (
    ALDER,
    BIRCH,
    HOLIDAYS,
    NOON,
    NOOR,
    SCOPE,
    STAMP,
    day,
    filled,
    marked,
)


@pytest.fixture
def record() -> Record:
    return filled(FakeRecord())


def test_a_retired_unit_is_kept_two_years(record: Record) -> None:
    act = twice(record, lambda: RETIRE(record, property_number="A-1", on=day("2026-06-30")))

    assert act.said == ["Unit A-1 is retired from Tue 30 Jun 2026 on."]
    # check-values A-12 (493.1105(a)(3)(i), read in a reprint): retired 2026-06-30, to 2028-06-30
    assert act.facts["keep_records_until"] == day("2028-06-30")
    assert record.register().units[("A-1",)].retired_on == day("2026-06-30")


def test_a_record_is_kept_through_the_day_two_years_later() -> None:
    # check-values A-08 (42 CFR 493.1105(a)(3)): of 2024-11-26, through 2026-11-26
    assert kept_until(day("2024-11-26")) == day("2026-11-26")
    assert kept_until(day("2024-02-29")) == day("2026-02-28")


def test_a_unit_with_open_ends_is_not_retired(record: Record) -> None:
    moves = Placement(property_number="A-1", site="birch", from_on=day("2026-03-10"))
    open_ended = Outage(property_number="A-1", from_on=day("2026-03-03"), to_on=None, reason="lamp")
    mean = "; say --anyway if it is meant"
    for more, words in (
        (moves, f"unit A-1 is to move to birch on 2026-03-10{mean}"),
        (open_ended, f"unit A-1 is out of service since 2026-03-03 (lamp){mean}"),
    ):
        one = filled(FakeRecord(), more)
        assert refusal(partial(RETIRE, one, property_number="A-1", on=day("2026-03-05"))) == words
        RETIRE(one, property_number="A-1", on=day("2026-03-05"), anyway=True)
        assert one.register().units[("A-1",)].retired_on == day("2026-03-05")

    marked(record, "optics", "2026-03-04")
    on_its_last = partial(RETIRE, record, property_number="A-1", on=day("2026-03-04"))
    assert refusal(on_its_last) == (
        f"unit A-1 is marked done on 2026-03-04 (entry A-1/optics/2026-03-04/1){mean}"
    )


def test_a_site_with_units_names_what_is_in_the_way(record: Record) -> None:
    coming = Placement(property_number="C-1", site="birch", from_on=day("2026-04-01"))
    stands = replace(SCOPE, property_number="B 1", site="birch")
    record = filled(FakeRecord(), NEW, coming, stands)

    assert refusal(partial(CLOSE, record, site="birch", on=day("2026-03-20"), why="joined")) == (
        "close-site birch: unit B 1 (microscope) stands there; dueward move 'B 1' SITE --on"
        " 2026-03-20, or dueward retire 'B 1' --on 2026-03-20\n"
        "close-site birch: unit C-1 (microscope) is to come there; dueward move C-1 SITE --on"
        " 2026-03-20, or dueward retire C-1 --on 2026-03-20"
    )
    assert record.register().closures == {}


def test_a_closed_site_has_no_readers_and_takes_no_units(record: Record) -> None:
    act = twice(record, lambda: CLOSE(record, site="birch", on=day("2026-03-20"), why="joined"))

    assert act.said == [
        "Birch Laboratory (birch) is closed for good from Fri 20 Mar 2026 on: joined.",
        "1 role ended there, and the mail with it: Lee.",
    ]
    register = record.register()
    assert list(register.people.values()) == [NOOR]
    assert register.sites[("birch",)] == replace(BIRCH, lead_email="")
    assert register.sites[("alder",)] == ALDER
    assert list(register.closures.values()) == [
        Closure(site="birch", from_on=day("2026-03-20"), to_on=FOR_GOOD_ON, reason="joined")
    ]
    there = partial(MOVE, record, property_number="A-1", site="birch", until_on=None)
    assert refusal(lambda: there(on=day("2026-03-20"))) == (
        "site birch is closed for good from 2026-03-20 on; say --anyway if it is meant"
    )
    assert refusal(
        lambda: ISSUE(
            record, unit=replace(NEW, site="birch", in_service_on=day("2026-03-23")), serviced=None
        )
    ) == ("site birch is closed for good from 2026-03-20 on; say --anyway if it is meant")


def test_what_is_due_after_the_closing_is_answered_while_a_unit_still_stands_there() -> None:
    here = replace(SCOPE, site="birch", in_service_on=day("2025-04-10"))
    record = filled(FakeRecord(), replace(here, property_number="B-1"))
    MOVE(record, property_number="B-1", site="alder", on=day("2026-03-20"), until_on=None)
    CLOSE(record, site="birch", on=day("2026-03-20"), why="joined")

    answer = due_rows(record, HOLIDAYS, Question(now=NOON, on=day("2026-03-04")))

    assert answer.failures == []
    due = {row.task: (row.site, row.due) for row in answer.rows if row.property_number == "B-1"}
    assert due["service"] == ("birch", day("2026-04-10"))


def extension(**given: object) -> Extension:
    words = {
        "property_number": "A-1",
        "task": "inventory",
        "from_on": day("2026-03-04"),
        "until_on": day("2026-03-20"),
        "reason": "the counter is ill.",
        "granted_by": "Noor",
    }
    return Extension(**(words | given))  # type: ignore[arg-type]


def extend_by(record: Record, wanted: Extension, *, anyway: bool = False, on: str = "") -> Act:
    granted_on = day(on) if on else None
    return extend(record, HOLIDAYS, wanted, granted_on, anyway=anyway, stamp=STAMP)


def test_what_is_put_off_is_due_until_then_and_overdue_after(record: Record) -> None:
    assert states(record, "A-1")["inventory"] == "overdue"

    act = twice(record, lambda: extend_by(record, extension()))

    assert act.said[0] == "Unit A-1, inventory: put off until Fri 20 Mar 2026."
    assert [row.limit for row in act.rows] == [day("2026-03-20")]
    for on, state in (
        ("2026-03-03", "overdue"),
        ("2026-03-04", "due"),
        ("2026-03-20", "due"),
        ("2026-03-21", "overdue"),
    ):
        assert states(record, "A-1", on)["inventory"] == state


@pytest.mark.parametrize(
    ("given", "words"),
    [
        (
            {"task": "optics"},
            "extend, TASK: 'optics' is a chart's row, and a cell that closed empty is a gap; say"
            " why it is empty: dueward mark ... --as explained --note '...'",
        ),
        ({"task": "polish"}, "no task 'polish'; a microscope has: alignment, inventory, service"),
        (
            {"until_on": day("2026-03-03")},
            "extend, until: 2026-03-03 has passed (today is 2026-03-04); put it off until a day to"
            " come, or have it done",
        ),
        (
            {"until_on": day("2027-03-06")},
            "extend, until: 2027-03-06 is more than 366 days after 2026-03-04; put it off for"
            " less, and look at it again then",
        ),
        ({"granted_by": " "}, "extend, by: nobody granted it; say who with --by"),
        ({"reason": ""}, "extend, why: no reason is given; say why with --why"),
        (
            {"task": "service"},
            "'service' of unit A-1 is not overdue before 2027-01-15 is over anyhow; say --anyway"
            " if it is meant",
        ),
    ],
)
def test_what_cannot_be_put_off_is_refused(
    record: Record, given: dict[str, object], words: str
) -> None:
    assert refusal(lambda: extend_by(record, extension(**given))) == words
    assert record.register().extensions == {}


def test_366_days_are_put_off_at_most(record: Record) -> None:
    extend_by(record, extension(until_on=day("2027-03-05")))

    assert [e.until_on for e in record.register().extensions.values()] == [day("2027-03-05")]


def test_an_act_on_no_unit_is_refused(record: Record) -> None:
    words = "no unit 'X-9'; property numbers are written as in the units file"
    for act in (
        partial(
            MOVE, record, property_number="X-9", site="birch", on=day("2026-03-05"), until_on=None
        ),
        partial(BROKEN, record, property_number="X-9", on=None, why="lamp"),
        partial(BACK, record, property_number="X-9", on=None),
        partial(RETIRE, record, property_number="X-9", on=day("2026-03-05")),
        partial(extend_by, record, extension(property_number="X-9")),
    ):
        assert refusal(act) == words
    assert refusal(partial(CLOSE, record, site="bich", on=day("2026-03-20"), why="j")) == (
        "no site 'bich'; did you mean 'birch'?"
    )
