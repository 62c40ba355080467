"""Does each act of a unit's life write what it says, once, and refuse what is doubtful?"""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from fleet.domain.evidence import Review
from fleet.domain.records import Entry, Outage
from fleet.services.life.issue import Serviced
from fleet.services.outages import begin_outage, end_outage
from fleet.services.ports import Record
from tests.fakes import FakeRecord
from tests.fleet.services.life_acts import (
    BACK,
    BROKEN,
    ISSUE,
    MOVE,
    NEW,
    refusal,
    states,
    twice,
)  # fmt: skip
from tests.fleet.services.life_fleet import (
    HOLIDAYS,
    SCOPE,
    STAMP,
    day,
    filled,
    marked,
)


@pytest.fixture
def record() -> Record:
    return filled(FakeRecord())


def test_an_issued_unit_counts_from_its_central_service(record: Record) -> None:
    serviced = Serviced(day("2026-02-20"), initials="OV")

    act = twice(record, lambda: ISSUE(record, unit=NEW, serviced=serviced))

    assert act.said == [
        "Unit C-1 (Exemplar M1) is issued to Alder Laboratory (alder), in service from"
        " Wed 4 Mar 2026."
    ]
    assert act.todo == ["A chart for 2026 is wanted: optics, lamp-check."]
    due = {row.task: row.due for row in act.rows}
    assert due["service"] == day("2027-02-22")
    assert due["alignment"] == day("2026-09-04")
    assert [s.entry.key for s in record.entries()] == ["C-1/service/2026-02-20/1"]
    assert record.register().units[("C-1",)] == NEW


def test_a_unit_issued_without_a_service_is_told_how_to_say_it(record: Record) -> None:
    assert ISSUE(record, unit=NEW, serviced=None).todo[1] == (
        "If it was serviced before its issue, say when, or it counts from issue:"
        " dueward mark C-1 service --on DATE --as done --initials ..."
    )


def test_a_number_is_issued_once(record: Record) -> None:
    assert refusal(
        lambda: ISSUE(record, unit=replace(NEW, property_number="A-1"), serviced=None)
    ) == (
        "issue, property_number: unit A-1 stands already, a microscope issued to alder on"
        " 2026-01-05; to change what is known of it, load its row of units; to move it: dueward"
        " move"
    )


@pytest.mark.parametrize(
    ("field", "value", "words"),
    [
        ("serial", "7", "serial 7 is that of unit A-1; say --anyway if it is meant"),
        (
            "in_service_on",
            day("2027-03-06"),
            "2027-03-06 is more than a year ahead (today is 2026-03-04); say --anyway if it is"
            " meant",
        ),
        ("site", "aldre", "issue, site: no site 'aldre'; did you mean 'alder'?"),
        (
            "kind",
            "microscop",
            "issue, kind: no kind 'microscop' in the rule book; did you mean 'microscope'?",
        ),
        (
            "property_number",
            " ",
            "issue, property_number: the unit has no number; write its number",
        ),
    ],
)
def test_a_slip_in_an_issue_is_refused(
    record: Record, field: str, value: object, words: str
) -> None:
    unit = replace(NEW, **{field: value})  # type: ignore[arg-type]

    assert refusal(lambda: ISSUE(record, unit=unit, serviced=None)) == words
    assert list(record.register().units) == [("A-1",)]


def test_a_service_after_issue_is_a_mark(record: Record) -> None:
    words = refusal(lambda: ISSUE(record, unit=NEW, serviced=Serviced(day("2026-03-05"))))

    assert words == (
        "issue, serviced-on: 2026-03-05 is after the unit enters service on 2026-03-04; mark it:"
        " dueward mark C-1 TASK --on 2026-03-05 --as done --initials ..."
    )


def test_a_lent_unit_is_back_on_its_day(record: Record) -> None:
    until = day("2026-03-10")

    act = twice(
        record,
        lambda: MOVE(
            record, property_number="A-1", site="birch", on=day("2026-03-05"), until_on=until
        ),
    )

    assert act.said == [
        "Unit A-1 is lent from alder to birch on Thu 5 Mar 2026 until Tue 10 Mar 2026, when it is"
        " back at alder."
    ]
    assert act.todo[0] == (
        "Before it is used: Check the alignment; then dueward mark A-1 alignment --on 2026-03-05"
        " --as done --initials ..."
    )
    assert list(record.register().placements) == [("A-1", "2026-03-05"), ("A-1", "2026-03-10")]
    assert states(record, "A-1", "2026-03-05")["alignment"] == "due"


def test_a_move_tells_which_months_it_opens_again(record: Record) -> None:
    signed = Review(
        site="birch", month="2026-02", reviewed_on=day("2026-03-02"), reviewed_by="Noor"
    )
    returned = Review(site="alder", month="2026-02", returned_on=day("2026-03-02"))
    other = replace(signed, month="2026-01")
    record = filled(FakeRecord(), signed, returned, other)

    act = MOVE(record, property_number="A-1", site="birch", on=day("2026-02-10"), until_on=None)

    assert act.todo[-2:] == [
        "February 2026 at birch was signed by Noor on Mon 2 Mar 2026; this reopens it: look at it"
        " again and sign it.",
        "February 2026 at alder is under review; tell the reviewer of this change.",
    ]


@pytest.mark.parametrize(
    ("site", "on", "until", "words"),
    [
        ("alder", "2026-03-05", None, "unit A-1 stands at alder already; say --anyway"),
        ("birch", "2026-03-05", "2026-03-05", "move, until: 2026-03-05 is not after 2026-03-05;"),
        ("bich", "2026-03-05", None, "move, site: no site 'bich'; did you mean 'birch'?"),
        ("birch", "2028-03-05", None, "2028-03-05 is more than a year ahead (today is 2026-03-04)"),
        ("birch", "2026-01-05", None, "move, from: unit A-1 moves on 2026-01-05, not after it"),
    ],
)
def test_a_slip_in_a_move_is_refused(
    record: Record, site: str, on: str, until: str | None, words: str
) -> None:
    until_on = day(until) if until else None
    act = partial(MOVE, record, property_number="A-1", site=site, on=day(on), until_on=until_on)

    assert refusal(act).startswith(words)
    assert record.register().placements == {}


def test_a_move_across_another_is_doubtful(record: Record) -> None:
    move_on = partial(MOVE, record, property_number="A-1", until_on=None)
    move_on(site="birch", on=day("2026-03-10"))

    assert refusal(lambda: move_on(site="birch", on=day("2026-03-05"))) == (
        "unit A-1 moves to birch on 2026-03-10 already; say --anyway if it is meant"
    )


def test_a_broken_unit_is_out_from_the_day_it_broke(record: Record) -> None:
    act = twice(record, lambda: BROKEN(record, property_number="A-1", on=None, why="lamp"))

    assert act.said == [
        "Unit A-1 is out of service from Wed 4 Mar 2026.",
        "Seen in the next digests by Noor (consultant) and lead@alder.example (site lead).",
    ]
    assert act.todo[0].startswith("Do not use it. Tag it 'out of service'")
    assert act.todo[-1] == "When it is back: dueward back A-1 --on DATE"
    assert set(states(record, "A-1").values()) == {"out of service"}


def test_a_unit_worked_with_that_day_is_out_from_the_next(record: Record) -> None:
    marked(record, "optics", "2026-03-04")

    act = twice(record, lambda: BROKEN(record, property_number="A-1", on=None, why="lamp"))

    assert act.said[:2] == [
        "Unit A-1 is out of service from Thu 5 Mar 2026.",
        "It was worked with on Wed 4 Mar 2026: a cell of that day is marked, and a mark on a day"
        " out of service would be the finding 'conflict'. So it counts as out from the next.",
    ]
    assert states(record, "A-1")["optics"] == "done"


def test_only_a_mark_that_stands_shows_that_it_was_worked_with(record: Record) -> None:
    key = marked(record, "optics", "2026-03-04")
    marked(record, "service", "2026-03-04")
    struck = Entry(
        key="s", property_number="A-1", task="optics", on=day("2026-03-04"), strikes=key, why="slip"
    )
    record.append([struck], STAMP)

    act = BROKEN(record, property_number="A-1", on=None, why="lamp")

    assert act.facts["from"] == day("2026-03-04")


@pytest.mark.parametrize(
    ("on", "words"),
    [
        ("2026-03-05", "2026-03-05 lies in the future (today is 2026-03-04); say --anyway"),
        ("2026-01-04", "2026-01-04 lies before unit A-1 entered service on 2026-01-05; say"),
        (
            "2026-03-02",
            "unit A-1 was worked with later: 2026-03-03 is marked (entry"
            " A-1/optics/2026-03-03/1); say",
        ),
    ],
)
def test_a_doubtful_outage_is_refused(record: Record, on: str, words: str) -> None:
    marked(record, "optics", "2026-03-03")

    act = partial(BROKEN, record, property_number="A-1", on=day(on), why="lamp")

    assert refusal(act).startswith(words)
    assert record.register().outages == {}


def test_a_unit_breaks_once(record: Record) -> None:
    BROKEN(record, property_number="A-1", on=None, why="lamp")

    again = partial(BROKEN, record, property_number="A-1", on=None, why="stage")

    assert refusal(again) == (
        "broken, on: unit A-1 is out of service since 2026-03-04 already (lamp); bring it back"
        " first: dueward back A-1 --on DATE"
    )
    assert refusal(partial(BROKEN, record, property_number="A-1", on=None, why=" ")) == (
        "broken, why: no reason is given; say why with --why"
    )


def test_a_unit_that_is_back_has_checks_before_use(record: Record) -> None:
    begin_outage(record, HOLIDAYS, SCOPE, day("2026-02-27"), "lamp", STAMP)

    act = twice(record, lambda: BACK(record, property_number="A-1", on=None))

    assert act.said == [
        "Unit A-1 is back in service from Wed 4 Mar 2026; it was out from Fri 27 Feb 2026 (lamp)."
    ]
    before = "Before it is used: "
    after = " --on 2026-03-04 --as done --initials ..."
    assert act.todo == [
        f"{before}Check the alignment; then dueward mark A-1 alignment{after}",
        f"{before}Count it; then dueward mark A-1 inventory{after}",
        f"{before}Check the lamp; then dueward mark A-1 lamp-check{after}",
    ]
    marked(record, "alignment", "2026-03-04")
    assert states(record, "A-1")["alignment"] == "upcoming"


def test_nothing_but_an_outage_ends(record: Record) -> None:
    words = "if it broke, say so: dueward broken A-1 --on DATE --why '...'"
    assert refusal(partial(BACK, record, property_number="A-1", on=None)) == (
        f"back, on: unit A-1 is not out of service on 2026-03-04; {words}"
    )
    begin_outage(record, HOLIDAYS, SCOPE, day("2026-03-04"), "lamp", STAMP)
    assert refusal(lambda: end_outage(record, HOLIDAYS, SCOPE, day("2026-03-04"), STAMP)) == (
        "back, on: unit A-1 is out of service from 2026-03-04 on; the first day it can be in"
        " service again is 2026-03-05: say --on 2026-03-05"
    )
    end_outage(record, HOLIDAYS, SCOPE, day("2026-03-05"), STAMP)
    assert refusal(lambda: end_outage(record, HOLIDAYS, SCOPE, day("2026-03-09"), STAMP)) == (
        "back, on: unit A-1 is not out of service on 2026-03-09; its last outage ended on"
        f" 2026-03-05; {words}"
    )


def test_a_unit_that_is_back_the_day_it_broke_was_in_service_that_day(record: Record) -> None:
    begin_outage(record, HOLIDAYS, SCOPE, day("2026-03-04"), "lamp", STAMP)

    act = BACK(record, property_number="A-1", on=day("2026-03-04"))

    assert act.said == [
        "Unit A-1 is back the day it broke, Wed 4 Mar 2026 (lamp): it counts as in service, and its"
        " cells are to be marked."
    ]
    assert record.register().outages == {}
    outages = [
        line.change for line in record.change_lines() if isinstance(line.change.record, Outage)
    ]
    assert [change.new is None for change in outages] == [False, True]


def test_an_outage_before_another_one_is_refused(record: Record) -> None:
    begin_outage(record, HOLIDAYS, SCOPE, day("2026-03-09"), "planned", STAMP)

    refused = partial(begin_outage, record, HOLIDAYS, SCOPE, day("2026-03-04"), "lamp", STAMP)

    assert refusal(refused) == (
        "broken, from: it overlaps the outage of unit A-1 from 2026-03-09 without an end; outages"
        " of a unit may touch, not overlap ('to' is the day of return)"
    )
