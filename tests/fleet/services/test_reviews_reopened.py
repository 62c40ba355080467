"""Which entries reopen a month that was signed, and as of which instant?"""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.evidence import Review
from fleet.domain.records import (
    Mark,
    Outage,
)
from tests.fleet.services.audit_fleet import at, march
from tests.fleet.services.review_fleet import APRIL_6, ReviewFleet, april

SIGNED = ("signed", None)
BY_REGISTER = ("reopened", "register")
AFTER = at(april(8))
FEB = dt.date(2026, 2, 20)


@pytest.fixture
def signed() -> ReviewFleet:
    """March is signed at Alder."""
    fleet = ReviewFleet.clean(("optics", march(11)))
    fleet.sign(anyway=True)
    return fleet


def out(from_on: dt.date, to_on: dt.date | None, number: str = "M-1") -> Outage:
    return Outage(property_number=number, from_on=from_on, to_on=to_on, reason="repair")


@pytest.mark.parametrize(
    ("on", "to_on", "reopens"),
    [
        (march(11), None, True),
        (march(31), None, True),
        (april(1), None, False),
        (march(30), april(3), True),
        (dt.date(2026, 2, 2), march(2), True),
        (dt.date(2026, 2, 2), dt.date(2026, 4, 30), True),
        (april(1), april(3), False),
        (dt.date(2026, 2, 2), dt.date(2026, 2, 28), False),
    ],
)
def test_a_later_entry_reopens_the_months_of_its_days(
    signed: ReviewFleet, on: dt.date, to_on: dt.date | None, reopens: bool
) -> None:
    signed.audit.mark("late", on, Mark.UNUSED, to_on=to_on, recorded=AFTER)

    assert signed.state() == (("reopened", "late") if reopens else SIGNED)


def test_a_late_explanation_reopens_the_month_and_is_named(signed: ReviewFleet) -> None:
    signed.audit.mark("why", march(11), Mark.EXPLAINED, note="was ill", recorded=AFTER)

    (row,) = signed.rows()

    assert (row.state, row.touched_by, row.gaps) == ("reopened", "why", 0)
    assert (row.reviewed_by, row.signed_at) == ("Noor Northgate", APRIL_6)


def test_what_was_stored_before_or_at_the_signature_reopens_nothing(signed: ReviewFleet) -> None:
    signed.audit.mark("in time", march(11), recorded=at(april(6), 8, 59))
    signed.audit.mark("with it", march(12), recorded=APRIL_6)

    assert signed.state() == SIGNED


def test_each_signature_counts_by_its_own_instant() -> None:
    """Birch was signed first; what came with Alder's signature is later than Birch's alone."""
    fleet = ReviewFleet.clean(("optics", march(11)))
    fleet.audit.moved("M-1", march(16))
    fleet.sign("birch", anyway=True, when=at(april(3)))
    fleet.sign(anyway=True)

    fleet.audit.mark("with it", march(13), Mark.UNUSED, to_on=march(18), recorded=APRIL_6)

    assert (fleet.state(), fleet.state("birch")) == (SIGNED, ("reopened", "with it"))


def test_a_strike_reopens_the_month_and_so_does_its_replacement(signed: ReviewFleet) -> None:
    key = "M-1/optics/2026-03-12/7"
    assert key in signed.audit.record.written
    signed.audit.mark("struck", march(12), None, strikes=key, why="wrong unit", recorded=AFTER)
    signed.audit.mark("new", march(12), Mark.UNUSED, recorded=at(april(9)))

    assert signed.state() == ("reopened", "struck; new")


def test_a_strike_dated_elsewhere_reopens_the_month_of_what_it_strikes(
    signed: ReviewFleet,
) -> None:
    key = "M-1/optics/2026-03-12/7"
    signed.audit.mark("struck", april(8), None, strikes=key, why="wrong unit", recorded=AFTER)

    assert signed.state() == ("reopened", "struck")


def test_an_entry_stored_later_reopens_whenever_it_says_it_was_recorded(
    signed: ReviewFleet,
) -> None:
    """The reviewer saw what was stored; what a file says of it is kept beside (design 4.6)."""
    signed.audit.mark(
        *("file/1", march(11)), recorded=AFTER, recorded_at=at(march(11)), source="file"
    )

    assert signed.state() == ("reopened", "file/1")


def test_an_entry_counts_for_the_site_where_the_unit_stood_on_its_day() -> None:
    fleet = ReviewFleet.clean(("optics", march(11)))
    fleet.audit.moved("M-1", march(16))
    fleet.sign(anyway=True)
    fleet.sign("birch", anyway=True)

    fleet.audit.mark("before the move", march(11), recorded=AFTER)
    assert (fleet.state(), fleet.state("birch")) == (("reopened", "before the move"), SIGNED)

    fleet.audit.mark("after it", march(18), recorded=AFTER)
    assert fleet.state("birch") == ("reopened", "after it")
    assert fleet.state() == ("reopened", "before the move")


def test_a_span_over_a_move_reopens_both_sites() -> None:
    fleet = ReviewFleet.clean(("optics", march(11)))
    fleet.audit.moved("M-1", march(16))
    fleet.sign(anyway=True)
    fleet.sign("birch", anyway=True)

    fleet.audit.mark("span", march(13), Mark.UNUSED, to_on=march(18), recorded=AFTER)

    assert fleet.state() == fleet.state("birch") == ("reopened", "span")


def test_each_month_of_a_span_is_reopened_by_itself() -> None:
    fleet = ReviewFleet.clean(record_from_on=None)
    may = at(dt.date(2026, 5, 6))
    fleet.sign(anyway=True)
    fleet.sign(month="2026-04", when=may, anyway=True)

    fleet.audit.mark("both", march(30), Mark.UNUSED, to_on=april(2), recorded=at(april(20)))

    states = fleet.states("2026-03", "2026-04", now=at(dt.date(2026, 5, 20)))
    assert states == {
        ("alder", "2026-03"): ("reopened", "both"),
        ("alder", "2026-04"): SIGNED,
    }


def test_entries_and_the_register_are_named_together(signed: ReviewFleet) -> None:
    signed.audit.mark("late", march(11), recorded=AFTER)
    signed.audit.learn(None, out(march(20), march(23)), AFTER)

    assert signed.state() == ("reopened", "late; register")


# --- as known at an instant


def test_a_review_is_asked_as_it_was_known(signed: ReviewFleet) -> None:
    signed.audit.mark("late", march(11), recorded=AFTER)
    signed.sign(when=at(april(10)), by="Otto Vale")

    def known(when: dt.datetime) -> tuple[str, str | None, str | None]:
        (row,) = signed.rows(known_at=when)
        return row.state, row.touched_by, row.reviewed_by

    assert known(at(april(5))) == ("to review", None, None)
    assert known(at(april(7))) == ("signed", None, "Noor Northgate")
    assert known(at(april(9))) == ("reopened", "late", "Noor Northgate")
    assert known(at(april(11))) == ("signed", None, "Otto Vale")


def test_a_change_of_the_register_counts_from_when_it_was_stored(signed: ReviewFleet) -> None:
    signed.audit.learn(None, out(march(20), march(23)), AFTER)

    assert signed.state(known_at=at(april(7))) == SIGNED
    assert signed.state(known_at=at(april(9))) == BY_REGISTER


def test_an_import_said_to_be_older_counts_from_when_it_was_stored(signed: ReviewFleet) -> None:
    signed.audit.mark(
        *("file/1", march(11)), recorded=AFTER, recorded_at=at(march(11)), source="file"
    )

    assert signed.state(known_at=at(april(7))) == SIGNED
    assert signed.state(known_at=at(april(9))) == ("reopened", "file/1")


def test_a_signature_that_came_with_the_first_load_is_known_from_the_beginning() -> None:
    fleet = ReviewFleet.clean()
    review = Review(
        site="alder", month="2026-03", reviewed_on=april(6), reviewed_by="Noor Northgate"
    )
    fleet.audit.learn(None, review, AFTER, initial=True)

    (row,) = fleet.rows(known_at=at(april(7)))

    assert (row.state, row.signed_at) == ("signed", AFTER)
