"""Are cells expected, filled and missed as worked out by hand from design 4.5 and 4.6?"""

from __future__ import annotations

from dataclasses import replace

from tests.reference import (
    RefClosure,
    RefEvery,
    RefFleet,
    RefGap,
    RefOutage,
    RefRow,
    RefRule,
    gaps,
    status,
    steps,
)
from tests.reference.small import a_move, an_entry, day, instant, one_unit, row

DAILY = RefRule(kind="microscope", task="service", each="open-day")
MONTHLY = replace(DAILY, each="month")
QUARTERLY = replace(DAILY, each="quarter")


def out(first: str, back: str | None) -> RefOutage:
    return RefOutage(property_number="U-1", from_on=day(first), to_on=day(back) if back else None)


def seen(found: RefRow) -> tuple[str, str, str, int | None]:
    return found.state, str(found.opens), str(found.limit), found.missed


def closing_days(fleet: RefFleet, first: str, last: str, on: str) -> list[str]:
    return [str(gap.closes) for gap in gaps(fleet, day(first), day(last), day(on))]


def test_a_daily_mark_is_due_done_then_missed_and_weekends_are_skipped() -> None:
    fleet = replace(one_unit(DAILY, start="2026-03-05"), entries=[an_entry("2026-03-05", "unused")])

    assert seen(row(fleet, "2026-03-04")) == ("not in service yet", "None", "None", None)
    assert seen(row(fleet, "2026-03-05")) == ("done", "2026-03-05", "2026-03-05", 0)
    assert seen(row(fleet, "2026-03-06")) == ("due", "2026-03-06", "2026-03-06", 0)
    assert seen(row(fleet, "2026-03-07")) == ("overdue", "None", "None", 1)
    assert seen(row(fleet, "2026-03-10")) == ("overdue", "2026-03-10", "2026-03-10", 2)
    assert closing_days(fleet, "2026-03-01", "2026-03-31", "2026-03-10") == [
        "2026-03-06",
        "2026-03-09",
    ]


def test_only_a_done_mark_is_the_last_done_and_no_due_dates_are_shown() -> None:
    fleet = replace(
        one_unit(DAILY, start="2026-03-05"),
        entries=[an_entry("2026-03-05"), an_entry("2026-03-06", "explained")],
    )

    found = row(fleet, "2026-03-06")

    assert (found.basis, found.state, found.last_done) == ("cell", "done", day("2026-03-05"))
    assert (found.nominal, found.due) == (None, None)
    assert (found.days_past_due, found.open_days_past_due) == (None, None)
    assert steps(fleet, "U-1", "service", day("2026-03-06")) is None


def test_a_later_entry_does_not_fill_an_earlier_question() -> None:
    fleet = replace(one_unit(MONTHLY, start="2026-03-05"), entries=[an_entry("2026-03-20")])

    assert seen(row(fleet, "2026-03-19")) == ("due", "2026-03-05", "2026-03-31", 0)
    assert seen(row(fleet, "2026-03-20")) == ("done", "2026-03-05", "2026-03-31", 0)
    assert seen(row(fleet, "2026-05-01")) == ("overdue", "2026-05-01", "2026-05-29", 1)


def test_a_cell_opens_and_closes_with_its_expected_days() -> None:
    fleet = replace(
        one_unit(MONTHLY, start="2026-03-05"),
        outages=[out("2026-03-27", "2026-04-06")],
        closures=[
            RefClosure(
                site="", from_on=day("2026-03-05"), to_on=day("2026-03-08"), reason="inventory"
            )
        ],
    )

    assert seen(row(fleet, "2026-03-05")) == ("upcoming", "2026-03-09", "2026-03-26", 0)
    assert seen(row(fleet, "2026-03-26")) == ("due", "2026-03-09", "2026-03-26", 0)
    assert seen(row(fleet, "2026-03-27")) == ("out of service", "None", "None", None)
    assert seen(row(fleet, "2026-04-06")) == ("overdue", "2026-04-06", "2026-04-30", 1)


def test_a_cell_that_closed_within_its_period_can_still_be_filled() -> None:
    fleet = replace(
        one_unit(MONTHLY, start="2026-03-05", retired_on=day("2026-03-27")),
        entries=[an_entry("2026-03-30", "explained")],
    )
    march = RefGap(
        "U-1",
        "service",
        day("2026-03-01"),
        day("2026-03-31"),
        day("2026-03-05"),
        day("2026-03-26"),
    )

    assert gaps(fleet, day("2026-03-26"), day("2026-03-26"), day("2026-03-29")) == [march]
    assert gaps(fleet, day("2026-03-26"), day("2026-03-26"), day("2026-03-26")) == []
    assert gaps(fleet, day("2026-03-27"), day("2026-03-31"), day("2026-03-29")) == []
    assert gaps(fleet, day("2026-03-01"), day("2026-03-31"), day("2026-03-30")) == []


def test_periods_without_an_expected_day_do_not_break_a_run_of_gaps() -> None:
    fleet = replace(
        one_unit(MONTHLY, start="2026-01-10"), outages=[out("2026-02-01", "2026-04-01")]
    )

    assert seen(row(fleet, "2026-05-04")) == ("overdue", "2026-05-01", "2026-05-29", 2)


def test_a_filled_cell_ends_the_run_of_gaps() -> None:
    fleet = replace(one_unit(MONTHLY, start="2026-01-10"), entries=[an_entry("2026-02-03")])

    assert row(fleet, "2026-03-01").state == "upcoming"
    assert row(fleet, "2026-03-02").state == "due"
    assert row(fleet, "2026-05-04").missed == 2


def test_days_before_the_record_are_not_expected() -> None:
    fleet = one_unit(DAILY, start="2026-03-02", record_from_on=day("2026-03-05"))

    assert seen(row(fleet, "2026-03-04")) == ("upcoming", "None", "None", 0)
    assert row(fleet, "2026-03-09").missed == 2


def test_the_site_where_the_unit_then_stands_decides_each_day() -> None:
    fleet = replace(one_unit(DAILY, start="2026-03-02"), placements=[a_move("2026-03-04")])

    assert closing_days(fleet, "2026-03-01", "2026-03-31", "2026-03-20") == [
        "2026-03-02",
        "2026-03-03",
        "2026-03-04",
        "2026-03-11",
        "2026-03-18",
    ]


def test_times_asks_for_so_many_entries() -> None:
    rule = replace(MONTHLY, times=2)
    once = replace(one_unit(rule, start="2026-03-02"), entries=[an_entry("2026-03-03")])
    twice = replace(once, entries=[*once.entries, an_entry("2026-03-03", "unused")])

    assert row(once, "2026-03-31").state == "due"
    assert row(once, "2026-04-01").state == "overdue"
    assert row(twice, "2026-03-03").state == "done"


def test_a_span_marks_each_expected_day_to_its_end_and_no_other() -> None:
    span = an_entry("2026-03-01", to_on=day("2026-03-10"))
    fleet = replace(
        one_unit(DAILY, start="2026-03-03"),
        entries=[span],
        outages=[out("2026-03-05", "2026-03-06")],
    )

    assert closing_days(fleet, "2026-03-01", "2026-03-31", "2026-03-12") == ["2026-03-11"]
    assert row(fleet, "2026-03-08").last_done == day("2026-03-06")
    assert row(fleet, "2026-03-12").last_done == day("2026-03-10")


def test_a_mark_of_one_day_speaks_of_it_whatever_the_calendar_says() -> None:
    saturday = an_entry("2026-03-07", to_on=day("2026-03-07"))
    alone = replace(saturday, to_on=None)
    weekend = replace(saturday, to_on=day("2026-03-08"))
    fleet = one_unit(MONTHLY, start="2026-03-02")

    for entry in (saturday, alone):
        found = row(replace(fleet, entries=[entry]), "2026-03-09")
        assert (found.state, found.last_done) == ("done", day("2026-03-07"))
    found = row(replace(fleet, entries=[weekend]), "2026-03-09")
    assert (found.state, found.last_done) == ("due", None)


def test_a_changed_period_starts_with_its_first_whole_period() -> None:
    """March is the first month that begins under the monthly version; until then the quarter."""
    fleet = one_unit(QUARTERLY, replace(MONTHLY, from_on=day("2026-02-10")), start="2026-01-05")

    assert seen(row(fleet, "2026-02-28")) == ("due", "2026-01-05", "2026-03-31", 0)
    assert seen(row(fleet, "2026-03-31")) == ("due", "2026-03-02", "2026-03-31", 0)
    assert seen(row(fleet, "2026-04-01")) == ("overdue", "2026-04-01", "2026-04-30", 2)
    assert closing_days(fleet, "2026-01-01", "2026-12-31", "2026-05-10") == [
        "2026-03-31",
        "2026-03-31",
        "2026-04-30",
    ]


def test_a_changed_number_of_times_holds_from_the_next_period_on() -> None:
    fleet = replace(
        one_unit(MONTHLY, replace(MONTHLY, times=2, from_on=day("2026-03-10")), start="2026-03-02"),
        entries=[an_entry("2026-03-12"), an_entry("2026-04-09")],
    )

    assert row(fleet, "2026-03-12").state == "done"
    assert row(fleet, "2026-04-09").state == "due"
    assert row(fleet, "2026-05-01").missed == 1


def test_until_is_the_last_day_of_a_version() -> None:
    fleet = one_unit(replace(DAILY, until_on=day("2026-03-04")), start="2026-03-02")

    assert row(fleet, "2026-03-04").state == "overdue"
    assert status(fleet, day("2026-03-05")) == ([], [])
    assert closing_days(fleet, "2026-03-01", "2026-03-31", "2026-04-01") == [
        "2026-03-02",
        "2026-03-03",
        "2026-03-04",
    ]


def test_a_version_for_the_model_wins_over_a_later_one_for_all() -> None:
    book = (
        replace(MONTHLY, models=("B2",), each="week"),
        MONTHLY,
        RefRule(
            kind="microscope", task="service", every=RefEvery(1, "Y"), from_on=day("2026-03-01")
        ),
    )

    assert row(one_unit(*book, model="B2", start="2026-03-02"), "2026-03-04").limit == day(
        "2026-03-06"
    )
    assert row(one_unit(*book, model="A1", start="2026-03-02"), "2026-03-04").basis == "anchored"


def test_a_struck_entry_counts_until_the_strike_is_known() -> None:
    wrong = an_entry("2026-03-02", recorded_at=instant("2026-03-02"))
    strike = an_entry("2026-03-02", None, strikes=wrong.key, recorded_at=instant("2026-03-20"))
    fleet = replace(one_unit(MONTHLY, start="2026-03-02"), entries=[wrong, strike])

    assert row(fleet, "2026-03-21").state == "due"
    assert row(fleet, "2026-03-21", known_at="2026-03-19").state == "done"
    assert row(fleet, "2026-03-21", known_at="2026-03-20").state == "due"
    assert row(fleet, "2026-03-21", known_at="2026-03-01").state == "due"


def test_a_replacement_is_a_mark_and_striking_it_does_not_bring_the_first_back() -> None:
    wrong = an_entry("2026-03-02")
    replaced = an_entry("2026-03-02", "unused", strikes=wrong.key)
    struck = an_entry("2026-03-02", None, strikes=replaced.key)
    fleet = replace(one_unit(MONTHLY, start="2026-03-02"), entries=[wrong, replaced])

    assert (row(fleet, "2026-03-05").state, row(fleet, "2026-03-05").last_done) == ("done", None)
    assert row(replace(fleet, entries=[wrong, replaced, struck]), "2026-03-05").state == "due"


def test_an_entry_without_its_own_instant_is_known_from_the_load_on() -> None:
    fleet = replace(
        one_unit(MONTHLY, start="2026-03-02"),
        entries=[an_entry("2026-03-02")],
        loaded_at=instant("2026-03-10"),
    )

    assert row(fleet, "2026-03-05", known_at="2026-03-09").state == "due"
    assert row(fleet, "2026-03-05", known_at="2026-03-10").state == "done"
