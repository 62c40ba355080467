"""What a print keeps of its rows, and what of it a newer or a broken text still tells."""

from __future__ import annotations

import dataclasses
import json

import pytest

from fleet.domain.prints import Print
from fleet.errors import BadPrint, FleetError
from fleet.services.charts.facts import RowRole
from fleet.services.charts.frozen import cells_of, rows_of
from tests.fleet.services.charts.print_fleet import BOOK, PrintFleet, rule

SERVICE = rule("service", 'every = "P1Y"', title='"Service by the vendor"')


def printed(*book: str) -> Print:
    fleet = PrintFleet()
    fleet.book(*(book or BOOK))
    return fleet.print()[0].print


def test_fields_that_came_later_are_passed_over_in_rows_and_in_versions() -> None:
    known = printed()
    rows = json.loads(known.rows)
    rows[0]["shade"] = "grey"
    rows[0]["versions"][0]["season"] = ["dry", "wet"]

    assert rows_of(dataclasses.replace(known, rows=json.dumps(rows))) == rows_of(known)


@pytest.mark.parametrize(
    "text",
    [
        "",
        "no JSON",
        "{}",
        "5",
        '"day"',
        "[1]",
        "[[]]",
        "[{}]",
        '[{"role":"day"}]',
        '[{"role":"dusk","task":"wipe","title":"Wipe"}]',
        '[{"role":"day","task":"wipe","title":"Wipe","versions":5}]',
        '[{"role":"day","task":"wipe","title":"Wipe","versions":["daily"]}]',
        '[{"role":"day","task":"wipe","title":"Wipe","versions":[{"each":"open-day"}]}]',
        '[{"role":"day","task":"wipe","title":"Wipe","versions":[{"title":"W","from_on":"May"}]}]',
        "[" * 100_000,
    ],
)
def test_a_text_that_is_no_list_of_rows_is_refused_with_the_print_s_number(text: str) -> None:
    with pytest.raises(BadPrint) as refused:
        rows_of(dataclasses.replace(printed(), rows=text))

    assert isinstance(refused.value, FleetError)
    assert refused.value.number == "PRINT000"
    assert str(refused.value) == (
        "print PRINT000: what is kept of its rows is no list of rows; put back what was exported of"
        " it, or print the chart again"
    )


def test_boxes_of_the_head_are_rows_without_cells() -> None:
    made = printed(*BOOK, SERVICE)
    *others, head = rows_of(made)

    assert (head.role, head.task, head.title) == (RowRole.DATED, "service", "Service by the vendor")
    assert [version.every for version in head.versions] == ["P1Y"]
    assert RowRole.DATED not in {row.role for row in others}
    assert made.cells == " ".join(cells_of(made)[:-1]) + " "
    assert [len(signs) for signs in cells_of(made)] == [365, 365, 12, 0]


@pytest.mark.parametrize("count", [1, 2, 3])
def test_a_chart_of_nothing_but_the_head_has_no_cells(count: int) -> None:
    fleet = PrintFleet()
    fleet.book(*BOOK, *(rule(f"service-{n}", 'every = "P1Y"') for n in range(count)))
    chart = fleet.chart()
    head = tuple(row for row in chart.rows if row.role is RowRole.DATED)

    (made,) = fleet.print(dataclasses.replace(chart, rows=head))

    assert cells_of(made.print) == ("",) * count
