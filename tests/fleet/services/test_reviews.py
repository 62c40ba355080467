"""Which months wait for a review, how is one signed, and what is refused?"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from fleet.domain.evidence import Action, Effect
from fleet.errors import BadInput, Doubtful, NotFound
from tests.fleet.services.audit_fleet import at, march
from tests.fleet.services.review_fleet import APRIL_6, ReviewFleet, april

WED = march(11)


def test_a_month_with_charts_waits_until_it_is_signed() -> None:
    fleet = ReviewFleet.clean(("optics", WED))

    (before,) = fleet.rows()
    fleet.sign(anyway=True, returned_on=april(3), note="seen on paper")
    (after,) = fleet.rows()

    assert dataclasses.astuple(before) == (
        *("alder", "Cherry", "West", "2026-03", "to review"),
        *(None, None, None, None, None, 1, None),
    )
    assert dataclasses.astuple(after) == (
        *("alder", "Cherry", "West", "2026-03", "signed", april(3), april(6), "Noor Northgate"),
        *(APRIL_6, None, 1, "seen on paper"),
    )


def test_signing_answers_with_the_month_s_row() -> None:
    fleet = ReviewFleet.clean()

    assert [fleet.sign(on=april(4))] == fleet.rows()
    assert fleet.rows()[0].reviewed_on == april(4)


@pytest.mark.parametrize(
    ("on", "months"),
    [
        (march(31), []),
        (april(1), ["2026-03"]),
        (dt.date(2026, 5, 1), ["2026-03", "2026-04"]),
    ],
)
def test_a_month_counts_from_the_day_after_it(on: dt.date, months: list[str]) -> None:
    """And no month before the units came (March) has a chart."""
    found = ReviewFleet.clean().rows("2025-11", "2026-12", on=on)

    assert [row.month for row in found] == months


def test_whether_a_month_is_over_is_asked_by_the_site_s_clock() -> None:
    """23:30 in Chicago on the last of March is 1 April in UTC."""
    fleet = ReviewFleet.clean()

    assert fleet.rows(now=at(march(31), 23, 30)) == []
    assert len(fleet.rows(now=at(april(1), 0, 30))) == 1


def test_a_site_without_a_unit_has_no_month_and_gets_one_with_a_move() -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.moved("M-1", april(8))

    found = {
        (row.site, row.month) for row in fleet.rows("2026-03", "2026-05", on=dt.date(2026, 6, 1))
    }

    assert found == {
        *(("alder", f"2026-0{month}") for month in (3, 4, 5)),
        *(("birch", f"2026-0{month}") for month in (4, 5)),
    }


@pytest.mark.parametrize(
    ("fields", "months"),
    [
        ({"retired_on": april(1)}, {"2026-03"}),
        ({"retired_on": april(2)}, {"2026-03", "2026-04"}),
        ({"record_from_on": april(30)}, {"2026-04"}),
    ],
)
def test_a_chart_is_there_while_the_unit_serves_and_the_record_speaks(
    fields: dict[str, Any], months: set[str]
) -> None:
    fleet = ReviewFleet.clean(**fields)
    fleet.audit.moved("C-1", march(2))

    found = fleet.rows("2026-01", "2026-04", on=dt.date(2026, 5, 5), sites=("ALDER",))

    assert {row.month for row in found} == months


def test_rows_are_narrowed_by_site_county_and_region() -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.moved("C-1", march(2))

    assert set(fleet.states()) == {("alder", "2026-03"), ("birch", "2026-03")}
    for narrow in ({"sites": ("birch",)}, {"counties": ("grant",)}, {"regions": ("East",)}):
        assert set(fleet.states(**narrow)) == {("birch", "2026-03")}


def test_gaps_are_counted_by_the_month_and_the_site_of_their_closing_day() -> None:
    fleet = ReviewFleet.clean(("optics", WED), ("optics", march(31)), ("speed", march(12)))
    fleet.audit.moved("C-1", march(9))

    counts = {(row.site, row.month): row.gaps for row in fleet.rows()}

    assert counts["alder", "2026-03"] == 2
    # Birch is open on Wednesdays only: the 11th, 18th and 25th are marked, and so the 12th is none.
    assert counts["birch", "2026-03"] == 0


def test_a_review_of_a_month_whose_unit_was_withdrawn_is_still_shown() -> None:
    fleet = ReviewFleet.clean()
    fleet.sign()
    for number in ("M-1", "C-1"):
        unit = fleet.record.register().units[(number,)]
        moved = dataclasses.replace(unit, site="birch")
        fleet.audit.learn(unit, moved, at(april(9)))

    assert fleet.state() == ("reopened", "register")


# --- signing


def test_only_noting_the_return_signs_nothing() -> None:
    fleet = ReviewFleet.clean()

    row = fleet.sign(by="", returned_on=april(3))

    assert (row.state, row.returned_on, row.reviewed_on) == ("to review", april(3), None)
    assert (row.reviewed_by, row.signed_at) == (None, None)


def test_what_was_noted_stays_when_the_month_is_signed() -> None:
    fleet = ReviewFleet.clean()
    fleet.sign(by="", returned_on=april(3), note="two pages")

    row = fleet.sign()

    assert (row.returned_on, row.note, row.state) == (april(3), "two pages", "signed")


def test_a_return_noted_after_the_signature_is_no_new_signature() -> None:
    fleet = ReviewFleet.clean()
    fleet.sign()
    fleet.audit.mark("late", WED, recorded=at(april(8)))

    row = fleet.sign(by="", returned_on=april(7), note="came by post", when=at(april(9)))

    assert (row.state, row.signed_at, row.touched_by) == ("reopened", APRIL_6, "late")
    assert (row.returned_on, row.note) == (april(7), "came by post")


def test_the_same_return_noted_twice_is_one_line() -> None:
    fleet = ReviewFleet.clean()
    fleet.sign(by="", returned_on=april(3))
    lines = len(fleet.audit.record.changes)

    fleet.sign(by="", returned_on=april(3))

    assert len(fleet.audit.record.changes) == lines


@pytest.mark.parametrize("how", [{}, {"note": "again"}, {"returned_on": april(3)}])
def test_a_reopened_month_is_signed_anew_also_on_the_same_day(how: dict[str, Any]) -> None:
    fleet = ReviewFleet.clean()
    fleet.sign()
    fleet.audit.mark("late", WED, recorded=at(april(6), 10))
    assert fleet.state()[0] == "reopened"

    row = fleet.sign(when=at(april(6), 11), **how)

    assert (row.state, row.touched_by, row.signed_at) == ("signed", None, at(april(6), 11))


def test_gaps_and_corrective_actions_still_open_make_a_signature_doubtful() -> None:
    fleet = ReviewFleet.clean(("optics", WED), ("optics", march(12)))
    an_action(fleet, "alder/2026-03-20/1", march(20))
    an_action(fleet, "alder/2026-04-02/1", april(2))
    an_action(fleet, "alder/2026-03-21/1", march(21), closed_on=april(1), effective=Effect.YES)
    an_action(fleet, "birch/2026-03-20/1", march(20), site="birch")

    with pytest.raises(Doubtful) as refused:
        fleet.sign()

    assert str(refused.value) == (
        "alder 2026-03: 2 gaps are open and 1 corrective action is open (alder/2026-03-20/1);"
        " say --anyway if it is meant"
    )
    assert fleet.state() == ("to review", None)
    assert fleet.sign(anyway=True).state == "signed"


def an_action(
    fleet: ReviewFleet, number: str, opened_on: dt.date, site: str = "alder", **more: Any
) -> None:
    fleet.audit.know(Action(number=number, site=site, opened_on=opened_on, problem="x", **more))


def test_noting_a_return_asks_for_no_word_of_the_gaps() -> None:
    fleet = ReviewFleet.clean(("optics", WED))

    assert fleet.sign(by="", returned_on=april(3)).gaps == 1


@pytest.mark.parametrize(
    ("how", "error", "message"),
    [
        ({"site": "aldr"}, NotFound, "no site 'aldr'; did you mean 'alder'?"),
        ({"month": "2026-3"}, BadInput, "MONTH: '2026-3' is not a month; write YYYY-MM"),
        ({"month": "2026-13"}, BadInput, "MONTH: '2026-13' is not a month; write YYYY-MM"),
        (
            {"month": "1026-03"},
            BadInput,
            "MONTH: 1026-03 is out of reach; give a month from 1950-01 to 2099-12",
        ),
        (
            {"month": "2026-04"},
            BadInput,
            "alder 2026-04: the month is not over; review it from 2026-05-01 on",
        ),
        (
            {"month": "2026-02"},
            BadInput,
            "alder 2026-02: no unit with a chart stood there in that month; see which months had"
            " one: dueward reviews --from ... --to ...",
        ),
        (
            {"on": april(7)},
            BadInput,
            "--on: 2026-04-07 lies in the future; today is 2026-04-06 at alder",
        ),
        (
            {"on": march(31)},
            BadInput,
            "--on: 2026-03-31 lies before 2026-04-01; check the day and the month 2026-03",
        ),
        (
            {"returned_on": april(7)},
            BadInput,
            "--returned: 2026-04-07 lies in the future; today is 2026-04-06 at alder",
        ),
        (
            {"returned_on": dt.date(2026, 2, 28)},
            BadInput,
            "--returned: 2026-02-28 lies before 2026-03-01; check the day and the month 2026-03",
        ),
        ({"by": " "}, BadInput, "--by: nobody signs; name who reviewed the month"),
        (
            {"by": "", "on": april(6), "returned_on": april(3)},
            BadInput,
            "--by: nobody signs; name who reviewed the month",
        ),
        (
            {"by": ""},
            BadInput,
            "review: there is nothing to write; sign it with --by, or say with --returned when the"
            " charts came back",
        ),
        (
            {"by": "x" * 201},
            BadInput,
            f"--by: '{'x' * 59}…' has 201 characters; shorten it to at most 200",
        ),
        (
            {"note": "a\x1bb"},
            BadInput,
            "--note: 'a\\x1bb' holds the control character U+001B; take it out; write plain text",
        ),
    ],
)
def test_what_cannot_be_signed_is_refused_and_nothing_is_written(
    how: dict[str, Any], error: type[Exception], message: str
) -> None:
    fleet = ReviewFleet.clean()
    lines = len(fleet.audit.record.changes)

    with pytest.raises(error) as refused:
        fleet.sign(**how)

    assert str(refused.value) == message
    assert len(fleet.audit.record.changes) == lines


def test_a_month_that_stands_signed_is_not_signed_again() -> None:
    fleet = ReviewFleet.clean()
    fleet.sign()

    with pytest.raises(BadInput) as refused:
        fleet.sign(by="Otto Vale", when=at(april(8)), anyway=True)

    assert str(refused.value) == (
        "alder 2026-03: it was signed on 2026-04-06 by Noor Northgate, and is as it was then; there"
        " is nothing to sign; a month is signed anew once something in it has changed"
    )


def test_a_site_open_one_day_a_week_has_its_month_like_any_other() -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.moved("C-1", march(2))

    row = fleet.sign("birch", anyway=True)

    assert (row.site, row.state, row.gaps) == ("birch", "signed", 0)
