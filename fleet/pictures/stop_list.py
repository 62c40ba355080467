"""What does a technician take along? The stops of one trip on paper, to tick and to write on.

It stands on one page where letters of at least SMALLEST let it, else on as few as those take, in
the largest letters that take no more. Black on white: cautions stand in a heavy frame.
"""

from __future__ import annotations

import datetime as dt
from typing import Literal

from fleet.pictures.plan_paper import PlanPaper
from fleet.pictures.plan_words import StopWords
from fleet.pictures.stop_pages import LARGEST, SMALLEST, STEP, StopPages
from fleet.pictures.stop_text import TripText
from schedules.visits.model import Order
from schedules.visits.told import ToldTrip

__all__ = ["stop_list"]


def stop_list(
    trip: ToldTrip,
    order: Order,
    words: StopWords,
    paper: Literal["letter", "a4"],
    made_at: dt.datetime,
) -> bytes:
    """The stop list of one trip of an order as PDF; the same bytes for the same facts.

    made_at: stands in the PDF, aware of its time zone.
    """
    text = TripText(trip, order, words)
    title = f"Stop list, trip {words.number}"
    sheet = PlanPaper("portrait", paper, made_at, words.title)
    try:
        sheet.set_title(sheet.clean(title))
        sheet.set_subject(sheet.clean(f"{trip.technician}, {trip.starts_on} to {trip.ends_on}"))
        StopPages(sheet, text, words, title, _size(sheet, text, words, title)).draw()
        return bytes(sheet.output())
    finally:
        sheet.shut()


def _size(sheet: PlanPaper, text: TripText, words: StopWords, title: str) -> float:
    """The largest letters with which the list takes no more pages than with the smallest."""
    fewest, size = StopPages(sheet, text, words, title, SMALLEST).pages, LARGEST
    while size > SMALLEST and StopPages(sheet, text, words, title, size).pages > fewest:
        size -= STEP
    return size
