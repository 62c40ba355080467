"""Which printed charts no longer serve, for more is asked for than they have room for?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable

import pytest

from tests.fleet.services.charts.print_fleet import BOOK, JULY_1, PrintFleet, rule

OPTICS, STAND_CHECK = BOOK
SATURDAY = dt.date(2026, 8, 8)


@pytest.mark.parametrize(
    ("each", "cell"),
    [("month", "1 to 30 Sep"), ("week", "14 to 20 Sep"), ("quarter", "1 Jul to 30 Sep")],
)
def test_a_box_crossed_out_that_is_expected_now_is_out_of_date(each: str, cell: str) -> None:
    """The unit moves on 16 September; then it is out from that day on to the end of the month."""
    fleet = PrintFleet()
    fleet.book(rule("stand-check", f'each = "{each}"', times="2"))
    fleet.moves("birch", dt.date(2026, 9, 16))
    fleet.print(fleet.chart(), fleet.chart(site="birch"))
    assert fleet.missing() == []

    fleet.out(dt.date(2026, 9, 16), dt.date(2026, 10, 1), "lamp is broken")

    (row,) = fleet.missing()
    assert (row.site, row.reason, row.differs) == (
        "alder",
        "changed days",
        f"Do stand-check: asked for now, was crossed out: {cell}",
    )
    assert [row.site for row in fleet.missing(dt.date(2026, 9, 15))] == ["alder"]
    assert fleet.missing(dt.date(2026, 9, 16)) == []
    (made,) = fleet.print(fleet.chart())
    assert list(made.differs) == [row.differs]
    assert fleet.missing() == []


def test_a_mark_more_a_day_from_september_on_is_no_matter_once_it_is_printed() -> None:
    """Before September the row of the second mark is crossed out."""
    once = rule("optics", 'each = "open-day"\nuntil = 2026-08-31')
    fleet = PrintFleet()
    fleet.book(once, rule("optics", 'each = "open-day"\nfrom = 2026-09-01', times="2"))
    fleet.print()

    assert fleet.missing() == []


def test_a_day_that_opens_without_a_cell_on_it_is_no_matter() -> None:
    fleet = PrintFleet()
    fleet.book(STAND_CHECK)
    fleet.print()

    fleet.closed(SATURDAY, SATURDAY, "", open=True)

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
            lambda f: f.book(STAND_CHECK, OPTICS),
            id="the order of the book changed",
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


def test_what_a_missing_chart_differs_in_is_what_the_new_one_will_tell() -> None:
    """By the same words, though the one is told without making the chart."""
    fleet = PrintFleet()
    fleet.print()
    fleet.moves("birch", dt.date(2026, 9, 1))
    fleet.moves("alder", dt.date(2026, 10, 1))
    fleet.out(dt.date(2026, 11, 2), dt.date(2026, 11, 4), "lamp is broken")
    fleet.closed(SATURDAY, SATURDAY, "", open=True)

    row = next(row for row in fleet.missing() if row.site == "alder")
    (made,) = fleet.print()

    assert (
        row.differs
        == "; ".join(made.differs)
        == (
            "days no longer expected: 1 to 30 Sep (at another site: Birch Laboratory);"
            " days no longer expected: 2 to 3 Nov (out of service: lamp is broken);"
            " days now open that were crossed out: 8 Aug"
        )
    )


@pytest.mark.parametrize(
    ("printed_back", "back", "is_missing"), [(1, 30, False), (2, 1, True), (3, 2, True)]
)
def test_a_unit_back_early_is_missing_if_a_day_from_today_on_is_crossed_out(
    printed_back: int, back: int, is_missing: bool
) -> None:
    """Looked at on 1 July; the days are those of return, on which it is in use again."""
    fleet = PrintFleet()
    fleet.out(dt.date(2026, 6, 29), dt.date(2026, 7, printed_back), "lamp is broken")
    fleet.print()
    back_on = dt.date(2026, 6 if back == 30 else 7, back)
    fleet.out(dt.date(2026, 6, 29), back_on, "lamp is broken")

    assert bool(fleet.missing()) is is_missing
