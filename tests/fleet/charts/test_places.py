"""Where every cell of a chart lies, and that none lies on another."""

from __future__ import annotations

import datetime as dt
import itertools
from collections import defaultdict

import pytest

from fleet.charts.geometry import (
    CODE_CORNERS,
    FOOTER,
    FORM_HEIGHT,
    FORM_WIDTH,
    HEADER,
    LABEL,
    geometry_of,
    read_geometry,
)
from fleet.charts.places import Place, places
from fleet.services.charts.facts import RowRole, YearChart
from schedules.rules import Each
from tests.fleet.charts import charts_made as made

CHARTS = {
    "microscope": made.microscope(),
    "refrigerator": made.refrigerator(),
    "twenty tasks": made.twenty_tasks(),
    "issued in May": made.issued_in_may(),
    "data logger": made.data_logger(),
}


def of(chart: YearChart, year: int = made.YEAR) -> tuple[Place, ...]:
    """The cells of a chart without the boxes of its head."""
    return tuple(one for one in places(geometry_of(chart), year) if one.month)


def heads(chart: YearChart) -> list[Place]:
    """The boxes of its head."""
    return [one for one in places(geometry_of(chart), made.YEAR) if not one.month]


@pytest.mark.parametrize("name", CHARTS)
def test_every_face_has_one_place(name: str) -> None:
    chart = CHARTS[name]
    faces = [(row, slot) for row, one in enumerate(chart.rows) for slot in range(len(one.faces))]

    assert [(one.row, one.slot) for one in of(chart)] == faces


@pytest.mark.parametrize("name", CHARTS)
def test_no_cell_leaves_the_months_or_overlaps_another(name: str) -> None:
    of_page: dict[int, list[Place]] = defaultdict(list)
    for one in of(CHARTS[name]):
        of_page[one.page].append(one)
        assert one.x >= LABEL
        assert one.x + one.w <= FORM_WIDTH + 0.001
        assert one.y >= HEADER
        assert one.y + one.h <= FORM_HEIGHT - FOOTER + 0.001

    for own in of_page.values():
        tops: dict[float, list[Place]] = defaultdict(list)
        for one in own:
            tops[one.y].append(one)
        for line in tops.values():
            line.sort(key=lambda one: one.x)
            assert all(a.x + a.w <= b.x + 0.001 for a, b in itertools.pairwise(line))
        lines = sorted((top, line[0].h) for top, line in tops.items())
        assert all(top + h <= low + 0.001 for (top, h), (low, _) in itertools.pairwise(lines))


@pytest.mark.parametrize("name", CHARTS)
def test_every_dated_duty_has_a_box_in_the_head_of_each_page(name: str) -> None:
    chart = CHARTS[name]
    rows = [n for n, row in enumerate(chart.rows) if row.role is RowRole.DATED]
    pages = read_geometry(geometry_of(chart)).pages
    found = heads(chart)

    assert len(rows) == len(chart.dated)
    assert [(one.row, one.slot, one.page) for one in found] == [
        (row, page - 1, page) for row in rows for page in range(1, pages + 1)
    ]
    for page in range(1, pages + 1):
        own = [one for one in found if one.page == page]
        assert all((one.first, one.last) == (0, 0) for one in own)
        assert all(a.y + a.h < b.y for a, b in itertools.pairwise(own))
        assert all(one.y + one.h < HEADER for one in own)
        assert all(one.x + one.w < CODE_CORNERS[1][0] for one in own)


@pytest.mark.parametrize("year", [2020, 2024, 2026, 2027, 2032])
def test_week_cells_are_the_iso_weeks_of_the_year(year: int) -> None:
    # The standard library's isocalendar (ISO 8601); 2020, 2026 and 2032 have 53 weeks.
    chart = made.year_chart([made.week_row("Clean")], dated=())
    days: dict[int, list[dt.date]] = defaultdict(list)
    for on in made.days_of(year):
        if on.isocalendar().year == year:
            days[on.isocalendar().week].append(on)

    found = of(chart, year)

    assert len(found) == dt.date(year, 12, 28).isocalendar().week
    for one in found:
        covered = [dt.date(year, one.month, n) for n in range(one.first, one.last + 1)]
        week = dt.date.fromisocalendar(year, one.slot + 1, 4)
        assert week.month == one.month
        assert covered == [on for on in days[one.slot + 1] if on.month == week.month]
        assert one.x == pytest.approx(LABEL + (one.first - 1) * 6.9, abs=0.001)
        assert one.w == pytest.approx(len(covered) * 6.9, abs=0.001)


def test_a_leap_year_has_a_cell_more_in_february() -> None:
    chart = made.year_chart([made.day_row("Wipe")])

    assert [sum(one.month == 2 for one in of(chart, year)) for year in (2027, 2028)] == [28, 29]
    assert [len(of(chart, year)) for year in (2027, 2028)] == [365, 366]


def test_boxes_stand_in_the_month_in_which_their_period_ends() -> None:
    rows = [made.box_row(each.value, each) for each in list(Each)[2:]]
    found = of(made.year_chart([made.day_row("Wipe"), *rows]))
    months = {row: [one.month for one in found if one.row == row] for row in range(1, 5)}

    assert months == {1: [*range(1, 13)], 2: [3, 6, 9, 12], 3: [6, 12], 4: [12]}


def test_boxes_of_a_month_stand_side_by_side_four_to_a_line() -> None:
    rows = [made.box_row(f"Box {n}", Each.MONTH) for n in range(6)]
    january = [one for one in of(made.year_chart([made.day_row("Wipe"), *rows])) if one.month == 1]
    boxes = january[31:]

    assert [(one.x, one.y, one.w, one.h) for one in boxes] == [
        (78.475, 35.7, 20.0, 6.5),
        (131.95, 35.7, 20.0, 6.5),
        (185.425, 35.7, 20.0, 6.5),
        (238.9, 35.7, 20.0, 6.5),
        (78.475, 42.2, 20.0, 6.5),
        (131.95, 42.2, 20.0, 6.5),
    ]


def test_quarters_have_a_page_each_and_months_stand_below_each_other() -> None:
    first = {
        one.month: (one.page, one.y)
        for one in of(made.year_chart([made.day_row("Wipe")]))
        if one.first == 1
    }

    assert [first[month][0] for month in range(1, 13)] == [1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4]
    assert [first[month][1] for month in (1, 2, 3, 4)] == [27.6, 46.8, 66.0, 27.6]
