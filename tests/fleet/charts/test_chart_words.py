"""What is written on a chart: for whom it was printed, when, and what it knew of the record."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest

from fleet.charts.html import chart_html
from fleet.charts.words import duty_words, fill_words, reissue_words, unit_words
from fleet.services.charts.facts import Face
from schedules.rules import ReadingRange
from tests.fleet.charts import charts_made as made

ON = dt.date(2027, 4, 14)
LAST = dt.date(2027, 12, 31)


def reissue(on: dt.date, **more: Any) -> str:
    chart = replace(made.moved_and_marked(), on=on)
    return reissue_words(made.printed(chart, **more))


def test_a_chart_printed_again_tells_up_to_which_day_the_record_was_looked_at() -> None:
    told = (
        "Cells before 14 Apr 2027 that are empty here are empty in the record: leave them so."
        " From that day on fill each in on its day."
    )

    assert reissue(ON, printed_on=ON) == told
    assert reissue(ON, printed_on=dt.date(2027, 4, 20)) == told
    assert reissue(ON, printed_on=ON, replaces="1111AAAA") == (
        f"{told} Keep the chart printed before this one, and return it too."
    )


def test_a_copy_for_the_file_tells_what_was_known_and_asks_for_nothing() -> None:
    assert reissue(ON, printed_on=dt.date(2027, 6, 1), known_at="2027-04-14T08:30:00+00:00") == (
        "As known at 2027-04-14 08:30 UTC: cells that are empty were empty in the record then."
    )


def test_of_a_year_that_is_over_nothing_is_filled_in_any_more() -> None:
    assert reissue(LAST, printed_on=dt.date(2028, 2, 1)) == "Empty cells are empty in the record."


def test_on_the_last_day_of_the_year_that_day_is_still_filled_in() -> None:
    assert reissue(LAST, printed_on=LAST) == (
        "Cells before 31 Dec 2027 that are empty here are empty in the record: leave them so."
        " From that day on fill each in on its day."
    )


def test_a_copy_that_holds_nothing_of_the_record_warns_of_nothing() -> None:
    copy = made.printed(made.microscope(), known_at="2026-11-01T00:00:00+00:00")

    assert reissue_words(copy) == ""


@pytest.mark.parametrize(
    ("changes", "in_service_on", "told"),
    [
        ({"from_on": dt.date(2027, 6, 1)}, dt.date(2021, 3, 4), "not in force yet"),
        ({"until_on": dt.date(2027, 2, 28)}, dt.date(2021, 3, 4), "no longer in force"),
        ({}, dt.date(2027, 5, 10), "not in service yet"),
        ({}, dt.date(2021, 3, 4), "not told"),
    ],
)
def test_a_duty_without_a_state_says_why(
    changes: dict[str, dt.date], in_service_on: dt.date, told: str
) -> None:
    rule = replace(made.SERVICE.rule, **changes)  # type: ignore[arg-type]
    duty = replace(made.SERVICE, rule=rule, due=None, opens=None, limit=None, state="")

    chart = replace(made.microscope(), on=ON, unit=made.unit(in_service_on=in_service_on))

    assert duty_words(duty, chart)[2] == f"no due date: {told}"
    assert f"<bdi>{told}</bdi>" in chart_html(made.printed(replace(chart, dated=(duty,))))


@pytest.mark.parametrize(
    ("manufacturer", "model", "serial", "told"),
    [
        ("Osprey", "C40", "118", "Osprey C40, serial 118"),
        ("Osprey", "", "118", "Osprey, serial 118"),
        ("", "C40", "", "C40"),
        ("", "", "118", "serial 118"),
        ("", "", "", ""),
    ],
)
def test_of_a_unit_stands_what_is_known(
    manufacturer: str, model: str, serial: str, told: str
) -> None:
    unit = made.unit(manufacturer=manufacturer, model=model, serial=serial)

    assert unit_words(unit) == told


def test_a_chart_of_dotted_cells_alone_asks_for_no_other() -> None:
    """Boxes of the head are not cells that may be left blank by mistake."""
    chart = made.year_chart([made.on_day_row("Adjust"), made.initials_row([Face("X")] * 365)])

    assert not any("is a gap" in line for line in fill_words(chart))


def test_a_box_of_the_head_asks_for_no_reading() -> None:
    limits = ReadingRange(Decimal("2.0"), Decimal("8.0"), "C")
    duty = replace(made.SERVICE, rule=replace(made.SERVICE.rule, range=limits))
    chart = made.year_chart([made.day_row("Wipe")], dated=(duty,))

    assert not any("out of range" in line for line in fill_words(chart))
