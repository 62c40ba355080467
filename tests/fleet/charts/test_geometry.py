"""How charts are divided into pages and rows, and what paper does not hold."""

from __future__ import annotations

import itertools
import json

import pytest

from fleet.charts.geometry import (
    CODE_CORNERS,
    FOOTER,
    FORM_HEIGHT,
    FORM_WIDTH,
    HEADER,
    MODULE,
    MODULES,
    PAPERS,
    STROKES,
    TAG,
    TAG_CORNERS,
    TAG_MODULE,
    division,
    geometry_of,
    origin,
    read_geometry,
    row_height,
)
from fleet.charts.layout import ChartLayout
from fleet.errors import ChartTooLong, FleetError, UnknownLayout
from fleet.services.charts.facts import YearChart
from schedules.rules import Each
from tests.fleet.charts import charts_made as made

# Millimetres a row by daily tasks and months a page, worked out apart from this code, to a tenth,
# when the layout was chosen on simulated pictures.
HEIGHTS = {
    5: {12: 0.4, 6: 3.0, 3: 8.1, 2: 13.3, 1: 28.9},
    7: {12: 0.3, 6: 2.1, 3: 5.8, 2: 9.5, 1: 20.6},
    8: {12: 0.2, 6: 1.9, 3: 5.1, 2: 8.3, 1: 18.1},
    10: {12: 0.2, 6: 1.5, 3: 4.1, 2: 6.7, 1: 14.4},
    12: {12: 0.2, 6: 1.2, 3: 3.4, 2: 5.6, 1: 12.0},
    15: {12: 0.1, 6: 1.0, 3: 2.7, 2: 4.4, 1: 9.6},
    20: {12: 0.1, 6: 0.7, 3: 2.0, 2: 3.3, 1: 7.2},
}


@pytest.mark.parametrize("rows", HEIGHTS)
def test_row_heights_are_those_of_the_table_the_layout_was_chosen_by(rows: int) -> None:
    for months, height in HEIGHTS[rows].items():
        assert row_height(rows, 1, months) == pytest.approx(height, abs=0.06)


def test_as_many_months_a_page_as_leave_rows_of_five_millimetres() -> None:
    found = {rows: division(rows, 1) for rows in range(1, 29)}

    assert {rows: found[rows][0] for rows in found if found[rows]} == {  # type: ignore[index]
        **dict.fromkeys(range(1, 9), 3),
        **dict.fromkeys(range(9, 14), 2),
        **dict.fromkeys(range(14, 29), 1),
    }


@pytest.mark.parametrize("box_rows", [1, 2])
def test_no_row_is_lower_than_five_millimetres_or_higher_than_eight(box_rows: int) -> None:
    for rows in range(1, 28):
        months, height = division(rows, box_rows) or (0, 0.0)

        assert 5.0 <= height <= 8.1
        assert HEADER + months * (4.6 + rows * height + 6.5 * box_rows) <= FORM_HEIGHT - FOOTER


def test_a_chart_without_rows_of_days_has_the_year_on_a_page() -> None:
    assert division(0, 1) == (12, 0.0)
    assert division(0, 2) == (6, 0.0)


def test_geometry_is_canonical_and_reads_back() -> None:
    geometry = geometry_of(made.microscope())
    parts = read_geometry(geometry)

    assert geometry == (
        '{"box_rows":1,"layout":"1","months":3,"row":8.1,'
        '"rows":["day","week","initials","month","quarter","dated"],"slots":2}'
    )
    assert geometry == json.dumps(json.loads(geometry), sort_keys=True, separators=(",", ":"))
    assert (parts.pages, parts.grid_rows, parts.box_rows) == (4, 3, 1)
    assert ChartLayout().laid(made.microscope()) == (4, geometry)


def test_a_layout_that_is_not_known_is_refused_in_words() -> None:
    geometry = geometry_of(made.microscope()).replace('"layout":"1"', '"layout":"2"')

    with pytest.raises(UnknownLayout) as refused:
        read_geometry(geometry)

    assert isinstance(refused.value, FleetError)
    assert refused.value.layout == "2"
    assert str(refused.value) == (
        "a chart of layout 2 was printed by a newer version of this program than this one, which"
        " knows layout 1; read it with that version"
    )


@pytest.mark.parametrize(
    ("boxes", "slots", "box_rows"), [(1, 2, 1), (2, 2, 1), (3, 4, 1), (4, 4, 1), (5, 4, 2)]
)
def test_captions_have_twice_the_room_where_boxes_are_few(
    boxes: int, slots: int, box_rows: int
) -> None:
    rows = [made.box_row(f"Box {n}", Each.MONTH) for n in range(boxes)]
    parts = read_geometry(geometry_of(made.year_chart(rows)))

    assert (parts.slots, parts.box_rows) == (slots, box_rows)
    assert parts.slot_width * parts.slots == pytest.approx(31 * 6.9)


@pytest.mark.parametrize(
    ("chart", "pages"),
    [
        (made.microscope(), 4),
        (made.refrigerator(), 6),
        (made.twenty_tasks(), 12),
        (made.issued_in_may(), 4),
        (made.data_logger(), 1),
    ],
)
def test_charts_take_as_many_pages_as_their_rows_ask_for(chart: YearChart, pages: int) -> None:
    assert ChartLayout().laid(chart).pages == pages


def test_a_fifth_box_in_a_month_takes_another_monthly_row() -> None:
    boxes = [made.box_row(f"Box {n}", Each.MONTH) for n in range(4)]
    four = [made.day_row("Wipe"), *boxes]
    yearly = made.box_row("Fifth, in December", Each.YEAR)

    assert read_geometry(geometry_of(made.year_chart(four))).box_rows == 1
    assert read_geometry(geometry_of(made.year_chart([*four, yearly]))).box_rows == 2


def test_a_kind_with_more_rows_than_paper_holds_is_refused_in_words() -> None:
    rows = [made.day_row(f"Task {n}") for n in range(28)]

    with pytest.raises(ChartTooLong) as refused:
        geometry_of(made.year_chart([*rows, made.initials_row()]))

    assert isinstance(refused.value, FleetError)
    assert (refused.value.kind, refused.value.rows, refused.value.holds) == ("microscope", 29, 28)
    assert str(refused.value) == (
        "kind microscope: its chart has 29 rows a month and 1 line of boxes below them, and paper"
        " holds 28 rows of 5.0 mm with those; make one task of several that are done together, or"
        " let some of them be asked for each month instead of each day"
    )


def test_a_second_line_of_boxes_takes_the_room_of_a_row() -> None:
    rows = [made.day_row(f"Task {n}") for n in range(28)]
    boxes = [made.box_row(f"Box {n}", Each.MONTH) for n in range(5)]

    with pytest.raises(ChartTooLong) as refused:
        geometry_of(made.year_chart([*rows, *boxes]))

    assert (refused.value.rows, refused.value.box_rows, refused.value.holds) == (28, 2, 27)


@pytest.mark.parametrize("paper", PAPERS)
def test_the_box_stands_in_the_middle_ten_millimetres_from_every_edge(paper: str) -> None:
    left, top = origin(paper)
    width, height = PAPERS[paper]

    assert min(left, top) >= 10
    assert (width - FORM_WIDTH - left, height - FORM_HEIGHT - top) == pytest.approx((left, top))


def test_codes_have_four_modules_of_white_beside_the_tags() -> None:
    # ISO/IEC 18004: a quiet zone of four modules.
    (left, top), (right, _) = CODE_CORNERS

    assert left - TAG == pytest.approx(4 * MODULE)
    assert FORM_WIDTH - TAG - (right + MODULES * MODULE) == pytest.approx(4 * MODULE)
    assert top + MODULES * MODULE + 3 * MODULE <= HEADER


def test_strokes_of_the_strip_stand_apart_and_a_module_from_the_tag() -> None:
    spans = [(one.x - one.width / 2, one.x + one.width / 2) for one in STROKES]

    assert {(one.width, one.black) for one in STROKES} == {
        (width, black) for width in (0.3, 0.5) for black in (0.3, 0.5, 0.7, 1.0)
    }
    assert all(left[1] < right[0] for left, right in itertools.pairwise(spans))
    assert spans[-1][1] < TAG_CORNERS[2][0] - TAG_MODULE
    assert all(FORM_HEIGHT - FOOTER < one.y < one.y + one.height < FORM_HEIGHT for one in STROKES)
