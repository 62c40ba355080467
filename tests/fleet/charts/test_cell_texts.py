"""Which cells of a printed page have a letter or an arrow in them, and which have none?"""

from __future__ import annotations

import datetime as dt
from functools import cache

import pytest

from fleet.charts.geometry import DAY_WIDTH, LABEL, geometry_of, read_geometry
from fleet.charts.pdf import chart_pdf
from fleet.charts.places import Place, places
from fleet.services.charts.facts import Face, YearChart
from schedules.rules import Each
from tests.fleet.charts import charts_made as made
from tests.fleet.charts.texts_of import page_text


def texts(chart: YearChart, page: int) -> dict[Place, str]:
    """What is written in each cell of a page."""
    pdf = chart_pdf([made.printed(chart)], "letter", made.MADE_AT)
    own = [one for one in places(geometry_of(chart), chart.year) if one.page == page and one.month]
    with page_text(pdf, page) as shown:
        return {one: shown.within(one.x, one.y, one.w, one.h) for one in own}


def test_a_letter_stands_in_the_first_row_and_below_where_the_reason_is_another() -> None:
    """The first row is of a task that is asked for from 1 September on (day 244 of the year)."""
    first = made.day_faces(X=(1, 243))
    second = made.day_faces(E=(268, 365))
    boxes = [Face("E")] * 12
    rows = made.day_row("Wipe", first), made.day_row("Dust", second)
    chart = made.year_chart([*rows, made.box_row("Lamp", Each.MONTH, boxes)])
    found = texts(chart, 3)

    for one, text in found.items():
        signs = [row.faces[one.slot].sign for row in chart.rows[:2]] if one.row < 2 else []
        if one.row == 2:
            assert text == "E"
        elif signs[one.row] in ".W":
            assert text == ""
        elif one.row == 0:
            assert text == signs[0]
        else:
            assert text == ("" if signs[0] == signs[1] else signs[1]), one
    below = {text for one, text in found.items() if one.row == 1}
    assert below == {"", "H", "E"}


@cache
def arrows(year: int) -> list[tuple[str, str, str]]:
    """What stands left of, in and right of the boxes of weeks, by month."""
    chart = made.year_chart([made.week_row("Clean", year)], year=year)
    pdf = chart_pdf([made.printed(chart)], "letter", made.MADE_AT)
    parts = read_geometry(geometry_of(chart))
    cells = [one for one in places(geometry_of(chart), year) if one.first]
    found = []
    for month in range(1, 13):
        own = [one for one in cells if one.month == month]
        y, left, right = own[0].y, own[0].x, own[-1].x + own[-1].w
        end = LABEL + 31 * DAY_WIDTH
        with page_text(pdf, parts.page_of(month)) as shown:
            before = shown.within(LABEL, y, left - LABEL, own[0].h) if left > LABEL else ""
            after = shown.within(right, y, end - right, own[0].h) if right < end else ""
            inside = shown.within(left, y, right - left, own[0].h)
        found.append((before, inside, after))
    return found


@pytest.mark.parametrize("year", [2026, 2027, 2028])
def test_an_arrow_stands_where_days_are_of_a_week_of_the_month_before_or_after(year: int) -> None:
    """The week's month is that of its Thursday, by the standard library's calendar (ISO 8601).

    In 2026 January and October begin, April and December end on a Thursday.
    """
    expected = []
    for month in range(1, 13):
        first = dt.date(year, month, 1)
        last = (first + dt.timedelta(days=31)).replace(day=1) - dt.timedelta(days=1)
        starts, ends = (
            on + dt.timedelta(days=4 - on.isocalendar().weekday) for on in (first, last)
        )
        before = "←" if starts < first else ""
        after = "→" if ends > last else ""
        expected.append((before, "", after))

    assert arrows(year) == expected
