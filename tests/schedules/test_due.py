"""Are anchored and fixed rules due as worked out by hand from design 4.3 and 4.4?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from schedules.rules import DueAfter, First, Roll
from tests.outside import day
from tests.schedules.one_unit import (
    EVERY_DAY,
    MON_TO_FRI,
    Answer,
    OneUnit,
    a_fixed_rule,
    a_rule,
    a_site,
    closed,
    days,
)

YEARLY = OneUnit(
    rules=[a_rule("P1Y", early=45, grace=15, roll=Roll.FOLLOWING)],
    sites=(a_site(MON_TO_FRI),),
    in_service="2025-03-15",
)
"""Due from 2026-03-15, a Sunday, and so on Monday the 16th."""


@pytest.mark.parametrize(
    ("on", "state", "late", "open_late"),
    [
        ("2025-03-14", "not in service yet", None, None),
        ("2026-01-28", "upcoming", 0, 0),
        ("2026-01-29", "due", 0, 0),
        ("2026-03-16", "due", 0, 0),
        ("2026-03-17", "due", 1, 1),
        ("2026-03-21", "due", 5, 4),
        ("2026-03-30", "due", 14, 10),
        ("2026-03-31", "overdue", 15, 11),
    ],
)
def test_a_yearly_service_is_upcoming_then_due_then_overdue(
    on: str, state: str, late: int | None, open_late: int | None
) -> None:
    found = YEARLY.on(on)

    assert (found.state, found.days_past_due, found.open_days_past_due) == (state, late, open_late)


def test_the_dates_of_a_yearly_service() -> None:
    assert YEARLY.on("2026-02-01") == Answer(
        "due",
        nominal=day("2026-03-15"),
        opens=day("2026-01-29"),
        due=day("2026-03-16"),
        limit=day("2026-03-30"),
        days_past_due=0,
        open_days_past_due=0,
        missed=None,
    )


def test_grace_counts_from_the_nominal_date_and_never_ends_before_the_due_date() -> None:
    site = a_site(MON_TO_FRI, closed("2026-03-15", "2026-04-30"))

    found = replace(YEARLY, sites=(site,)).on("2026-04-20")

    assert (found.due, found.limit, found.state) == (day("2026-05-01"), day("2026-05-01"), "due")


def test_a_preceding_roll_opens_no_later_than_it_is_due() -> None:
    rule = a_rule("P1Y", roll=Roll.PRECEDING)

    found = replace(YEARLY, rules=[rule]).on("2026-03-14")

    assert (found.opens, found.due, found.limit) == days("2026-03-13", "2026-03-13", "2026-03-15")
    assert found.state == "due"


def test_a_due_date_at_a_seasonal_site_is_not_wrapped_around() -> None:
    """A closure longer than 127 days: an int8 offset would say 256 days early."""
    site = a_site(EVERY_DAY, closed("2025-11-01", "2026-04-30", "off season"))

    found = replace(YEARLY, sites=(site,), in_service="2024-11-02").on("2025-11-10")

    assert found.due == day("2026-05-01")


def test_a_site_that_never_opens_again_fails_by_name() -> None:
    site = a_site(EVERY_DAY, closed("2026-03-01", "2027-12-31"))
    unit = replace(YEARLY, sites=(site,))

    assert unit.refused("2026-03-20") == (
        "site Alder: no open day within 366 days of 2026-03-15;"
        " check its closures and its weekly pattern"
    )
    assert replace(unit, done=days("2025-02-01")).on("2026-03-20").due == day("2026-02-01")


def test_a_roll_of_none_needs_no_open_day() -> None:
    site = a_site((), site="Alder")

    assert replace(YEARLY, rules=[a_rule("P1Y")], sites=(site,)).on("2026-03-15").state == "due"


def test_the_366th_day_away_is_still_a_due_date() -> None:
    near = a_site(EVERY_DAY, closed("2026-03-15", "2027-03-15"))
    far = a_site(EVERY_DAY, closed("2026-03-15", "2027-03-16"))

    assert replace(YEARLY, sites=(near,)).on("2026-03-20").due == day("2027-03-16")
    assert "within 366 days of 2026-03-15" in replace(YEARLY, sites=(far,)).refused("2026-03-20")


# --- what is done


def test_early_and_late_service_both_move_the_anchor() -> None:
    early = replace(YEARLY, done=days("2026-01-10"))
    late = replace(YEARLY, done=days("2026-05-05"))

    assert early.on("2026-02-01").nominal == day("2027-01-10")
    assert late.on("2026-05-04").nominal == day("2026-03-15")
    assert late.on("2026-05-05").nominal == day("2027-05-05")


def test_a_mark_other_than_done_moves_nothing() -> None:
    assert replace(YEARLY, unused=days("2026-01-10")).on("2026-02-01").nominal == day("2026-03-15")


def test_the_service_before_issue_is_the_first_anchor() -> None:
    assert replace(YEARLY, done=days("2025-02-10")).on("2025-04-01").nominal == day("2026-02-10")


def test_a_kept_anchor_does_not_drift_from_month_end() -> None:
    rule = a_rule("P1M", keep_anchor=10)
    unit = OneUnit(rules=[rule], in_service="2026-01-31", done=days("2026-02-26", "2026-04-02"))

    assert [unit.on(on).nominal for on in ("2026-02-01", "2026-03-01", "2026-04-05")] == list(
        days("2026-02-28", "2026-03-31", "2026-04-30")
    )


def test_at_start_with_a_kept_anchor_counts_from_the_first_day() -> None:
    rule = a_rule("P1Y", first=First.AT_START, keep_anchor=10)
    unit = OneUnit(rules=[rule], in_service="2026-01-15", done=days("2026-01-20", "2027-01-10"))

    assert [unit.on(on).nominal for on in ("2026-01-16", "2026-01-20", "2027-02-01")] == list(
        days("2026-01-15", "2027-01-15", "2028-01-15")
    )


def test_a_record_that_begins_late_is_due_on_its_first_day_unless_anything_was_done() -> None:
    unit = replace(YEARLY, record_from="2026-09-01")

    assert unit.on("2026-08-01").nominal == day("2026-09-01")
    assert replace(unit, done=days("2025-02-10")).on("2026-08-01").nominal == day("2026-02-10")


# --- events and outages

CABINET = OneUnit(
    rules=[a_rule("P1Y", due_after=frozenset({DueAfter.MOVED, DueAfter.REPAIRED}))],
    in_service="2026-01-15",
)


def test_a_repair_makes_due_on_the_day_of_return_and_not_before_it() -> None:
    unit = replace(CABINET, outages=(("2026-05-01", "2026-06-01"),))

    assert unit.on("2026-04-30").nominal == day("2027-01-15")
    assert unit.on("2026-06-01").nominal == day("2026-06-01")
    assert replace(unit, done=days("2026-05-31")).on("2026-06-02").nominal == day("2026-06-01")
    assert replace(unit, done=days("2026-06-01")).on("2026-06-02").nominal == day("2027-06-01")


def test_a_move_makes_due_at_once_until_done_even_at_the_same_site() -> None:
    unit = replace(CABINET, moves=(("2026-06-01", 0),))

    assert unit.on("2026-05-31").nominal == day("2027-01-15")
    assert unit.on("2026-06-01").nominal == day("2026-06-01")
    assert replace(unit, done=days("2026-06-03")).on("2026-06-10").nominal == day("2027-06-03")


def test_only_the_events_that_the_rule_names_count() -> None:
    moved = replace(CABINET, moves=(("2026-06-01", 0),), outages=(("2026-07-01", "2026-07-05"),))
    for named, nominal in (
        ({DueAfter.MOVED}, "2026-06-01"),
        ({DueAfter.REPAIRED}, "2026-07-05"),
        (set(DueAfter), "2026-07-05"),
        (set(), "2027-01-15"),
    ):
        rule = a_rule("P1Y", due_after=frozenset(named))
        assert replace(moved, rules=[rule]).on("2026-08-01").nominal == day(nominal), named


def test_an_event_after_the_due_date_does_not_put_it_off() -> None:
    unit = replace(CABINET, moves=(("2027-02-01", 0),))

    assert unit.on("2027-03-01").nominal == day("2027-01-15")


def test_an_event_before_service_is_none() -> None:
    unit = replace(CABINET, outages=(("2026-01-01", "2026-01-10"),))
    first_day = replace(CABINET, outages=(("2026-01-01", "2026-01-15"),))

    assert unit.on("2026-02-01").nominal == day("2027-01-15")
    assert first_day.on("2026-02-01").nominal == day("2026-01-15")


def test_a_date_in_an_outage_waits_for_the_day_of_return_through_touching_outages() -> None:
    unit = replace(YEARLY, outages=(("2026-03-10", "2026-03-20"), ("2026-03-20", "2026-04-04")))

    found = unit.on("2026-03-01")
    assert (found.nominal, found.due) == days("2026-04-04", "2026-04-06")
    assert unit.on("2026-03-20").state == "out of service"


def test_a_date_in_an_outage_without_end_is_no_date() -> None:
    unit = replace(YEARLY, outages=(("2026-03-15", ""),))

    assert unit.on("2026-03-14") == Answer("upcoming", *[None] * 7)
    assert unit.on("2026-03-15") == Answer("out of service", *[None] * 7)
    assert replace(YEARLY, outages=(("2026-03-16", ""),)).on("2026-03-14").nominal == day(
        "2026-03-15"
    )


def test_dates_roll_on_the_calendar_of_the_site_where_the_unit_stands_that_day() -> None:
    sites = (a_site(MON_TO_FRI), a_site({2}, site="Birch"))
    unit = replace(YEARLY, sites=sites, moves=(("2026-03-01", 1),))

    assert unit.on("2026-02-28").due == day("2026-03-16")
    assert unit.on("2026-03-01").due == day("2026-03-18")
    assert unit.on("2026-04-01").open_days_past_due == 2


def test_a_retired_unit_has_no_dates_from_its_day_on() -> None:
    unit = replace(YEARLY, retired="2026-04-15")

    assert unit.on("2026-04-14").state == "overdue"
    assert unit.on("2026-04-15") == Answer("retired", *[None] * 7)


# --- fixed rules


FIXED = OneUnit(
    rules=[a_fixed_rule("2024-03-01", "P1Y", early=30, grace=10)], in_service="2025-02-01"
)


def test_a_fixed_date_comes_back_whenever_it_was_last_done() -> None:
    assert FIXED.on("2025-02-01").nominal == day("2025-03-01")
    done = replace(FIXED, done=days("2025-06-15"))
    assert done.on("2025-06-15").nominal == day("2026-03-01")


def test_an_occurrence_is_settled_from_its_early_day_on() -> None:
    before = replace(FIXED, done=days("2026-01-29"))
    on_it = replace(FIXED, done=days("2026-01-30"))

    assert before.on("2026-02-01").nominal == day("2026-03-01")
    assert on_it.on("2026-02-01").nominal == day("2027-03-01")


def test_an_early_span_beyond_the_interval_settles_two_occurrences() -> None:
    rule = a_fixed_rule("2025-03-01", "P1M", early=45)
    unit = OneUnit(rules=[rule], in_service="2025-02-01", done=days("2025-02-20"))

    assert unit.on("2025-02-19").nominal == day("2025-03-01")
    assert unit.on("2025-02-20").nominal == day("2025-05-01")


def test_missed_counts_the_occurrences_whose_limit_has_passed() -> None:
    seen = [FIXED.on(on).missed for on in ("2025-03-11", "2025-03-12", "2026-03-11", "2026-03-12")]

    assert seen == [0, 1, 1, 2]
    assert replace(FIXED, done=days("2025-03-05")).on("2026-03-12").missed == 1


@pytest.mark.parametrize(
    ("roll", "missed_on"),
    [
        (Roll.NONE, ["2026-03-16", "2026-03-23"]),
        (Roll.FOLLOWING, ["2026-03-17", "2026-03-24"]),
        (Roll.PRECEDING, ["2026-03-16", "2026-03-23"]),
    ],
)
def test_missed_is_counted_from_the_rolled_dates(roll: Roll, missed_on: list[str]) -> None:
    """Sundays 15 and 22 March 2026; a limit is never before its nominal date."""
    rule = a_fixed_rule("2026-03-15", "P1W", roll=roll)
    unit = OneUnit(rules=[rule], sites=(a_site(MON_TO_FRI),), in_service="2026-03-01")

    counted = [unit.on(f"2026-03-{n:02}").missed or 0 for n in range(15, 28)]
    grows = [15 + n for n in range(1, 13) if counted[n] > counted[n - 1]]
    assert [f"2026-03-{n}" for n in grows] == missed_on


def test_fixed_dates_before_service_or_record_do_not_count() -> None:
    unit = replace(FIXED, record_from="2026-06-01")

    assert (unit.on("2026-03-15").nominal, unit.on("2026-03-15").missed) == (day("2027-03-01"), 0)
    assert replace(FIXED, in_service="2025-03-01").on("2025-03-01").nominal == day("2025-03-01")
    assert replace(FIXED, in_service="2025-03-02").on("2025-03-02").nominal == day("2026-03-01")


def test_a_date_done_before_service_settles_no_fixed_date() -> None:
    unit = replace(FIXED, in_service="2026-02-15", done=days("2026-02-10"))

    assert unit.on("2026-02-20").nominal == day("2026-03-01")


def test_an_occurrence_in_an_outage_is_missed_from_its_return_and_in_an_endless_one_never() -> None:
    rule = a_fixed_rule("2026-01-01", "P1M")
    unit = OneUnit(rules=[rule], in_service="2025-12-01", outages=(("2026-02-01", "2026-02-20"),))

    assert [unit.on(on).missed for on in ("2026-01-31", "2026-02-20", "2026-02-21")] == [1, 1, 2]
    endless = replace(unit, outages=(("2026-06-01", ""),), done=days("2025-12-15"))
    assert endless.on("2026-05-31").missed == 5


def test_a_fixed_rule_fails_by_the_first_occurrence_that_finds_no_open_day() -> None:
    site = a_site(EVERY_DAY, closed("2026-02-10", "2027-06-30"))
    rule = a_fixed_rule("2026-01-01", "P1M", roll=Roll.FOLLOWING)
    unit = OneUnit(rules=[rule], sites=(site,), in_service="2025-12-01")

    assert unit.on("2026-02-28").missed == 2
    assert unit.refused("2026-03-02") == (
        "site Alder: no open day within 366 days of 2026-03-01;"
        " check its closures and its weekly pattern"
    )


def test_what_comes_after_an_occurrence_still_open_is_not_asked_for_its_open_day() -> None:
    """Design 4.4: occurrences after one whose limit is not passed are not counted."""
    site = a_site(EVERY_DAY, closed("2026-02-10", "2027-06-30"))
    rule = a_fixed_rule("2026-01-01", "P1M", roll=Roll.FOLLOWING, grace=50)
    unit = OneUnit(rules=[rule], sites=(site,), in_service="2025-12-01")

    assert unit.on("2026-03-23").missed == 1
    assert "within 366 days of 2026-03-01" in unit.refused("2026-03-24")
