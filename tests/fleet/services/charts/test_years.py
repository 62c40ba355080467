"""Which charts does a year have, on which day is the record looked at, and what is refused?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from fleet.domain.records import Closure, Entry, Mark, Outage, Placement, StoredEntry
from fleet.domain.register import Change
from fleet.errors import BadInput
from fleet.services.charts.facts import Note
from fleet.services.charts.years import ChartQuestion, ChartsAnswer, year_charts
from fleet.services.kept import rebuild
from fleet.services.life.numbers import renumber
from fleet.services.ports import Stamp
from fleet.storage import SqlStore
from tests.fakes import FakeRecord
from tests.fleet.services import life_fleet
from tests.fleet.services.charts.year_fleet import (
    ALDER,
    BIRCH,
    DAILY,
    FILE,
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
    signs,
)

MOVE = Placement(property_number="A-1", site="birch", from_on=day("2026-05-04"))


def told(answer: ChartsAnswer) -> list[tuple[str, str]]:
    return [(chart.site.site, chart.unit.property_number) for chart in answer.charts]


def refusal(record: FakeRecord, year: int = 2026, **asked: Any) -> str:
    with pytest.raises(BadInput) as caught:
        answered(record, year, **asked)
    return str(caught.value)


def test_charts_stand_by_county_site_and_property_number() -> None:
    units = [a_unit("A-2"), a_unit("A-1"), a_unit("C-3", site="birch")]

    answer = answered(a_fleet(DAILY, units=units))

    assert told(answer) == [("birch", "C-3"), ("alder", "A-1"), ("alder", "A-2")]
    assert answer.passed_over == answer.failures == []


def test_a_unit_that_moved_has_a_chart_at_each_site() -> None:
    at_birch, at_alder = answered(a_fleet(DAILY, records=[MOVE])).charts

    assert (at_birch.site, at_alder.site) == (BIRCH, ALDER)
    assert on_days(at_alder, "wipe", "2026-05-01", "2026-05-05") == ",WWEE"
    assert on_days(at_birch, "wipe", "2026-05-01", "2026-05-05") == "EEE,,"
    assert at_alder.notes[4] == (Note(4, 31, "E", BIRCH.name),)
    assert at_birch.notes[4] == (Note(1, 3, "E", ALDER.name),)
    assert answered(a_fleet(DAILY, records=[MOVE]), 2025).charts[0].site == ALDER


def test_a_week_is_open_where_its_last_day_is_worked() -> None:
    """The unit moves on a Wednesday: the week closes at Birch (design 4.5)."""
    move = Placement(property_number="A-1", site="birch", from_on=day("2026-05-06"))

    at_birch, at_alder = answered(a_fleet(WEEKLY, records=[move])).charts

    week = dt.date(2026, 5, 6).isocalendar().week - 1
    assert signs(at_alder, "scrub")[week - 1 : week + 2] == ",EE"
    assert signs(at_birch, "scrub")[week - 1 : week + 2] == "E,,"


def test_a_unit_that_came_back_has_one_chart_of_the_site() -> None:
    back = Placement(property_number="A-1", site="alder", from_on=day("2026-06-01"))

    answer = answered(a_fleet(DAILY, records=[MOVE, back]))

    assert told(answer) == [("birch", "A-1"), ("alder", "A-1")]
    assert on_days(answer.charts[1], "wipe", "2026-05-29", "2026-06-02") == "EEE,,"


def test_a_unit_issued_in_may_has_no_cells_before() -> None:
    chart = chart_of(a_fleet(DAILY, units=[a_unit(in_service_on=day("2026-05-13"))]))

    assert chart.days[:132] == "N" * 132  # 1 January to 12 May: 31 + 28 + 31 + 30 + 12 days
    assert on_days(chart, "wipe", "2026-05-12", "2026-05-18") == "N,,,WW,"
    assert chart.notes[3:6] == ((Note(1, 30, "N", ""),), (Note(1, 12, "N", ""),), ())


def test_before_the_record_and_after_retirement_nothing_is_asked() -> None:
    unit = a_unit(record_from_on=day("2026-02-02"), retired_on=day("2026-11-30"))

    chart = chart_of(a_fleet(DAILY, units=[unit]))

    assert chart.days[:33] == "B" * 32 + "."
    assert chart.days[-32:] == "R" * 32
    assert chart.notes[10:] == ((Note(30, 30, "R", ""),), (Note(1, 31, "R", ""),))


def test_outages_are_told_with_their_reason_to_their_end_or_the_year_s() -> None:
    outages = [
        Outage(property_number="A-1", from_on=day(a), to_on=day(b) if b else None, reason=why)
        for a, b, why in (("2026-02-04", "2026-02-09", "belt"), ("2026-12-30", "", "motor"))
    ]

    chart = chart_of(a_fleet(DAILY, records=outages))

    assert on_days(chart, "wipe", "2026-02-03", "2026-02-09") == ",OOOOO,"
    assert on_days(chart, "wipe", "2026-12-28", "2026-12-31") == "..OO"
    assert chart.notes[1] == (Note(4, 8, "O", "belt"),)
    assert chart.notes[11] == (Note(30, 31, "O", "motor"),)


def test_a_site_open_one_day_a_week_has_one_cell_a_week() -> None:
    chart = chart_of(a_fleet(DAILY, WEEKLY, sites=[replace(ALDER, open_days="Tue")]))

    assert signs(chart, "wipe").count("W") == 365 - 52
    assert set(chart.days[5::7]) == {"."}  # 6 January 2026 is a Tuesday (calendar.weekday)
    assert set(signs(chart, "scrub")[1:]) == {",", "."}
    assert chart.notes == ((),) * 12


def test_a_year_to_come_is_shown_from_today_and_reads_no_entries() -> None:
    class Unread(FakeRecord):
        def entries(self, *_: object, **__: object) -> Any:
            raise AssertionError("nothing of the year can have an entry")

    record = a_fleet(DAILY, YEARLY)
    rebuild(record, [1], life_fleet.HOLIDAYS)
    unread = Unread(**vars(record))
    asked = ChartQuestion(year=2027, now=life_fleet.NOON)

    (chart,) = year_charts(unread, life_fleet.HOLIDAYS, asked).charts

    assert chart.on == day("2026-03-04")
    assert set(signs(chart, "wipe")) == {".", "W"}
    assert not chart.holds_record


def test_only_entries_of_the_units_asked_about_are_read() -> None:
    class Noted(FakeRecord):
        def entries(self, unit_ids: Sequence[int] | None = None, *_: object, **__: object) -> Any:
            read.append(unit_ids)
            return iter(list[StoredEntry]())

    read: list[Sequence[int] | None] = []
    record = Noted(**vars(a_fleet(DAILY, units=[a_unit("A-1"), a_unit("A-2")])))
    asked = ChartQuestion(year=2026, now=life_fleet.NOON, numbers=("A-2",))

    year_charts(record, life_fleet.HOLIDAYS, asked)

    assert read == [[record.ids["A-2"]]]


def test_without_a_day_it_is_today_at_the_site() -> None:
    """At 03:00 UTC it is still the evening before in Chicago."""
    night = dt.datetime(2026, 7, 2, 3, tzinfo=dt.UTC)

    assert chart_of(a_fleet(DAILY), on=None, now=night).on == day("2026-07-01")


def test_as_known_at_an_instant_the_record_is_what_was_known_then() -> None:
    record = a_fleet(DAILY)
    noon = dt.datetime(2026, 6, 10, 18, tzinfo=dt.UTC)
    marked(record, "wipe", "2026-06-08", at=noon)
    marked(record, "wipe", "2026-06-09", at=noon + dt.timedelta(hours=1))

    later = Stamp(noon + dt.timedelta(hours=1), "command", "command")
    unknown = (
        Outage(property_number="A-1", from_on=day("2026-06-09"), to_on=None, reason="belt"),
        Closure(site="alder", from_on=day("2026-06-11"), to_on=day("2026-06-12"), reason="flood"),
    )
    record.change([Change(old=None, new=one, initial=False) for one in unknown], later)

    chart = chart_of(record, on=None, known_at=noon)

    assert chart.on == day("2026-06-10")
    assert on_days(chart, "wipe", "2026-06-08", "2026-06-12") == "d,..."
    assert chart.notes == ((),) * 12
    assert on_days(chart_of(record), "wipe", "2026-06-08", "2026-06-12") == "dOOOO"


def test_narrowing_is_by_site_county_region_and_kind_whatever_the_case() -> None:
    kettle = a_rule("descale", kind="kettle", each="month")
    units = [a_unit(), a_unit("B-1", site="birch"), a_unit("B-2", site="birch", kind="kettle")]
    record = a_fleet(DAILY, kettle, units=units)

    assert told(answered(record, sites=("ALDER",))) == [("alder", "A-1")]
    assert told(answered(record, counties=("boone",))) == [("birch", "B-1"), ("birch", "B-2")]
    assert told(answered(record, regions=("east",), kinds=("Kettle",))) == [("birch", "B-2")]
    assert told(answered(record, numbers=("B-2", "A-1"))) == [("birch", "B-2"), ("alder", "A-1")]


def test_of_a_unit_that_moved_only_the_chart_of_the_site_asked_about_is_told() -> None:
    assert told(answered(a_fleet(DAILY, records=[MOVE]), sites=("birch",))) == [("birch", "A-1")]


def test_unknown_names_and_numbers_are_refused_with_the_nearest() -> None:
    record = a_fleet(DAILY, units=[a_unit("PN1020"), a_unit("PN1021")])

    assert refusal(record, sites=("aldr",)) == "--site: no site 'aldr'; did you mean 'alder'?"
    assert refusal(record, numbers=("pn1020", "PN1020", "PN1O21")) == (
        "PROPERTY_NUMBER: no unit 'pn1020'; did you mean 'PN1020'?\n"
        "PROPERTY_NUMBER: no unit 'PN1O21'; did you mean 'PN1021'?"
    )


@pytest.mark.parametrize("year", [1949, 2100])
def test_years_out_of_reach_are_refused(year: int) -> None:
    wanted = f"--year: {year} is out of reach; give a year from 1950 to 2099"
    assert refusal(a_fleet(DAILY), year) == wanted


@pytest.mark.parametrize("year", [1950, 2099])
def test_the_first_and_the_last_year_within_reach_have_charts(year: int) -> None:
    unit = a_unit(in_service_on=day("1950-01-01"))

    assert len(chart_of(a_fleet(DAILY, units=[unit]), year).days) == 365


def test_a_year_without_a_unit_in_service_is_refused() -> None:
    retired = a_unit(retired_on=day("2026-01-01"))

    assert refusal(a_fleet(DAILY), 2019) == (
        "--year: no unit asked for was in service in 2019; give a year from 2024 on"
    )
    assert refusal(a_fleet(DAILY, units=[retired])) == (
        "--year: no unit asked for was in service in 2026; give a year from 2024 to 2025"
    )


def test_a_unit_whose_record_begins_later_has_no_chart_of_the_year() -> None:
    late = a_unit(record_from_on=day("2027-01-01"))

    assert refusal(a_fleet(DAILY, units=[late])) == (
        "--year: no unit asked for was in service in 2026; give a year from 2027 on"
    )


def test_nothing_that_is_all_that_was_asked_for_is_refused() -> None:
    problem = "chart: no unit is all that was asked for; ask for less at once"
    assert refusal(a_fleet(DAILY), numbers=("A-1",), sites=("birch",)) == problem
    assert refusal(FakeRecord()) == "chart: there is no unit yet; load some files first"


def test_kinds_with_nothing_to_mark_are_passed_over_in_a_sentence_each() -> None:
    """A yearly service alone, a fourth one too, makes no chart; a weekly duty does."""
    yearly = [a_rule(f"service-{n}", kind="kettle", every="P1Y") for n in range(4)]
    weekly = a_rule("check", kind="eyewash", every="P1W")
    kinds = ("kettle", "kettle", "lathe", "eyewash")
    units = [a_unit(f"A-{n}", kind=kind) for n, kind in enumerate(kinds, 1)]
    units.append(a_unit("A-5", kind="kettle", in_service_on=day("2027-01-04")))

    answer = answered(a_fleet(*yearly, weekly, units=units))

    assert told(answer) == [("alder", "A-4")]
    assert answer.passed_over == [
        "2 units of kind kettle have nothing to mark by day, week or month, so no chart: what is"
        " due of them by date is in `dueward due --kind kettle`",
        "1 unit of kind lathe: the rule book has no such kind, so no chart: load one that has it",
    ]


def test_where_only_such_kinds_are_left_it_is_refused() -> None:
    yearly = a_rule("service", kind="kettle", every="P1Y")

    assert refusal(a_fleet(yearly, units=[a_unit(kind="kettle")])) == (
        "chart: 1 unit of kind kettle has nothing to mark by day, week or month;"
        " what is due of it by date is in `dueward due --kind kettle`"
    )


def test_each_chart_is_told_as_a_step() -> None:
    steps: list[int] = []
    record = a_fleet(DAILY, records=[MOVE])
    asked = ChartQuestion(year=2026, now=life_fleet.NOON)

    year_charts(record, life_fleet.HOLIDAYS, asked, steps.append)

    assert steps == [1, 1]


def test_a_duty_whose_date_cannot_be_told_is_a_failure_and_the_chart_stands() -> None:
    answer = answered(a_fleet(MONTHLY, YEARLY, sites=[replace(ALDER, open_days="")]))

    assert answer.failures == [
        "unit A-1, service: site alder: no open day within 366 days of 2025-03-04;"
        " check its closures and its weekly pattern"
    ]
    (duty,) = answer.charts[0].dated
    assert (duty.rule.task, duty.due, duty.state) == ("service", None, "")
    assert set(signs(answer.charts[0], "grease")) == {"W"}


def test_a_renumbered_unit_is_found_by_either_number(store: SqlStore) -> None:
    with store.begin(write=True) as record:
        life_fleet.filled(record)
        rebuild(record, list(record.unit_ids().values()), life_fleet.HOLIDAYS)
        life_fleet.marked(record, "optics", "2026-03-03")
        on, stamp = day("2026-03-04"), life_fleet.STAMP
        renumber(record, life_fleet.HOLIDAYS, "A-1", "N-1", on, stamp=stamp)
        entry = Entry(key="k", property_number="N-1", task="optics", on=on, mark=Mark.UNUSED)
        record.append([entry], Stamp(stamp.at, FILE.by, FILE.source))
        rebuild(record, list(record.unit_ids().values()), life_fleet.HOLIDAYS)
        for numbers in (("A-1",), ("N-1",), ("N-1", "A-1")):
            for known_at in (None, life_fleet.NOON):
                asked = ChartQuestion(
                    year=2026, now=life_fleet.NOON, numbers=numbers, known_at=known_at
                )
                (chart,) = year_charts(record, life_fleet.HOLIDAYS, asked).charts
                assert chart.unit.property_number == "N-1"
                assert on_days(chart, "optics", "2026-03-02", "2026-03-05") == ",du."
