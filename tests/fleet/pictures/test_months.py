"""A calendar of the trips: each bar lies over its days, days off are grey, text keeps its width."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from textwrap import dedent

import pytest

from fleet.pictures.columns import cells
from fleet.pictures.months import months, months_pages, months_shown
from fleet.pictures.months_text import months_text
from fleet.pictures.plan_words import PlanWords
from schedules.visits.model import Plan
from schedules.visits.told import ToldPlan
from tests.fleet.pictures.made import (
    HOLIDAY_ON,
    ROBIN,
    a_plan,
    an_order,
    many_trips,
    some_words,
)
from tests.fleet.pictures.svg_read import Node, boxes, called, groups, outside, read, texts

GREY = "#eeeeee"


def drawn() -> Node:
    return read(months(an_order(), a_plan(), some_words()))


def day_boxes(month: Node) -> dict[int, tuple[float, float, float, float]]:
    """The box of each day, by its number, in the order they are drawn."""
    shapes = [node for node in month if node.tag.endswith("rect")]
    return {number: boxes_of(node) for number, node in enumerate(shapes, start=1)}


def boxes_of(node: Node) -> tuple[float, float, float, float]:
    x, y, wide, high = (float(node.get(name, 0)) for name in ("x", "y", "width", "height"))
    return x, y, x + wide, y + high


def named(told: ToldPlan, technician: str) -> ToldPlan:
    trips = tuple(replace(trip, technician=technician) for trip in told.trips)
    return replace(told, trips=trips)


def test_a_trip_over_the_end_of_a_month_is_a_bar_in_both() -> None:
    march, april = groups(drawn(), "month")
    assert [called(march), called(april)] == ["March 2027: 3 trips", "April 2027: 1 trip"]
    told = [called(group).split(":")[0] for group in groups(march, "trip")]
    assert told == [
        "Trip 1, Robin Mossgrove, from Tuesday 2 March 2027 to Tuesday 2 March 2027",
        "Trip 2, Dana Lark, from Wednesday 10 March 2027 to Thursday 11 March 2027",
        "Trip 3, Robin Mossgrove, from Wednesday 31 March 2027 to Thursday 1 April 2027",
    ]
    assert [called(group).split(":")[0] for group in groups(april, "trip")] == told[2:]


def test_a_day_stands_under_the_name_of_its_weekday() -> None:
    """The weekdays are those of the standard library's calendar."""
    march, _ = groups(drawn(), "month")
    heads = {node.text: float(node.get("x", 0)) for node in march if node.get("text-anchor")}
    for number, (left, _, right, _) in day_boxes(march).items():
        name = f"{dt.date(2027, 3, number):%a}"
        assert heads[name] == pytest.approx((left + right) / 2, abs=0.02)


def test_a_bar_lies_over_its_days_and_a_technicians_bars_in_one_lane() -> None:
    march, _ = groups(drawn(), "month")
    days, bars = day_boxes(march), [boxes(group)[0] for group in groups(march, "trip")]
    lanes = []
    for (x, y, wide, high), first, last in zip(bars, (2, 10, 31), (2, 11, 31), strict=True):
        assert days[first][0] < x < days[first][0] + 1
        assert days[last][2] - 1 < x + wide < days[last][2]
        assert days[first][1] < y < y + high <= days[first][3]
        lanes.append(round(y - days[first][1], 1))
    assert lanes[0] == lanes[2] < lanes[1]


def test_days_on_which_nobody_works_are_grey_and_called_by_their_name() -> None:
    march, april = groups(drawn(), "month")
    grey = {
        dt.date(2027, number, day)
        for number, month in ((3, march), (4, april))
        for day, node in enumerate([n for n in month if n.tag.endswith("rect")], start=1)
        if node.get("fill") == GREY
    }
    span = [dt.date(2027, 3, 1) + dt.timedelta(days=n) for n in range(61)]
    assert grey == {on for on in span if on.weekday() > 4 or on == HOLIDAY_ON}
    (holiday,) = groups(march, "day")
    assert called(holiday) == "Friday 26 March 2027: Spring Day"
    assert texts(holiday) == ["Spring Day"]


def test_a_technicians_own_day_off_is_a_grey_lane() -> None:
    assert [called(group) for group in groups(drawn(), "off") if "is off" in called(group)] == [
        f"Wednesday 17 March 2027: {ROBIN} is off"
    ]


def test_bars_say_number_technician_and_visits_as_far_as_there_is_room() -> None:
    march, _ = groups(drawn(), "month")
    told = [line for group in groups(march, "trip") for line in texts(group)]
    assert told == ["1 A · 1", "2 B · 2 visits", "3 A · 2"]
    assert texts(drawn())[2:6] == [
        "A",
        "Robin Mossgrove, Sandhills Service",
        "B",
        "Dana Lark, Sandhills Service",
    ]


@pytest.mark.parametrize(
    "told",
    [
        a_plan(plan=Plan(())),
        a_plan(an_order(units=40), many_trips(36)),
        a_plan(),
    ],
    ids=["no trip", "36 trips", "three trips"],
)
def test_no_mark_of_the_months_leaves_the_sheet(told: ToldPlan) -> None:
    words = PlanWords(title="Visits <&> " * 30, days_off={HOLIDAY_ON: "Long " * 20})
    root = read(months(an_order(), told, words))
    assert list(outside(root)) == []
    assert ("No trip is planned." in texts(root)) == (not told.trips)


def test_paper_takes_as_many_months_a_page_as_lanes_stay_readable() -> None:
    year = replace(an_order(), to_on=dt.date(2028, 2, 29))
    assert len(months_shown(year)) == 12
    (page,) = months_pages(year, a_plan(), some_words(), (279.4, 206.9))
    assert len([mark for mark in page.marks if getattr(mark, "sort", "") == "month"]) == 12


def test_the_months_stand_in_80_columns() -> None:
    assert months_text(a_plan()) == dedent(
        """\
        March 2027: 3 trips, 5 visits, 5 services
                                                         1   5    10   15   20   25   30
        trip  days           technician      vis. serv.  MTWTFSSMTWTFSSMTWTFSSMTWTFSSMTW
           1  2 Mar          Robin Mossgrove    1     2  ·#···  ·····  ·····  ·····  ···
           2  10–11 Mar      Dana Lark          2     2  ·····  ··##·  ·····  ·····  ···
           3  31 Mar – 1 Apr Robin Mossgrove    2     2  ·····  ·····  ·····  ·····  ··#

        April 2027: 1 trip, 0 visits, 1 service
                                                         1   5    10   15   20   25   30
        trip  days           technician      vis. serv.  TFSSMTWTFSSMTWTFSSMTWTFSSMTWTF
           3  31 Mar – 1 Apr Robin Mossgrove    2     2  #·  ·····  ·····  ·····  ·····
        """
    )


def test_a_narrow_terminal_has_no_ruler() -> None:
    told = a_plan()
    assert months_text(replace(told, trips=told.trips[:1]), 44) == dedent(
        """\
        March 2027: 1 trip, 1 visit, 2 services
        trip  days           technician vis. serv.
           1  2 Mar          Robin Mos…    1     2
        """
    )


@pytest.mark.parametrize("width", [40, 72, 73, 80, 120])
@pytest.mark.parametrize("name", ["ab", "x" * 60, "手" * 30, "a\x1b[31m\n"])
def test_no_line_is_wider_than_the_terminal_whatever_the_names(width: int, name: str) -> None:
    text = months_text(named(a_plan(), name), width)
    assert max(cells(line) for line in text.splitlines()) <= width
    assert "\x1b" not in text


def test_a_plan_without_trips_says_so() -> None:
    assert months_text(a_plan(plan=Plan(()))) == "No trip is planned.\n"
