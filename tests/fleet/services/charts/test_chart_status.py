"""Which units have no current chart in hand, and why?"""

from __future__ import annotations

import datetime as dt
import time
from collections.abc import Callable

import pytest

from fleet.services.charts.status import MissingChart
from fleet.services.questions import Narrow
from tests.fleet.services.charts.print_fleet import BOOK, JULY_1, NOW, PrintFleet, rule

OPTICS, STAND_CHECK = BOOK
SATURDAY = dt.date(2026, 8, 8)


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
    assert fleet.missing(year=2025) == []


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


def test_a_unit_that_comes_back_asks_for_its_site_s_chart_again() -> None:
    """The days it was to be away are crossed out on the paper that hangs there."""
    fleet = PrintFleet()
    fleet.moves("birch", dt.date(2026, 6, 1))
    fleet.print(fleet.chart(), fleet.chart(site="birch"))
    fleet.moves("alder", dt.date(2026, 12, 1))

    (row,) = fleet.missing(dt.date(2026, 11, 23))
    assert (row.site, row.reason, row.print) == ("alder", "changed days", "PRINT000")
    assert row.differs == "days now open that were crossed out: 1 to 31 Dec"


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


# --- charts that are out of date


@pytest.mark.parametrize(
    ("change", "reason", "differs"),
    [
        pytest.param(
            lambda f: f.book(OPTICS, STAND_CHECK, rule("optics", 'each = "week"\nfrom=2026-09-01')),
            "changed rule",
            "optics: each week instead of each open day from 1 Sep",
            id="another period",
        ),
        pytest.param(
            lambda f: (f.book(OPTICS), f.closed(SATURDAY, SATURDAY, "", open=True)),
            "changed rule",
            "days now open that were crossed out: 8 Aug; row gone: Do stand-check",
            id="rule and days",
        ),
        pytest.param(
            lambda f: (
                f.closed(SATURDAY, SATURDAY, "", open=True),
                f.closed(dt.date(2026, 8, 3), dt.date(2026, 8, 4), "flood"),
            ),
            "changed days",
            "days now closed: 3 to 4 Aug (closure: flood);"
            " days now open that were crossed out: 8 Aug",
            id="days that close are told where others open",
        ),
    ],
)
def test_a_chart_is_out_of_date_where_more_is_asked_for_than_paper_has_room_for(
    change: Callable[[PrintFleet], None], reason: str, differs: str
) -> None:
    fleet = PrintFleet()
    fleet.print()
    change(fleet)

    (row,) = fleet.missing()
    assert row[5:] == (2026, reason, "PRINT000", JULY_1, differs)
    fleet.print()
    assert fleet.missing() == []


@pytest.mark.parametrize(
    "change",
    [
        pytest.param(
            lambda f: f.closed(dt.date(2026, 8, 3), dt.date(2026, 8, 4), "flood"), id="days close"
        ),
        pytest.param(
            lambda f: f.closed(dt.date(2026, 6, 27), dt.date(2026, 6, 27), "", open=True),
            id="a day that is past opened",
        ),
        pytest.param(
            lambda f: f.book(STAND_CHECK, OPTICS, rule("service", 'every = "P1Y"')),
            id="what is not on the grid changed",
        ),
        pytest.param(lambda f: f.unit("A-1", serial="2", manufacturer="Other"), id="name plate"),
    ],
)
def test_a_chart_that_still_serves_is_not_out_of_date(
    change: Callable[[PrintFleet], None],
) -> None:
    fleet = PrintFleet()
    fleet.print()
    change(fleet)

    assert fleet.missing() == []


@pytest.mark.parametrize(("printed_back", "back", "is_missing"), [(2, 1, False), (3, 2, True)])
def test_a_unit_back_early_is_missing_if_a_day_after_today_is_crossed_out(
    printed_back: int, back: int, is_missing: bool
) -> None:
    """Looked at on 1 July; the days of July are those of return, on which it is in use again."""
    fleet = PrintFleet()
    fleet.out(dt.date(2026, 6, 29), dt.date(2026, 7, printed_back), "lamp is broken")
    fleet.print()
    fleet.out(dt.date(2026, 6, 29), dt.date(2026, 7, back), "lamp is broken")

    assert bool(fleet.missing()) is is_missing


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
    assert reasons(fleet.missing(known_at=before)) == [("A-1", "alder", 2026, "new unit")]


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
