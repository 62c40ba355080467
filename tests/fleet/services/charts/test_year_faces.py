"""What is each cell of a chart of the year printed as?"""

from __future__ import annotations

import pytest

from fleet.domain.evidence import Extension, ServiceReport
from fleet.domain.records import Closure, Holiday, Mark, Outage, Placement, RegisterRecord
from fleet.services.charts.facts import Note, RowRole, YearChart
from schedules.rules import Each
from tests.fleet.services.charts.year_fleet import (
    DAILY,
    MONTHLY,
    WEEKLY,
    YEARLY,
    a_fleet,
    a_rule,
    a_unit,
    answered,
    chart_of,
    day,
    marked,
    on_days,
    row,
    signs,
    text_on,
)

THRICE = a_rule("read", each="open-day", times=3)
INDICATOR = a_rule("indicator", every="P1W")


def heads(chart: YearChart) -> list[tuple[str, str, int]]:
    return [(one.role.value, one.task, one.turn) for one in chart.rows]


def test_rows_stand_from_days_to_boxes() -> None:
    chart = chart_of(a_fleet(MONTHLY, INDICATOR, WEEKLY, THRICE, YEARLY, DAILY))

    assert heads(chart) == [
        ("day", "read", 1), ("day", "read", 2), ("day", "read", 3), ("day", "wipe", 1),
        ("week", "scrub", 1), ("on the day", "indicator", 1), ("initials", "", 1),
        ("box", "grease", 1), ("dated", "service", 1),
    ]  # fmt: skip
    assert [len(one.faces) for one in chart.rows] == [365, 365, 365, 365, 53, 365, 365, 12, 0]
    assert row(chart, "read", 2).times == 3
    assert [duty.rule.task for duty in chart.dated] == ["service"]


def test_a_unit_with_boxes_alone_has_no_initials_row() -> None:
    each = {"month": 12, "quarter": 4, "half-year": 2, "year": 1}
    chart = chart_of(a_fleet(*(a_rule(f"do-{name}", each=name) for name in each)))

    assert [(one.each, len(one.faces)) for one in chart.rows] == [
        (Each(name), count) for name, count in each.items()
    ]


def test_a_day_says_what_the_record_held() -> None:
    record = a_fleet(DAILY)
    for on, mark in zip(range(22, 26), Mark, strict=True):
        marked(record, "wipe", f"2026-06-{on}", mark=mark, initials="AB", note="so")

    chart = chart_of(record)

    assert on_days(chart, "wipe", "2026-06-21", "2026-07-04") == "Wdufe,WW,,...W"
    assert [text_on(chart, "wipe", f"2026-06-{on}") for on in range(22, 26)] == ["✓", "", "", ""]
    assert on_days(chart, "", "2026-06-21", "2026-06-27") == "Wdddd,W"
    assert text_on(chart, "", "2026-06-24") == "AB"


def test_today_is_open_and_what_is_over_is_told_apart() -> None:
    chart = chart_of(a_fleet(DAILY, WEEKLY, MONTHLY))

    assert on_days(chart, "wipe", "2026-06-30", "2026-07-02") == ",.."
    assert on_days(chart, "", "2026-06-30", "2026-07-02") == ",.."
    assert signs(chart, "scrub") == "," * 26 + "." * 27  # week 27 ends on Friday 3 July
    assert signs(chart, "grease") == "," * 6 + "." * 6
    assert chart.holds_record


def test_a_reading_stands_in_its_day_and_the_initials_below() -> None:
    record = a_fleet(DAILY, WEEKLY)
    marked(record, "wipe", "2026-06-22", reading="4.5", initials="AB")
    marked(record, "scrub", "2026-06-22", reading="36.6", initials=" CD ")

    chart = chart_of(record)

    assert text_on(chart, "wipe", "2026-06-22") == "4.5"
    assert text_on(chart, "", "2026-06-22") == "AB"
    assert row(chart, "scrub").faces[25] == ("d", "36.6 CD")


def test_a_box_says_who_did_it_or_that_it_is_done() -> None:
    record = a_fleet(MONTHLY)
    marked(record, "grease", "2026-01-15", initials="AB")
    marked(record, "grease", "2026-02-15")
    marked(record, "grease", "2026-03-15", mark=Mark.UNUSED, initials="CD")

    assert row(chart_of(record), "grease").faces[:4] == (
        ("d", "AB"), ("d", "✓"), ("u", "CD"), (",", ""),
    )  # fmt: skip


def test_a_pre_marked_box_or_week_tells_the_gravest_of_its_days_reasons() -> None:
    """Out for September until it moves: at Alder the box is of another site, at Birch it is open;
    a month out of service is told as that, whatever weekends and holidays are in it.
    """
    outages = [
        Outage(property_number="A-1", from_on=day(a), to_on=day(b), reason="belt")
        for a, b in (("2026-08-03", "2026-09-16"), ("2026-11-01", "2026-12-01"))
    ]
    move = Placement(property_number="A-1", site="birch", from_on=day("2026-09-16"))
    holidays = [
        Holiday(site="birch", country="", subdivision="", on=day(on), name="Day of the river")
        for on in ("2026-10-07", "2026-11-11")
    ]
    closures = [
        Closure(site="birch", from_on=day(a), to_on=day(b), reason="flood")
        for a, b in (("2026-10-05", "2026-10-06"), ("2026-10-08", "2026-10-09"))
    ]
    record = a_fleet(WEEKLY, MONTHLY, records=[*outages, move, *holidays, *closures])

    at_birch, at_alder = answered(record).charts

    assert signs(at_alder, "grease")[6:] == ".OEEEE"
    assert signs(at_birch, "grease")[6:] == "EE..O."
    assert signs(at_birch, "scrub")[39:48] == ".C...OOOO"


def test_a_box_names_those_whose_mark_it_tells() -> None:
    record = a_fleet(MONTHLY)
    marked(record, "grease", "2026-01-15", initials="AB")
    marked(record, "grease", "2026-01-16", mark=Mark.UNUSED, initials="CD")
    marked(record, "grease", "2026-01-17", initials="EF")

    assert row(chart_of(record), "grease").faces[0] == ("d", "AB/EF")


def test_marks_of_a_cell_that_asks_for_several_stand_in_a_row_each() -> None:
    record = a_fleet(THRICE)
    marked(record, "read", "2026-06-22", reading="1", initials="AB")
    marked(record, "read", "2026-06-22", mark=Mark.UNUSED, initials="CD")
    marked(record, "read", *["2026-06-23"] * 4)
    marked(record, "read", "2026-07-01", reading="2", initials="EF")

    chart = chart_of(record)

    def told(turn: int) -> str:
        days = ("2026-06-22", "2026-06-23", "2026-06-24", "2026-07-01")
        return "".join(on_days(chart, "read", on, on, turn) for on in days)

    assert [told(turn) for turn in (1, 2, 3)] == ["dd,d", "ud,.", ",d,."]
    assert text_on(chart, "read", "2026-06-22", 1) == "1"
    assert text_on(chart, "", "2026-06-22") == "AB/CD"
    assert text_on(chart, "", "2026-07-01") == "EF"


def test_of_several_marks_where_one_is_asked_for_done_is_told_first() -> None:
    record = a_fleet(DAILY)
    marked(record, "wipe", "2026-06-22", reading="1")
    marked(record, "wipe", "2026-06-22", reading="2")
    marked(record, "wipe", "2026-06-22", mark=Mark.UNUSED)

    chart = chart_of(record)

    assert (on_days(chart, "wipe", "2026-06-22", "2026-06-22")) == "d"
    assert text_on(chart, "wipe", "2026-06-22") == "2"


def test_a_mark_over_some_days_fills_a_week_that_asks_for_several() -> None:
    """Each expected day of it is a mark (design 7); Friday 26 June is after it."""
    record = a_fleet(a_rule("scrub", each="week", times=3))
    marked(record, "scrub", "2026-06-22", to="2026-06-23", initials="AB")
    marked(record, "scrub", "2026-06-15", to="2026-06-21", initials="CD")

    chart = chart_of(record)

    assert [signs(chart, "scrub", turn)[24:26] for turn in (1, 2, 3)] == ["dd", "dd", "d,"]
    assert row(chart, "scrub", 3).faces[24].text == "CD"


def test_struck_marks_are_not_told_and_what_replaced_them_is() -> None:
    record = a_fleet(DAILY)
    slip = marked(record, "wipe", "2026-06-22")
    marked(record, "wipe", "2026-06-22", mark=None, strikes=slip, why="slip")
    slip = marked(record, "wipe", "2026-06-23")
    marked(record, "wipe", "2026-06-23", mark=Mark.UNUSED, strikes=slip, why="slip")

    assert on_days(chart_of(record), "wipe", "2026-06-22", "2026-06-23") == ",u"


def test_a_mark_that_was_struck_from_another_year_is_not_told() -> None:
    record = a_fleet(DAILY)
    slip = marked(record, "wipe", "2026-06-22")
    marked(record, "wipe", "2025-06-22", mark=None, strikes=slip, why="slip")

    assert on_days(chart_of(record), "wipe", "2026-06-22", "2026-06-22") == ","


def test_the_first_week_is_told_from_its_days_in_the_year_before() -> None:
    """Week 1 of 2026 begins on 29 December 2025 (check value B-25)."""
    record = a_fleet(WEEKLY)
    marked(record, "scrub", "2025-12-29")

    for on in ("2025-12-29", "2026-07-01"):
        assert signs(chart_of(record, on=on), "scrub")[0] == "d"
    assert signs(chart_of(record, 2025), "scrub")[-1] == ","


def test_a_mark_on_a_day_that_is_pre_marked_does_not_show() -> None:
    record = a_fleet(DAILY)
    marked(record, "wipe", "2026-06-21", initials="AB")

    chart = chart_of(record)

    assert on_days(chart, "wipe", "2026-06-21", "2026-06-21") == "W"
    assert on_days(chart, "", "2026-06-21", "2026-06-21") == "W"


def test_days_are_pre_marked_with_what_the_site_keeps() -> None:
    records: list[RegisterRecord] = [
        Holiday(site="alder", country="US", subdivision="NE", on=day("2026-07-03"), name="Feast"),
        Closure(site="alder", from_on=day("2026-07-06"), to_on=day("2026-07-13"), reason="flood"),
        Closure(site="", from_on=day("2026-07-18"), to_on=day("2026-07-18"), reason="", open=True),
    ]

    chart = chart_of(a_fleet(DAILY, WEEKLY, records=records))

    assert on_days(chart, "wipe", "2026-07-02", "2026-07-19") == ".HWWCCCCCCCC.....W"
    assert chart.notes[6] == (Note(3, 3, "H", "Feast"), Note(6, 13, "C", "flood"))
    assert signs(chart, "scrub")[26:29] == ".C."


def test_a_rule_that_changes_from_days_to_weeks_has_a_row_of_each() -> None:
    """From Wednesday 1 July on: the week of 29 June began under the old rule (design 7)."""
    weekly = a_rule("wipe", each="week", from_="2026-07-01", title="Wipe weekly")

    chart = chart_of(a_fleet(DAILY, weekly))

    assert heads(chart) == [("day", "wipe", 1), ("week", "wipe", 1), ("initials", "", 1)]
    daily, week = chart.rows[:2]
    assert [len(one.versions) for one in (daily, week)] == [1, 1]
    assert (daily.title, week.title) == ("Do the wipe", "Wipe weekly")
    assert on_days_of(chart, "2026-06-29", "2026-07-04") == ",,XXXX"
    assert signs(chart, "wipe", role=RowRole.WEEK) == "X" * 27 + "." * 26
    assert signs(chart, "")[181:185] == "XXXW"  # from 1 July the row of days asks for nothing


def on_days_of(chart: YearChart, first: str, last: str) -> str:
    begin = (day(first) - day("2026-01-01")).days
    end = (day(last) - day("2026-01-01")).days + 1
    return signs(chart, "wipe", role=RowRole.DAY)[begin:end]


def test_a_version_that_asks_for_fewer_marks_leaves_the_second_row_out() -> None:
    once = a_rule("read", each="open-day", from_="2026-07-02", title="Once")

    chart = chart_of(a_fleet(a_rule("read", each="open-day", times=2), once))

    assert on_days(chart, "read", "2026-07-01", "2026-07-04", 1) == "...W"
    assert on_days(chart, "read", "2026-07-01", "2026-07-04", 2) == ".XXX"
    assert row(chart, "read", 2).title == "Once"


def test_a_rule_for_a_model_wins_over_one_for_every_model() -> None:
    special = a_rule("scrub", each="open-day", models=["M2"])
    units = [a_unit("A-1"), a_unit("A-2", model="M2")]

    first, second = answered(a_fleet(WEEKLY, special, units=units)).charts

    assert heads(first) == [("week", "scrub", 1)]
    assert heads(second) == [("day", "scrub", 1), ("initials", "", 1)]


def test_a_rule_that_ended_before_the_year_has_no_row() -> None:
    ended = a_rule("rinse", each="open-day", until="2025-12-31")

    assert heads(chart_of(a_fleet(ended, MONTHLY))) == [("box", "grease", 1)]


def test_the_day_a_short_duty_is_done_is_told_and_others_stay_open() -> None:
    out = day("2026-06-24"), day("2026-06-26")
    outage = Outage(property_number="A-1", from_on=out[0], to_on=out[1], reason="")
    move = Placement(property_number="A-1", site="birch", from_on=day("2026-06-29"))
    record = a_fleet(INDICATOR, records=[outage, move])
    marked(record, "indicator", "2026-06-22", "2026-06-25", initials="AB")
    marked(record, "indicator", "2026-06-23", mark=Mark.UNUSED)
    marked(record, "indicator", "2026-06-29")

    at_birch, at_alder = answered(record).charts

    assert on_days(at_alder, "indicator", "2026-06-20", "2026-06-30") == "WWd.Od.WWEE"
    assert on_days(at_birch, "indicator", "2026-06-25", "2026-07-02") == "EEEEd..."
    assert text_on(at_alder, "indicator", "2026-06-22") == "AB"
    assert text_on(at_birch, "indicator", "2026-06-29") == "✓"
    assert on_days(at_alder, "", "2026-06-20", "2026-06-24") == "WWd.O"
    assert at_alder.dated == ()


def test_where_no_version_of_a_short_duty_speaks_its_days_are_pre_marked() -> None:
    later = a_rule("indicator", every="P1W", from_="2026-06-23")

    chart = chart_of(a_fleet(later))

    assert on_days(chart, "indicator", "2026-06-19", "2026-06-24") == "XXXX.."


def test_three_long_duties_stand_in_the_head_and_the_fourth_has_a_row() -> None:
    tasks = {"a": "P1Y", "b": "P3M", "c": "P90D", "d": "P2Y", "e": "P89D"}

    chart = chart_of(a_fleet(DAILY, *(a_rule(task, every=every) for task, every in tasks.items())))

    assert [duty.rule.task for duty in chart.dated] == ["a", "b", "c"]
    assert [one.task for one in chart.rows if one.role is RowRole.ON_DAY] == ["d", "e"]


def test_a_long_duty_tells_when_it_was_done_by_whom_and_its_next_window() -> None:
    report = ServiceReport(
        property_number="A-1", task="service", on=day("2025-08-03"), vendor="Invented Optics"
    )
    extension = Extension(
        property_number="A-1",
        task="service",
        from_on=day("2026-06-30"),
        until_on=day("2026-09-30"),
        reason="parts",
        granted_by="Noor",
    )
    record = a_fleet(DAILY, YEARLY, records=[report, extension])
    marked(record, "service", "2025-08-03")

    (duty,) = chart_of(record, 2026, on="2026-07-10").dated

    assert (duty.last_done, duty.done_by) == (day("2025-08-03"), "Invented Optics")
    # 3 August 2026 is a Monday; early is 30 days; the limit is put off (design 4.3).
    assert (duty.opens, duty.due, duty.limit, duty.state) == (
        day("2026-07-04"), day("2026-08-03"), day("2026-09-30"), "due",
    )  # fmt: skip


def test_a_long_duty_that_begins_later_in_the_year_has_no_dates_yet() -> None:
    (duty,) = chart_of(a_fleet(DAILY, a_rule("service", every="P1Y", from_="2026-09-01"))).dated

    assert (duty.last_done, duty.done_by, duty.opens, duty.due, duty.limit, duty.state) == (
        None, "", None, None, None, "",
    )  # fmt: skip


def test_a_long_duty_that_was_a_cell_rule_before_has_no_dates_yet() -> None:
    rules = (
        a_rule("service", each="month"),
        a_rule("service", every="P1Y", from_="2026-09-01"),
    )

    (duty,) = chart_of(a_fleet(*rules)).dated

    assert (duty.rule.from_on, duty.due, duty.state) == (day("2026-09-01"), None, "")


def test_what_is_in_force_today_warns_on_a_chart_of_a_year_to_come_too() -> None:
    ends = a_rule("rinse", each="month", until="2026-12-31", cautions=["Hot water."])

    assert chart_of(a_fleet(DAILY, ends), 2027).cautions == ("Hot water.",)
    assert chart_of(a_fleet(DAILY, ends), 2027, on="2027-01-01").cautions == ()


def test_cautions_stand_once_the_gravest_of_each_rule_first() -> None:
    defers = "The manufacturer's manual comes first."
    rules = [
        a_rule("a", each="open-day", cautions=["Unplug.", "Goggles.", defers]),
        a_rule("b", every="P1Y", cautions=["Pressure.", "Unplug.", "Gloves.", defers]),
        a_rule("c", each="month", until="2025-12-31", cautions=["Of the past.", defers]),
        a_rule("d", each="month", from_="2026-12-01", cautions=["Read the manual of the burner."]),
    ]

    assert chart_of(a_fleet(*rules)).cautions == (
        "Unplug.", "Pressure.", "Read the manual of the burner.", "Goggles.", "Gloves.", defers,
    )  # fmt: skip


@pytest.mark.parametrize(("year", "count"), [(2026, 365), (2028, 366)])
def test_a_leap_day_has_its_own_place(year: int, count: int) -> None:
    chart = chart_of(a_fleet(DAILY), year)

    assert {len(chart.days), len(signs(chart, "wipe")), len(signs(chart, ""))} == {count}
    assert len(chart.notes) == 12
