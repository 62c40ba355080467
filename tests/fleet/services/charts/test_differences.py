"""What does a new chart tell that differs from the print before it?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest

from fleet.services.charts.differences import MOST, differences, shortened
from fleet.services.charts.facts import Face
from tests.fleet.services.charts.print_fleet import BOOK, PrintFleet, rule

OPTICS, STAND_CHECK = BOOK
VENDOR = '"Service by the vendor"'
SERVICE = rule("service", 'every = "P1Y"', title=VENDOR)
LONG = tuple(rule(f"long-{n}", 'every = "P2Y"') for n in range(3))
AUGUST_3 = dt.date(2026, 8, 3)
"""A Monday."""


def told(change: Callable[[PrintFleet], None], *book: str) -> Sequence[str]:
    """The sentences on the chart of A-1 after a change; book: what it was printed by."""
    fleet = PrintFleet()
    if book:
        fleet.book(*book)
    (printed,) = fleet.print()
    change(fleet)
    return differences(printed.print, fleet.chart())


def test_a_chart_that_says_the_same_differs_in_nothing() -> None:
    assert told(lambda fleet: None) == []


def test_marks_that_came_in_are_no_difference() -> None:
    fleet = PrintFleet()
    (printed,) = fleet.print()
    chart = fleet.chart()
    rows = tuple(
        replace(row, faces=tuple(Face("d", "GR") for _ in row.faces)) for row in chart.rows
    )

    assert differences(printed.print, replace(chart, rows=rows)) == []


@pytest.mark.parametrize(
    ("change", "sentences"),
    [
        pytest.param(
            lambda f: f.closed(AUGUST_3, dt.date(2026, 8, 7), "flood"),
            ["days now closed: 3 to 7 Aug (closure: flood)"],
            id="a week closed",
        ),
        pytest.param(
            lambda f: f.closed(AUGUST_3, dt.date(2026, 8, 14), "flood"),
            ["days now closed: 3 to 14 Aug (closure: flood)"],
            id="a weekend, crossed out all along, does not part the days",
        ),
        pytest.param(
            lambda f: f.out(dt.date(2026, 8, 31), dt.date(2026, 9, 2), "lamp is broken"),
            ["days no longer expected: 31 Aug to 1 Sep (out of service: lamp is broken)"],
            id="an outage over a month's end, back on 2 September",
        ),
        pytest.param(
            lambda f: f.closed(dt.date(2026, 11, 28), dt.date(2026, 11, 28), "", open=True),
            ["days now open that were crossed out: 28 Nov"],
            id="a Saturday opened",
        ),
        pytest.param(
            lambda f: f.moves("birch", dt.date(2026, 12, 1)),
            ["days no longer expected: 1 to 31 Dec (at another site: Birch Laboratory)"],
            id="a move",
        ),
        pytest.param(
            lambda f: f.unit("A-1", retired_on=dt.date(2026, 12, 30)),
            ["days no longer expected: 30 to 31 Dec (retired)"],
            id="retired",
        ),
        pytest.param(
            lambda f: f.opens(dt.date(2026, 9, 1), "Mon Tue Wed Thu"),
            ["days now closed: Fridays from 4 Sep to 25 Dec (weekly pattern)"],
            id="another weekly pattern",
        ),
        pytest.param(
            lambda f: (
                [
                    f.closed(dt.date(2026, month, 1), dt.date(2026, month, 3), "paint")
                    for month in (9, 10, 12)
                ]
                + [f.closed(dt.date(2026, 12, 7), dt.date(2026, 12, 9), "paint")]
            ),
            ["days now closed: 1 to 3 Sep, 1 to 2 Oct, 1 to 3 Dec and 3 more (closure: paint)"],
            id="many days are cut short",
        ),
        pytest.param(
            lambda f: (
                f.closed(AUGUST_3, AUGUST_3, "flood"),
                f.closed(dt.date(2026, 8, 8), dt.date(2026, 8, 8), "", open=True),
            ),
            [
                "days now closed: 3 Aug (closure: flood)",
                "days now open that were crossed out: 8 Aug",
            ],
            id="closed days before open ones",
        ),
    ],
)
def test_days_that_changed_are_told_with_their_reason(
    change: Callable[[PrintFleet], None], sentences: list[str]
) -> None:
    assert told(change) == sentences


def test_a_day_that_stays_crossed_out_for_another_reason_is_no_difference() -> None:
    saturday = dt.date(2026, 8, 8)

    assert told(lambda fleet: fleet.closed(saturday, saturday, "flood")) == []


@pytest.mark.parametrize(
    ("before", "after", "sentences"),
    [
        pytest.param(
            (OPTICS,),
            (OPTICS, rule("optics", 'each = "week"\nfrom = 2026-07-01')),
            ["optics: each week instead of each open day from 1 Jul"],
            id="a new version within the year",
        ),
        pytest.param(
            (OPTICS,),
            (rule("optics", 'each = "week"'),),
            ["optics: each week instead of each open day"],
            id="another period for the whole year",
        ),
        pytest.param(
            (OPTICS,),
            (rule("optics", 'each = "open-day"', times="2"),),
            ["optics: 2 marks each open day instead of each open day"],
            id="more marks",
        ),
        pytest.param(
            (OPTICS,),
            (OPTICS, rule("filter", 'each = "half-year"')),
            ["new row: Do filter"],
            id="new row",
        ),
        pytest.param((OPTICS, STAND_CHECK), (OPTICS,), ["row gone: Do stand-check"], id="row gone"),
        pytest.param(
            (OPTICS,),
            (rule("optics", 'each = "open-day"', title='"Wipe the lenses"'),),
            ["optics is now called 'Wipe the lenses'"],
            id="title",
        ),
        pytest.param(
            (rule("optics", 'each = "open-day"', cautions='["Unplug first."]'),),
            (rule("optics", 'each = "open-day"', cautions='["Unplug first.", "No bleach."]'),),
            ["the cautions of optics changed"],
            id="cautions",
        ),
        pytest.param(
            (rule("optics", 'each = "open-day"', range='{ low = 2.0, high = 8.0, unit = "C" }'),),
            (rule("optics", 'each = "open-day"', range='{ high = 7.5, unit = "C" }'),),
            ["optics: readings of at most 7.5 C instead of readings from 2.0 to 8.0 C"],
            id="limits of a reading",
        ),
        pytest.param(
            (OPTICS, rule("oil", 'every = "P2W"')),
            (OPTICS, rule("oil", 'every = "P1M"')),
            ["oil: every month instead of every 2 weeks"],
            id="interval of a dated duty",
        ),
        pytest.param(
            (OPTICS, rule("oil", 'every = "P2W"')),
            (OPTICS, rule("oil", 'every = "P2W"', grace="3")),
            ["oil: counted otherwise"],
            id="window of a dated duty",
        ),
        pytest.param(
            (OPTICS,),
            (rule("optics", 'each = "open-day"\nuntil = 2026-09-30'),),
            ["optics: no longer asked from 1 Oct"],
            id="a rule that ends",
        ),
        pytest.param(
            (OPTICS,),
            (
                rule("optics", 'each = "open-day"\nuntil = 2027-06-30'),
                rule("optics", 'each = "week"\nfrom = 2027-07-01'),
            ),
            [],
            id="a rule that changes in another year",
        ),
        pytest.param(
            (STAND_CHECK,),
            (STAND_CHECK, OPTICS),
            ["new row: Do optics"],
            id="the row of initials that comes with day rows is not told",
        ),
        pytest.param((OPTICS, STAND_CHECK), (STAND_CHECK, OPTICS), [], id="another order"),
        pytest.param(
            (OPTICS, SERVICE),
            (OPTICS, rule("service", 'every = "P6M"', title=VENDOR)),
            ["Service by the vendor: every 6 months instead of every year"],
            id="interval of a long duty",
        ),
        pytest.param(
            (OPTICS, SERVICE),
            (OPTICS, rule("service", 'every = "P1Y"', title=VENDOR, grace="15")),
            ["Service by the vendor: counted otherwise"],
            id="window of a long duty",
        ),
        pytest.param(
            (OPTICS,),
            (OPTICS, SERVICE),
            ["new duty by date: Service by the vendor"],
            id="new long duty",
        ),
        pytest.param(
            (OPTICS, SERVICE),
            (OPTICS,),
            ["duty by date gone: Service by the vendor"],
            id="long duty gone",
        ),
        pytest.param(
            (OPTICS, SERVICE),
            (OPTICS, rule("service", 'every = "P1M"', title=VENDOR)),
            ["Service by the vendor: every month instead of every year"],
            id="a long duty that is short now",
        ),
        pytest.param(
            (OPTICS, *LONG[1:], SERVICE),
            (OPTICS, *LONG, SERVICE),
            [
                "Service by the vendor: written in a row of days instead of the head",
                "new duty by date: Do long-0",
            ],
            id="a long duty that finds no room in the head any more",
        ),
        pytest.param(
            (OPTICS, *LONG, SERVICE),
            (OPTICS, *LONG[1:], SERVICE),
            [
                "Service by the vendor: written in the head instead of a row of days",
                "duty by date gone: Do long-0",
            ],
            id="a long duty that finds room in the head",
        ),
    ],
)
def test_rows_that_changed_are_told(
    before: tuple[str, ...], after: tuple[str, ...], sentences: list[str]
) -> None:
    assert told(lambda fleet: fleet.book(*after), *before) == sentences


def test_a_chart_whose_long_duty_changed_is_to_be_printed_again() -> None:
    fleet = PrintFleet()
    fleet.book(OPTICS, SERVICE)
    fleet.print()
    assert fleet.missing() == []

    fleet.book(OPTICS, rule("service", 'every = "P6M"', title=VENDOR))

    (row,) = fleet.missing()
    assert (row.reason, row.differs) == (
        "changed rule",
        "Service by the vendor: every 6 months instead of every year",
    )


def test_a_version_for_the_model_wins_over_a_later_one_for_all() -> None:
    monthly = rule("optics", 'each = "month"')
    own = rule("optics", 'each = "week"\nfrom = 2026-03-01\nuntil = 2026-09-30', models='["M1"]')
    quarterly = 'each = "month"\nfrom = 2026-07-01'
    before = (monthly, own, rule("optics", quarterly))
    after = (monthly, own, rule("optics", quarterly, title='"Wipe the lenses"'))

    assert told(lambda fleet: fleet.book(*after), *before) == [
        "optics is now called 'Wipe the lenses' from 1 Oct"
    ]


def test_no_more_than_a_handful_is_told() -> None:
    new = [rule(f"task-{number}", 'each = "month"') for number in range(8)]

    sentences = told(lambda fleet: fleet.book(*BOOK, *new))

    assert sentences == [*(f"new row: Do task-{n}" for n in range(MOST - 1)), "and 4 more"]
    assert shortened(list("abcde")) == list("abcde")
