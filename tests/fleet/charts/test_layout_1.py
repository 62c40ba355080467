"""Layout 1 stays what it was when the first chart was printed: paper comes back a year later.

`layout_1.csv` is not to be changed. Where lengths must become others, they are another layout, and
read_geometry has to know both.
"""

from __future__ import annotations

import csv
from collections.abc import Iterator
from pathlib import Path

import pytest

from fleet.charts.geometry import (
    CODE_CORNERS,
    FORM_HEIGHT,
    FORM_WIDTH,
    LAYOUT,
    MODULE,
    MODULES,
    STROKES,
    TAG,
    TAG_CORNERS,
    TAG_MODULE,
    geometry_of,
)
from fleet.charts.layout import ChartLayout
from fleet.charts.places import places
from fleet.services.charts.facts import ChartRow, YearChart
from schedules.rules import Each
from tests.fleet.charts import charts_made as made

KEPT = Path(__file__).with_name("layout_1.csv")
YEARS = (2027, 2032)
GEOMETRIES = {
    "quarter": (
        '{"box_rows":1,"layout":"1","months":3,"row":8.1,'
        '"rows":["day","week","initials","month","quarter","dated"],"slots":2}'
    ),
    "two months": (
        '{"box_rows":2,"layout":"1","months":2,"row":6.01,'
        '"rows":["day","week","week","week","week","week","week","week","on the day","initials",'
        '"month","month","month","half-year","year","dated","dated"],"slots":4}'
    ),
    "half a year": (
        '{"box_rows":2,"layout":"1","months":6,"row":0.0,'
        '"rows":["month","month","month","quarter","year","dated","dated","dated"],"slots":4}'
    ),
}
"""As prints hold them, by the months a page has."""


def kept(what: str, of: str = "", year: str = "") -> list[tuple[float, ...]]:
    """The numbers of some lines of the file."""
    with KEPT.open(newline="") as file:
        next(file)
        return [
            tuple(float(text) for text in line[3:] if text)
            for line in csv.reader(file)
            if line[:3] == [what, of, year]
        ]


def charts() -> Iterator[tuple[str, YearChart]]:
    boxes = [made.box_row(f"Box {n}", Each.MONTH) for n in range(3)]
    year, half = made.box_row("Year", Each.YEAR), made.box_row("Half", Each.HALF_YEAR)
    weeks: list[ChartRow] = [made.week_row(f"Week {n}") for n in range(7)]
    grid = [made.day_row("Wipe"), *weeks, made.on_day_row("Adjust"), made.initials_row()]
    quarter = made.box_row("Quarter", Each.QUARTER)
    yield "quarter", made.microscope()
    yield "two months", made.year_chart([*grid, *boxes, half, year], dated=(made.SERVICE,) * 2)
    yield "half a year", made.year_chart([*boxes, quarter, year], dated=(made.SERVICE,) * 3)


def test_charts_are_divided_as_ever() -> None:
    assert LAYOUT == ChartLayout.version == "1"
    assert {name: geometry_of(chart) for name, chart in charts()} == GEOMETRIES


@pytest.mark.parametrize("year", YEARS)
@pytest.mark.parametrize("name", GEOMETRIES)
def test_every_cell_lies_where_it_always_lay(name: str, year: int) -> None:
    assert [tuple(one) for one in places(GEOMETRIES[name], year)] == kept("cell", name, str(year))


def test_tags_codes_and_strokes_lie_where_they_always_lay() -> None:
    side = round(MODULES * MODULE, 3)
    strokes = [(one.x, one.y, one.width, one.height, one.black) for one in STROKES]

    assert kept("box") == [(FORM_WIDTH, FORM_HEIGHT)]
    assert kept("tag") == [(x, y, TAG, TAG) for x, y in TAG_CORNERS]
    assert 6 * TAG_MODULE == TAG
    assert kept("code") == [(round(x, 3), y, side, side) for x, y in CODE_CORNERS]
    assert kept("stroke") == strokes


def test_the_file_holds_nothing_else() -> None:
    with KEPT.open(newline="") as file:
        next(file)
        lines = {tuple(line[:3]) for line in csv.reader(file)}

    cells = {("cell", name, str(year)) for name in GEOMETRIES for year in YEARS}
    assert lines == cells | {(what, "", "") for what in ("box", "tag", "code", "stroke")}
