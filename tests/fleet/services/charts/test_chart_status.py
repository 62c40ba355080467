"""Which units have no current chart in hand, and why?"""

from __future__ import annotations

import dataclasses
import datetime as dt
import time

import pytest

from fleet.errors import BadInput
from fleet.services.charts.prints import current_prints
from fleet.services.charts.status import MissingChart
from fleet.services.questions import Narrow
from tests.fleet.services.charts.print_fleet import BOOK, JULY_1, NOW, PrintFleet, rule

OPTICS, STAND_CHECK = BOOK


def reasons(rows: list[MissingChart]) -> list[tuple[str, str, int, str]]:
    return [(row.property_number, row.site, row.year, row.reason) for row in rows]


def test_a_unit_that_was_never_printed_is_missing_and_one_that_was_is_not() -> None:
    fleet = PrintFleet()

    assert fleet.missing() == [
        MissingChart(
            site="alder",
            county="Adams",
            region="North",
            property_number="A-1",
            kind="microscope",
            year=2026,
            reason="new unit",
            print=None,
            printed_on=None,
            differs=None,
        )
    ]
    fleet.print()
    assert fleet.missing() == []


@pytest.mark.parametrize(
    ("on", "years"),
    [
        (dt.date(2026, 11, 30), []),
        (dt.date(2026, 12, 1), [2027]),
        (dt.date(2026, 12, 31), [2027]),
        (dt.date(2027, 1, 1), [2027]),
    ],
)
def test_next_year_s_chart_is_missing_from_december_on(on: dt.date, years: list[int]) -> None:
    fleet = PrintFleet()
    fleet.print()

    rows = fleet.missing(on)

    assert reasons(rows) == [("A-1", "alder", year, "new year") for year in years]
    fleet.print(fleet.chart(year=2027))
    assert fleet.missing(on) == []


def test_a_year_that_is_asked_for_is_told_alone() -> None:
    fleet = PrintFleet()

    assert reasons(fleet.missing(year=2027)) == [("A-1", "alder", 2027, "new unit")]
    fleet.print()
    assert reasons(fleet.missing(year=2027)) == [("A-1", "alder", 2027, "new year")]
    assert fleet.missing(year=2026) == []


def test_a_year_that_is_over_at_every_site_is_refused() -> None:
    """At 06:30 UTC on 4 January it is still Sunday 3 January, of week 53, in Denver."""
    fleet = PrintFleet()

    with pytest.raises(BadInput) as caught:
        fleet.missing(year=2025)
    assert str(caught.value) == (
        "--year: the year 2025 is over; its charts are history:"
        " dueward chart --year 2025 prints them"
    )
    night = dt.datetime(2027, 1, 4, 6, 30, tzinfo=dt.UTC)
    assert fleet.missing(None, year=2026, now=night) == []
    with pytest.raises(BadInput):
        fleet.missing(None, year=2026, now=night + dt.timedelta(hours=1))


def test_a_week_that_closes_next_year_wants_the_chart_where_it_closes() -> None:
    """The unit moves on Friday 1 January 2027, the last day of week 53 of 2026 that is worked."""
    fleet = PrintFleet()
    fleet.book(OPTICS, rule("stand-check", 'each = "week"'))
    fleet.print()
    fleet.moves("birch", dt.date(2027, 1, 1))

    assert reasons(fleet.missing(dt.date(2026, 12, 30), year=2026)) == [
        ("A-1", "birch", 2026, "moved")
    ]
    assert reasons(fleet.missing(dt.date(2027, 1, 1))) == [
        ("A-1", "birch", 2026, "moved"),
        ("A-1", "birch", 2027, "new year"),
    ]
    assert reasons(fleet.missing(dt.date(2027, 1, 2))) == [("A-1", "birch", 2027, "new year")]
    fleet.print(fleet.chart(site="birch"))
    assert fleet.missing(dt.date(2026, 12, 30), year=2026) == []


def test_a_rule_that_ended_wants_no_chart_any_more() -> None:
    """Of the kind's only rule the last cell closes on 30 June; a dated duty goes on asking."""
    ended = rule("optics", 'each = "open-day"\nuntil = 2026-06-30')
    fleet = PrintFleet()
    fleet.book(ended)

    assert reasons(fleet.missing(dt.date(2026, 6, 30))) == [("A-1", "alder", 2026, "new unit")]
    assert fleet.missing() == []
    fleet.book(ended, rule("oil", 'every = "P2W"'))
    assert reasons(fleet.missing()) == [("A-1", "alder", 2026, "new unit")]
    fleet.book(ended, rule("oil", 'every = "P2W"\nuntil = 2026-06-30'))
    assert fleet.missing() == []


def test_each_unit_is_asked_for_its_own_cells() -> None:
    """The box of December closes for A-2 on the 14th, the day before it is out."""
    fleet = PrintFleet()
    fleet.book(STAND_CHECK)
    fleet.unit("A-2")
    fleet.out(dt.date(2026, 12, 15), None, "lamp is broken", unit="A-2")

    def missing(day: int) -> list[str]:
        return [row.property_number for row in fleet.missing(dt.date(2026, 12, day), year=2026)]

    assert [missing(14), missing(15)] == [["A-1", "A-2"], ["A-1"]]


def test_of_prints_that_replace_each_other_the_latest_counts() -> None:
    fleet = PrintFleet()
    fleet.print(fleet.chart(), fleet.chart())
    first, second = fleet.prints()
    fleet.write(
        dataclasses.replace(first, replaces=second.number),
        dataclasses.replace(second, replaces=first.number),
    )

    assert current_prints(fleet.prints()) == {("A-1", "alder", 2026): fleet.prints()[1]}
    assert fleet.missing() == []


def test_a_unit_that_moved_wants_a_chart_where_it_stands_and_where_it_will_stand() -> None:
    fleet = PrintFleet()
    fleet.print()
    fleet.moves("birch", dt.date(2026, 6, 1))
    fleet.moves("elm", dt.date(2026, 9, 1))

    assert reasons(fleet.missing()) == [
        ("A-1", "birch", 2026, "moved"),
        ("A-1", "elm", 2026, "moved"),
    ]
    fleet.print(fleet.chart(site="birch"), fleet.chart(site="elm"))
    assert fleet.missing() == []


@pytest.mark.parametrize(
    "fields",
    [
        {"retired_on": JULY_1},
        {"in_service_on": dt.date(2026, 7, 2)},
        {"kind": "timer"},
        {"kind": "of-no-book"},
        {"record_from_on": dt.date(2027, 1, 4)},
    ],
)
def test_a_unit_without_anything_to_mark_is_not_missing(fields: dict[str, object]) -> None:
    fleet = PrintFleet()
    fleet.unit("A-1", **fields)

    assert fleet.missing() == []


def test_a_unit_is_missing_from_its_first_day_in_service_on() -> None:
    fleet = PrintFleet()
    fleet.unit("A-1", in_service_on=JULY_1)

    assert reasons(fleet.missing()) == [("A-1", "alder", 2026, "new unit")]


def test_a_unit_that_is_out_for_the_rest_of_the_year_is_missing_once_it_is_back() -> None:
    fleet = PrintFleet()
    fleet.out(dt.date(2026, 5, 4), None, "lamp is broken")

    assert fleet.missing() == []
    fleet.out(dt.date(2026, 5, 4), dt.date(2026, 7, 6), "lamp is broken")
    assert reasons(fleet.missing()) == [("A-1", "alder", 2026, "new unit")]


def test_a_copy_for_the_file_is_no_chart_for_the_wall() -> None:
    fleet = PrintFleet()
    fleet.print(known_at=NOW)

    assert reasons(fleet.missing()) == [("A-1", "alder", 2026, "new unit")]


def test_what_was_printed_after_the_day_asked_about_is_not_seen() -> None:
    fleet = PrintFleet()
    fleet.print()

    assert reasons(fleet.missing(dt.date(2026, 6, 30))) == [("A-1", "alder", 2026, "new unit")]


def test_what_was_printed_later_than_the_instant_it_is_known_at_is_not_known() -> None:
    fleet = PrintFleet()
    before = NOW - dt.timedelta(days=1)
    fleet.print()

    assert fleet.missing(known_at=NOW) == []
    assert fleet.missing(known_at=before) == []  # nor is the unit
    fleet.record.changes = [
        (change, stamp if type(change.new).__name__ == "Print" else stamp.__class__(before, "", ""))
        for change, stamp in fleet.record.changes
    ]
    fleet.record.books = [
        (book.__class__(text=book.text, sha256=book.sha256, stored_at=before), False)
        for book, _ in fleet.record.books
    ]
    fleet.out(dt.date(2026, 1, 1), None, "lamp is broken")
    fleet.closed(dt.date(2026, 1, 1), dt.date(2026, 12, 31), "flood")
    assert reasons(fleet.missing(known_at=before)) == [("A-1", "alder", 2026, "new unit")]
    assert fleet.missing() == []


def test_without_a_day_it_is_today_at_each_site() -> None:
    fleet = PrintFleet()
    fleet.unit("E-1", site="elm")
    half_past_midnight_in_chicago = dt.datetime(2027, 1, 1, 6, 30, tzinfo=dt.UTC)

    rows = fleet.missing(None, now=half_past_midnight_in_chicago)

    assert reasons(rows) == [
        ("A-1", "alder", 2027, "new unit"),
        ("E-1", "elm", 2026, "new unit"),
        ("E-1", "elm", 2027, "new unit"),
    ]


@pytest.mark.parametrize(
    ("narrow", "numbers"),
    [
        (Narrow(), ["A-1", "A-2", "E-1"]),
        (Narrow(sites=("ALDER",)), ["A-1", "A-2"]),
        (Narrow(counties=("sioux",)), ["E-1"]),
        (Narrow(regions=("North", "West")), ["A-1", "A-2", "E-1"]),
        (Narrow(kinds=("Microscope",)), ["A-1", "A-2", "E-1"]),
        (Narrow(kinds=("timer",)), []),
        (Narrow(sites=("alder",), regions=("West",)), []),
    ],
)
def test_a_question_is_narrowed_as_that_of_due_is(narrow: Narrow, numbers: list[str]) -> None:
    fleet = PrintFleet()
    fleet.unit("A-2")
    fleet.unit("E-1", site="elm")

    assert [row.property_number for row in fleet.missing(narrow=narrow)] == numbers


def test_three_hundred_units_are_answered_in_half_a_second() -> None:
    fleet = PrintFleet()
    for number in range(300):
        fleet.unit(f"U-{number}", site=("alder", "birch", "elm")[number % 3])
    fleet.print(*(fleet.chart() for _ in range(1)))
    began = time.process_time()

    rows = fleet.missing(dt.date(2026, 12, 7))

    assert len(rows) == 601
    assert time.process_time() - began < 0.5
