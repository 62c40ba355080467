"""A stop list is all a technician needs on the way: every unit, every caution, no phone, no money.

The PDFs are read back by PDFium (pypdfium2), which shares no code with what wrote them.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Literal

import pytest

from fleet.pictures.plan_words import SiteWords, StopWords, UnitWords
from fleet.pictures.stop_list import stop_list
from schedules.visits.model import Plan, Trip
from tests.fleet.pictures.made import PLACES, ROBIN, a_plan, an_order, names
from tests.fleet.pictures.pdf_read import letters_outside, page_sizes, page_texts, section_names

MADE_AT = dt.datetime(2026, 11, 26, 3, 12, tzinfo=dt.UTC)
TEN_MM = 10 / 25.4 * 72
CAUTIONS = {
    "Centrifuge": ("Never open the lid while the rotor turns.", "Wait for aerosol to settle."),
    "Bench microscope": ("Unplug before any liquid comes near.",),
    "Autoclave": ("Not on this trip.",),
}
DEFERS = "The manufacturer's manual, the site's safety officer and local rules come first"


def some_words(units: int = 2) -> StopWords:
    order = an_order(units=units)
    return StopWords(
        number="3",
        title="Two months of visits",
        depot="Oak depot",
        time_zone="America/Chicago",
        contact="Ellis Fern, visits@program.example, 555-0100",
        sites={
            site: SiteWords(
                name=f"{site.title()} lab",
                county="Reed",
                address=("12 Mill Road", "Reedton"),
                contact="Jo Sedge, 555-0142",
                time_zone="America/Denver" if site == "cedar" else "America/Chicago",
                note="Ring at the east door.",
            )
            for site in PLACES
        },
        units={
            need.name: UnitWords(
                kind="Centrifuge" if need.kind == "centrifuge" else "Bench microscope",
                task="Service by the vendor",
                model="Model 20",
                serial=f"SN-{number}",
            )
            for number, need in enumerate(order.needs)
        },
        cautions=CAUTIONS,
        visits={names("cedar", 2)[0]: "V-0013"},
    )


def written(
    number: int = 2, words: StopWords | None = None, paper: Literal["letter", "a4"] = "letter"
) -> bytes:
    """The list of one of the three trips, counted from 0."""
    return stop_list(a_plan().trips[number], an_order(), words or some_words(), paper, MADE_AT)


def long_trip(units: int = 34, words: StopWords | None = None) -> bytes:
    """A week at ash, cedar and birch, with many units."""
    order = an_order(units=units)
    needs = (
        names("ash", *range(1, units // 2))
        + names("cedar", *range(1, 8))
        + names("birch", *range(1, 8))
    )
    told = a_plan(order, Plan((Trip(ROBIN, dt.date(2027, 3, 8), needs),)))
    return stop_list(told.trips[0], order, words or some_words(units), "letter", MADE_AT)


def test_one_page_says_who_goes_where_when_and_with_what_caution() -> None:
    (page,) = page_texts(written())
    for told in (
        "Stop list, trip 3 Robin Mossgrove, Sandhills Service. Leaves Oak depot on Wednesday"
        " 31 March 2027 at 08:00; home on Thursday 1 April 2027 about 10:09."
        " 2 stops, 2 services; 458.5 miles, 8 h 22 min of driving; 1 night away.",
        "go to Ellis Fern, visits@program.example, 555-0100.",
        "Caution: Bench microscope Unplug before any liquid comes near.",
        DEFERS,
        "Drive 222.6 miles, 4 h 3 min",
        "Drive 159.6 miles, 2 h 55 min",
        "visit V-0013 · 12 Mill Road · Reedton · Reed county · Jo Sedge, 555-0142"
        " · Ring at the east door.",
        "Drive 76.4 miles, 1 h 24 min to Oak depot: home on Thu 1 Apr about 10:09",
        "printed 2026-11-26 03:12 UTC",
    ):
        assert told in page
    assert "Not on this trip." not in page
    assert "$" not in page


def test_a_site_with_another_clock_is_told_by_both() -> None:
    """March 31 is summer time in both zones: Denver is an hour behind Chicago (IANA tzdata)."""
    (page,) = page_texts(written())
    assert "Wed 31 Mar, arrive 12:03 (11:03 by the site's clock)" in page
    assert "Wed 31 Mar, arrive 15:43, goes on to Thu 1 Apr" in page


def test_each_unit_has_its_row_with_kind_model_serial_task_minutes_and_time() -> None:
    (page,) = page_texts(written(0))
    for told in ("ASH-1", "! Centrifuge", "ASH-2", "! Bench microscope", "SN-0", "SN-1", "08:29"):
        assert told in page
    assert page.count("Service by the vendor") == 2
    assert " 1 stop, 2 services; 52.2 miles, 58 min of driving; 0 nights away." in page
    assert page.count("Model 20") == 2
    for heading in ("done", "not", "reading", "initials", "came", "left", "notes"):
        assert heading in page


def test_a_night_between_two_stops_is_told_where_it_is() -> None:
    home = page_texts(written(1))[0]
    assert "away before you arrive to Oak depot: home on Thu 11 Mar about 09:52" in home


def test_a_long_trip_goes_on_on_further_pages_that_point_to_the_cautions() -> None:
    pages = page_texts(long_trip())
    assert len(pages) == 2
    assert f"page 1 of {len(pages)}" in pages[0]
    assert DEFERS in pages[0]
    again = "! The cautions are on page 1; they and the manufacturer's manual hold here too. done"
    assert again in pages[1]
    whole = " ".join(pages)
    for name in names("ash", *range(1, 17)) + names("cedar", *range(1, 8)):
        assert f" {name.split('/')[0]} " in whole


def test_a_stop_that_is_longer_than_a_page_says_that_it_goes_on() -> None:
    order = replace(an_order(units=60))
    order = replace(order, needs=tuple(replace(need, minutes=5) for need in order.needs))
    trip = a_plan(order, Plan((Trip(ROBIN, dt.date(2027, 3, 2), names("ash", *range(1, 61))),)))
    content = stop_list(trip.trips[0], order, some_words(60), "letter", MADE_AT)
    pages = page_texts(content)
    assert all("Stop 1, Ash lab (continued)" in page for page in pages[1:])
    assert all(f" ASH-{n} " in " ".join(pages) for n in range(1, 61))
    assert list(letters_outside(content, 15)) == []


@pytest.mark.parametrize(
    ("paper", "size"), [("letter", (612, 792)), ("a4", (595, 842))], ids=["letter", "a4"]
)
def test_pages_are_upright_and_keep_their_margins(
    paper: Literal["letter", "a4"], size: tuple[int, int]
) -> None:
    """Points: ANSI/ASME Y14.1 letter, ISO 216 A4."""
    content = written(paper=paper)
    assert page_sizes(content) == {size}
    assert section_names(content) == ["Stop list, trip 3"]
    assert list(letters_outside(content, 15)) == []


def test_long_and_odd_names_are_whole_or_shrunk_and_stay_on_the_page() -> None:
    words = some_words()
    long = "Reed County Regional Laboratory of Public Health, North Wing"
    odd = SiteWords(name=long, contact="<&> \U0001f6e0 " * 20, address=("x" * 200,))
    units = {
        name: UnitWords(kind="K" * 60, task="T" * 120, model="M" * 60, serial="S" * 60)
        for name in words.units
    }
    content = written(2, replace(words, sites=dict.fromkeys(PLACES, odd), units=units))
    (page,) = page_texts(content)
    assert page.count(long) == 2
    assert list(letters_outside(content, 15)) == []


def test_what_is_not_known_of_a_site_or_unit_is_told_by_its_short_name() -> None:
    bare = StopWords(number="3", title="Visits", depot="Oak depot", time_zone="America/Chicago")
    (page,) = page_texts(written(2, bare))
    assert "The rule book has no caution for the units of this trip." in page
    assert DEFERS in page
    assert "cedar" in page
    assert "CEDAR-2 microscope annual-service" in page


def test_the_same_trip_is_the_same_bytes() -> None:
    assert written() == written()
    assert written() != written(1)
