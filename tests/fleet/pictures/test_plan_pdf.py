"""A plan on paper says its figures, all its trips and what it left out, the same each time.

The PDFs are read back by PDFium (pypdfium2), which shares no code with what wrote them.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Literal

import pytest

from fleet.pictures.plan_pdf import PlanRemarks, plan_pdf
from fleet.pictures.plan_words import PlanWords
from fleet.services.visits.answer import compared
from schedules.visits.model import Order, Plan
from schedules.visits.told import ToldPlan
from tests.fleet.pictures.made import a_plan, an_order, many_trips, names, some_words
from tests.fleet.pictures.pdf_read import letters_outside, page_sizes, page_texts, section_names

MADE_AT = dt.datetime(2026, 11, 26, 3, 12, tzinfo=dt.UTC)
SIX_MM = 6 / 25.4 * 72
REMARKS = PlanRemarks(
    notes=("The span has one holiday.",),
    why={names("elm", 1)[0]: "Its site is closed on every day of its window."},
    foot="seed 1, 20,000 iterations",
)


def written(
    told: ToldPlan | None = None,
    order: Order | None = None,
    words: PlanWords | None = None,
    paper: Literal["letter", "a4"] = "letter",
    remarks: PlanRemarks | None = REMARKS,
) -> bytes:
    plan = told or a_plan()
    plans = [compared("this plan", plan), compared("own dates", plan, 2)]
    return plan_pdf(
        order or an_order(), plan, words or some_words(), plans, paper, MADE_AT, remarks
    )


def test_the_pages_are_the_picture_the_map_the_months_and_the_trips() -> None:
    content = written()
    assert section_names(content) == [
        "Summary",
        "Maps",
        "Months",
        "Trips",
        "March 2027",
        "Unplaced",
    ]
    pages = page_texts(content)
    assert len(pages) == 5
    for number, page in enumerate(pages, start=1):
        assert f"page {number} of 5" in page
        assert "seed 1, 20,000 iterations · printed 2026-11-26 03:12 UTC" in page


def test_the_first_page_says_the_figures_the_money_and_the_notes() -> None:
    first = page_texts(written())[0]
    for told in (
        "Two months of visits Vendor visits from Monday 1 March 2027 to Friday 30 April 2027"
        " 3 trips 5 visits 6 services 2 unplaced 969 miles 18 hours driven 5 technician days"
        " 2 nights away 279 lost interval days",
        "2 late, 2 unplaced",
        "total $3,596 $3,596",
        "The span has one holiday.",
    ):
        assert told in first


def test_every_stop_and_the_way_home_stand_in_the_tables() -> None:
    trips = page_texts(written())[3]
    for told in (
        "Trip 1 · Robin Mossgrove, Sandhills Service · Tue 2 Mar 2027, from Oak depot · 1 visit,"
        " 2 services · 52 miles, 58 min driven · 0 nights · $448",
        "Tue 2 Mar 08:29 Ash lab, Reed county annual-service: ASH-1, ASH-2 drive 26.1 miles,"
        " 29 min",
        "Wed 10 Mar 09:24 Birch lab, Reed county annual-service: BIRCH-1",
        "Wed 31 Mar – Thu 1 Apr 2027",
        "Wed 31 Mar 15:43 Birch lab",
        "Thu 1 Apr 10:09 home at Oak depot drive 76.4 miles, 1 h 24 min",
    ):
        assert told in trips


def test_what_has_no_place_is_told_with_its_reason() -> None:
    assert page_texts(written())[4].endswith(
        "2 services without a place in the plan"
        " ELM-1 annual-service, Elm lab: 2027-03-01 to 2027-04-30"
        " Its site is closed on every day of its window."
        " ELM-2 annual-service, Elm lab: 2027-03-01 to 2027-04-30"
    )


def test_more_than_28_trips_have_a_map_a_month_and_all_their_rows() -> None:
    order = an_order(units=40)
    content = written(a_plan(order, many_trips(36)), order)
    pages = page_texts(content)
    assert "March 2027: 21 trips" in pages[1]
    tables = " ".join(pages[3:])
    for number in range(1, 37):
        assert f"Trip {number} · Robin" in tables
        assert f"ASH-{number} " in tables


@pytest.mark.parametrize(
    ("paper", "size"), [("letter", (792, 612)), ("a4", (842, 595))], ids=["letter", "a4"]
)
def test_pages_are_landscape_and_printers_reach_all_letters(
    paper: Literal["letter", "a4"], size: tuple[int, int]
) -> None:
    """Points: ANSI/ASME Y14.1 letter, ISO 216 A4; most printers reach to 6 mm (common practice)."""
    content = written(paper=paper)
    assert page_sizes(content) == {size}
    assert list(letters_outside(content, SIX_MM - 1)) == []


def test_a_plan_without_trips_is_told_too() -> None:
    empty = a_plan(plan=Plan((), names("ash", 1)))
    pages = page_texts(written(empty, remarks=None))
    assert "0 trips, 0 visits" in pages[1]
    assert "No trip is planned." in pages[2]
    assert "ASH-1 annual-service" in pages[3]


def test_an_order_without_needs_and_with_one_site_is_a_plan_of_nothing() -> None:
    order = replace(an_order({"ash": (41.0, -97.0)}), needs=())
    pages = page_texts(written(a_plan(order, Plan(())), order))
    assert len(pages) == 3


def test_odd_and_long_names_stay_on_the_page() -> None:
    words = PlanWords(title="<&> \x00\U0001f6e0 " + "Long title " * 30)
    content = written(words=words, remarks=PlanRemarks(notes=("word " * 4_000,)))
    assert list(letters_outside(content, 15)) == []
    assert "… and " in page_texts(content)[0]


def test_the_same_plan_is_the_same_bytes() -> None:
    assert written() == written()
