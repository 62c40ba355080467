"""Do anchored and fixed rules fall due as worked out by hand from design 4.3 and 4.4?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from tests.reference import RefClosure, RefEvery, RefFleet, RefOutage, RefRule, status, steps
from tests.reference.small import a_move, an_entry, day, one_unit, row

YEARLY = RefRule(kind="microscope", task="service", every=RefEvery(1, "Y"), early=45, grace=15)
MONTHLY = RefRule(kind="microscope", task="service", every=RefEvery(1, "M"), roll="none")
EVERY_MARCH = RefRule(
    kind="microscope",
    task="service",
    every=RefEvery(1, "Y"),
    anchor_on=day("2020-03-01"),
    early=30,
    roll="none",
)


def an_outage(first: str, back: str | None) -> RefOutage:
    return RefOutage(property_number="U-1", from_on=day(first), to_on=day(back) if back else None)


def nominal(fleet: RefFleet, on: str) -> str:
    return str(row(fleet, on).nominal)


@pytest.mark.parametrize(
    ("on", "state", "days_past_due", "open_days_past_due"),
    [
        ("2025-03-16", "not in service yet", None, None),
        ("2026-01-30", "upcoming", 0, 0),
        ("2026-01-31", "due", 0, 0),
        ("2026-03-17", "due", 0, 0),
        ("2026-03-23", "due", 6, 4),
        ("2026-04-01", "due", 15, 11),
        ("2026-04-02", "overdue", 16, 12),
    ],
)
def test_a_yearly_service_is_upcoming_then_due_then_overdue(
    on: str, state: str, days_past_due: int | None, open_days_past_due: int | None
) -> None:
    found = row(one_unit(YEARLY), on)

    assert found.state == state
    assert found.days_past_due == days_past_due
    assert found.open_days_past_due == open_days_past_due
    assert found.missed is None


def test_the_dates_of_a_yearly_service() -> None:
    found = row(one_unit(YEARLY), "2025-06-01")

    assert found.nominal == found.due == day("2026-03-17")
    assert (found.opens, found.limit) == (day("2026-01-31"), day("2026-04-01"))
    assert (found.site, found.county, found.region) == ("Alder", "Cherry", "West")
    assert (found.basis, found.last_done) == ("anchored", None)


def test_the_central_service_before_issue_is_the_first_anchor() -> None:
    fleet = replace(
        one_unit(YEARLY, start="2026-02-24"),
        entries=[an_entry("2026-01-05"), an_entry("2026-02-10")],
    )

    assert nominal(fleet, "2026-03-01") == "2027-02-10"
    assert row(fleet, "2026-03-01").last_done == day("2026-02-10")


def test_early_and_late_service_both_move_the_anchor_and_only_done_counts() -> None:
    fleet = replace(
        one_unit(YEARLY),
        entries=[an_entry("2025-12-04"), an_entry("2026-12-24"), an_entry("2027-01-05", "filled")],
    )

    assert nominal(fleet, "2025-12-03") == "2026-03-17"
    assert nominal(fleet, "2025-12-04") == "2026-12-04"
    assert nominal(fleet, "2027-02-01") == "2027-12-24"


def test_a_leap_day_start_is_due_on_28_february() -> None:
    assert nominal(one_unit(YEARLY, start="2024-02-29"), "2024-03-01") == "2025-02-28"


def test_a_kept_anchor_does_not_drift_from_month_end() -> None:
    fleet = replace(
        one_unit(replace(MONTHLY, keep_anchor=5), start="2026-01-31"),
        entries=[an_entry("2026-03-02"), an_entry("2026-04-05")],
    )

    found = steps(fleet, "U-1", "service", day("2026-04-05"))

    assert found is not None
    assert (found.base, found.k, found.nominal_after_step_2) == (
        day("2026-01-31"),
        2,
        day("2026-04-30"),
    )


def test_a_day_beyond_the_kept_span_becomes_the_anchor() -> None:
    fleet = replace(
        one_unit(replace(MONTHLY, keep_anchor=5), start="2026-01-31"),
        entries=[an_entry("2026-03-06")],
    )

    found = steps(fleet, "U-1", "service", day("2026-04-01"))

    assert found is not None
    assert (found.base, found.k, found.due) == (day("2026-03-06"), 0, day("2026-04-06"))


def test_at_start_is_due_on_the_first_day_and_keeps_it_as_anchor() -> None:
    rule = replace(MONTHLY, first="at-start", keep_anchor=3)
    bare = one_unit(rule, start="2026-01-31")
    fleet = replace(bare, entries=[an_entry("2026-01-20"), an_entry("2026-02-02")])

    assert nominal(bare, "2026-02-01") == "2026-01-31"
    assert nominal(fleet, "2026-02-01") == "2026-01-31"
    assert nominal(fleet, "2026-02-02") == "2026-02-28"
    later = replace(fleet, entries=[*fleet.entries, an_entry("2026-03-01")])
    assert nominal(later, "2026-03-01") == "2026-03-31"


def test_a_record_that_begins_late_is_due_on_its_first_day_unless_anything_was_done() -> None:
    bare = one_unit(YEARLY, record_from_on=day("2026-06-01"))
    fleet = replace(bare, entries=[an_entry("2025-01-10")])

    assert nominal(bare, "2026-06-05") == "2026-06-01"
    assert nominal(fleet, "2026-06-05") == "2026-01-10"


def test_a_move_makes_due_at_once_until_done_even_at_the_same_site() -> None:
    rule = replace(YEARLY, due_after=frozenset({"moved"}), roll="none")
    fleet = replace(
        one_unit(rule),
        placements=[a_move("2025-09-10", "Alder")],
        entries=[an_entry("2025-09-09"), an_entry("2025-09-20")],
    )

    assert nominal(fleet, "2025-09-09") == "2026-09-09"
    assert nominal(fleet, "2025-09-10") == "2025-09-10"
    assert nominal(fleet, "2025-09-20") == "2026-09-20"


def test_a_service_on_the_day_of_the_move_answers_it() -> None:
    rule = replace(YEARLY, due_after=frozenset({"moved"}), roll="none")
    fleet = replace(
        one_unit(rule), placements=[a_move("2025-09-10")], entries=[an_entry("2025-09-10")]
    )

    assert nominal(fleet, "2025-09-10") == "2026-09-10"


def test_a_move_after_the_due_date_does_not_put_it_off() -> None:
    rule = replace(YEARLY, due_after=frozenset({"moved"}), roll="none")
    fleet = replace(one_unit(rule), placements=[a_move("2026-05-05")])

    assert nominal(fleet, "2026-05-05") == "2026-03-17"


def test_a_repair_makes_due_on_the_day_of_return() -> None:
    rule = replace(YEARLY, due_after=frozenset({"repaired"}), roll="none")
    fleet = replace(one_unit(rule), outages=[an_outage("2025-05-01", "2025-06-03")])

    assert row(fleet, "2025-06-02").state == "out of service"
    assert nominal(fleet, "2025-06-03") == "2025-06-03"
    assert nominal(replace(fleet, rules=[YEARLY]), "2025-06-03") == "2026-03-17"


def test_a_date_in_an_outage_waits_for_the_day_of_return_through_touching_outages() -> None:
    fleet = replace(
        one_unit(YEARLY),
        outages=[an_outage("2026-03-20", "2026-05-02"), an_outage("2026-03-10", "2026-03-20")],
    )

    found = steps(fleet, "U-1", "service", day("2025-06-01"))

    assert found is not None
    assert found.nominal_after_step_3 == day("2026-03-17")
    assert found.nominal_after_step_4 == day("2026-05-02")
    assert found.due == day("2026-05-04")
    assert found.limit == day("2026-05-17")
    assert found.opens == day("2026-03-18")


def test_a_date_in_an_outage_without_end_is_no_date() -> None:
    fleet = replace(one_unit(YEARLY), outages=[an_outage("2026-03-10", None)])

    found = row(fleet, "2026-03-09")

    assert (found.state, found.nominal, found.opens, found.due, found.limit) == (
        "upcoming",
        None,
        None,
        None,
        None,
    )
    assert (found.days_past_due, found.open_days_past_due) == (None, None)
    assert row(fleet, "2026-03-10").state == "out of service"


def test_a_preceding_roll_opens_no_later_than_it_is_due() -> None:
    rule = replace(YEARLY, early=0, grace=0, roll="preceding")
    fleet = one_unit(rule, start="2025-07-04")

    found = row(fleet, "2026-07-03")

    assert (found.nominal, found.due) == (day("2026-07-04"), day("2026-07-03"))
    assert (found.opens, found.limit) == (day("2026-07-03"), day("2026-07-04"))
    assert found.state == "due"
    assert row(fleet, "2026-07-04").state == "due"
    assert row(fleet, "2026-07-05").state == "overdue"


def test_dates_roll_on_the_calendar_of_the_site_where_the_unit_stands_that_day() -> None:
    fleet = replace(one_unit(YEARLY), placements=[a_move("2025-12-01")])

    assert row(fleet, "2025-11-30").due == day("2026-03-17")
    assert row(fleet, "2025-12-01").due == day("2026-03-18")
    assert row(fleet, "2025-12-01").site == "Birch"


def test_a_retired_unit_shows_where_it_last_stood_and_what_was_done_last() -> None:
    fleet = replace(
        one_unit(YEARLY, retired_on=day("2026-01-10")),
        placements=[a_move("2025-12-01")],
        entries=[an_entry("2025-12-03")],
    )

    found = row(fleet, "2026-01-10")

    assert (found.site, found.state, found.last_done) == ("Birch", "retired", day("2025-12-03"))
    assert (found.nominal, found.due, found.days_past_due) == (None, None, None)
    assert row(fleet, "2026-01-09").state == "upcoming"


def test_a_site_that_never_opens_again_fails_its_rows_alone() -> None:
    unrolled = replace(YEARLY, task="check", roll="none")
    closure = RefClosure(
        site="Alder", from_on=day("2026-03-01"), to_on=day("2027-12-31"), reason="rebuilding"
    )
    fleet = replace(one_unit(YEARLY, unrolled), closures=[closure])

    answer = status(fleet, day("2026-03-20"))

    assert [found.task for found in answer.rows] == ["check"]
    assert answer.errors == [
        (
            "U-1",
            "service",
            "site Alder: no open day within 366 days of 2026-03-17;"
            " check its closures and its weekly pattern",
        )
    ]


def test_a_fixed_date_comes_back_whenever_it_was_last_done() -> None:
    fleet = one_unit(EVERY_MARCH)
    early = replace(fleet, entries=[an_entry("2026-01-30")])
    too_early = replace(fleet, entries=[an_entry("2026-01-29")])

    assert nominal(fleet, "2025-04-01") == "2026-03-01"
    assert nominal(early, "2026-01-30") == "2027-03-01"
    assert nominal(too_early, "2026-01-30") == "2026-03-01"


def test_missed_counts_the_occurrences_whose_limit_has_passed() -> None:
    fleet = one_unit(replace(EVERY_MARCH, grace=10))

    assert [row(fleet, on).missed for on in ("2026-03-11", "2026-03-12", "2027-03-12")] == [0, 1, 2]
    assert row(fleet, "2026-03-11").state == "due"
    assert row(fleet, "2027-03-12").state == "overdue"
    assert row(fleet, "2027-03-12").nominal == day("2026-03-01")


def test_an_early_span_beyond_the_interval_settles_several_occurrences() -> None:
    rule = replace(EVERY_MARCH, early=400)
    fleet = replace(one_unit(rule), entries=[an_entry("2026-03-01")])

    assert nominal(fleet, "2026-03-01") == "2028-03-01"


def test_fixed_dates_before_service_or_record_do_not_count() -> None:
    before = replace(one_unit(EVERY_MARCH), entries=[an_entry("2025-03-16")])
    later = one_unit(EVERY_MARCH, record_from_on=day("2026-03-02"))

    assert nominal(before, "2025-04-01") == "2026-03-01"
    assert nominal(later, "2027-01-01") == "2027-03-01"
    assert row(later, "2027-01-01").missed == 0


def test_an_occurrence_on_the_first_day_counts_and_nothing_done_before_settles_it() -> None:
    fleet = one_unit(replace(EVERY_MARCH, early=400), start="2026-03-01")
    before = replace(fleet, entries=[an_entry("2026-02-28")])
    after = replace(fleet, entries=[an_entry("2026-03-01")])

    assert nominal(before, "2026-03-01") == "2026-03-01"
    assert nominal(after, "2026-03-01") == "2028-03-01"


def test_an_occurrence_in_an_endless_outage_and_those_after_it_are_not_missed() -> None:
    monthly = replace(EVERY_MARCH, every=RefEvery(1, "M"), anchor_on=day("2025-05-31"), early=0)
    back = replace(one_unit(monthly), outages=[an_outage("2025-07-31", "2025-10-20")])

    assert nominal(back, "2025-10-20") == "2025-05-31"
    assert [row(back, on).missed for on in ("2025-10-20", "2025-10-21", "2025-11-01")] == [2, 5, 6]
    endless = replace(one_unit(monthly), outages=[an_outage("2025-05-31", None)])
    assert (row(endless, "2025-05-30").state, row(endless, "2025-05-30").missed) == ("upcoming", 0)
