"""How does a plan become one PDF? Its picture in figures, maps, months, then trips as tables."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from fleet.pictures.drawing import Group, Mark, Rect
from fleet.pictures.money import Priced
from fleet.pictures.months import months_pages
from fleet.pictures.plan_paper import FOOT, MARGIN, PlanPaper
from fleet.pictures.plan_summary import draw_summary
from fleet.pictures.plan_words import Numbered, PlanWords, numbered
from fleet.pictures.route_map import MOST_LINES, map_picture, month_cell, months_of, trips_of
from fleet.pictures.sheet import draw
from fleet.pictures.trip_tables import TripTables
from schedules.visits.model import Order
from schedules.visits.told import ToldPlan

__all__ = ["PlanRemarks", "plan_pdf"]

_DOWN, _GAP = 2, 4.0
"""Months on a page of maps, and the white between them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanRemarks:
    """What is said besides: notes on the first page, why needs have no place, the foot's words."""

    notes: Sequence[str] = ()
    why: Mapping[str, str] = field(default_factory=dict)
    """By the need's name."""
    foot: str = ""
    """Of every page: versions and seed, as the plan has them."""


def plan_pdf(
    order: Order,
    told: ToldPlan,
    words: PlanWords,
    plans: Sequence[Priced],
    paper: Literal["letter", "a4"],
    made_at: dt.datetime,
    remarks: PlanRemarks | None = None,
) -> bytes:
    """The plan on landscape pages of letter or A4; the same bytes for the same facts.

    plans: what is compared, the plan itself first. made_at: stands in the PDF, aware of its time
    zone.
    """
    said = remarks or PlanRemarks()
    sheet = PlanPaper("landscape", paper, made_at, said.foot)
    try:
        sheet.set_title(sheet.clean(words.title))
        sheet.set_subject(f"Vendor visits from {order.from_on} to {order.to_on}")
        draw_summary(sheet, order, told, words.title, plans, said.notes)
        _pictures(sheet, order, told, words)
        _tables(sheet, order, told, words, said.why)
        return bytes(sheet.output())
    finally:
        sheet.shut()


def _pictures(sheet: PlanPaper, order: Order, told: ToldPlan, words: PlanWords) -> None:
    size = sheet.w, sheet.h - FOOT
    maps = _maps(order, numbered(told), words, size)
    months = [picture.marks for picture in months_pages(order, told, words, size)]
    for section, pages in (("Maps", maps), ("Months", months)):
        for number, marks in enumerate(pages):
            sheet.add_page()
            if not number:
                sheet.start_section(section)
            draw(sheet, marks)


def _maps(
    order: Order, trips: Sequence[Numbered], words: PlanWords, size: tuple[float, float]
) -> Iterator[Sequence[Mark]]:
    """A page's marks: one map where its lines can be told apart, else two months a page."""
    if len(trips) <= MOST_LINES:
        yield map_picture(order, trips, words, words.title, size).marks
        return
    months = months_of(trips)
    for begin in range(0, len(months), _DOWN):
        some = [trips_of(trips, month) for month in months[begin : begin + _DOWN]]
        yield [
            _month_cell(order, words, trips_of_month, turn, size)
            for turn, trips_of_month in enumerate(some)
        ]


def _month_cell(
    order: Order, words: PlanWords, trips: Sequence[Numbered], turn: int, size: tuple[float, float]
) -> Group:
    high = (size[1] - MARGIN - (_DOWN - 1) * _GAP) / _DOWN
    top = MARGIN / 2 + 1 + turn * (high + _GAP)
    cell = Rect(MARGIN, top, size[0] - MARGIN, top + high)
    return month_cell(order, words, trips, cell, is_beside=True)


def _tables(
    sheet: PlanPaper, order: Order, told: ToldPlan, words: PlanWords, why: Mapping[str, str]
) -> None:
    tables = TripTables(sheet, order, words)
    if told.trips:
        tables.draw(numbered(told))
    if told.unplaced:
        tables.unplaced(told.unplaced, why)
