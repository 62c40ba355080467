"""What stands on printed charts, read back from the PDF by PDFium."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from decimal import Decimal
from functools import cache

import pypdfium2

from fleet.charts.pdf import chart_pdf
from fleet.services.charts.facts import Face, Note, PrintedChart, YearChart
from schedules.rules import Each, ReadingRange
from tests.fleet.charts import charts_made as made

DEFERS = (
    "The manufacturer's manual, your site's safety officer and local rules come before this chart."
)


def pdf_of(*printed: PrintedChart, paper: str = "letter") -> bytes:
    return chart_pdf(printed, paper, made.MADE_AT)


def words_of(pdf: bytes) -> list[str]:
    """The words of each page on one line."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        return [
            re.sub(r"\s+", " ", page.get_textpage().get_text_range()) for page in list(document)
        ]
    finally:
        document.close()


def words(chart: YearChart, **more: object) -> list[str]:
    return _words(chart, tuple(more.items()))


@cache
def _words(chart: YearChart, more: tuple[tuple[str, object], ...]) -> list[str]:
    return words_of(pdf_of(made.printed(chart, **dict(more))))  # type: ignore[arg-type]


def test_the_same_facts_give_the_same_bytes() -> None:
    printed = [made.printed(made.microscope()), made.printed(made.refrigerator(), "0000000A")]

    assert pdf_of(*printed) == pdf_of(*printed)
    assert pdf_of(*printed) != pdf_of(*printed, paper="a4")


def test_every_page_says_whose_chart_it_is_and_which_part() -> None:
    pages = words(made.microscope())

    assert len(pages) == 4
    for page, months in zip(
        pages,
        ("January to March", "April to June", "July to September", "October to December"),
        strict=True,
    ):
        assert f"page {pages.index(page) + 1} of 4: {months}" in page
        for told in (
            "MS-0412",
            "2027",
            "Microscope",
            "Alder Creek Family Health Laboratory (ALDER), Marin County",
            "Osprey Optical Works Clearfield 40, serial CF40-118273",
            "printed 25 Nov 2026",
        ):
            assert told in page
    assert pages[0].count("14K7Q09ZX1EDZ") == 2


def test_long_duties_stand_in_the_head_of_every_page() -> None:
    for page in words(made.microscope()):
        assert "Annual service" in page
        assert "last done 4 May 2026 by Harbor Instrument Care" in page
        assert "next due 4 May 2027 (from 4 Apr 2027, no later than 3 Jun 2027)" in page
        assert "done on, by (firm), initials:" in page


def test_a_duty_without_a_date_says_so() -> None:
    (page,) = words(made.data_logger())

    assert "never done on record" in page
    assert "no due date: never started" in page
    assert page.count("done on, by (firm), initials:") == 3


def test_the_legend_tells_a_bench_worker_what_to_write() -> None:
    for page in words(made.microscope()) + words(made.refrigerator()):
        assert "✓ when done (or the reading), U when the unit was not in use." in page
        assert "wrote in a cell: your initials in the row Initials; two people: both." in page
        assert "A cell left blank is a gap. Forgotten? Leave it; say in Notes what was" in page
        assert "Struck out: nothing to do. The letter in the top row tells why" in page
        assert "H holiday, C closure; no letter, a closed day." in page
        assert "Broken or away for days: tell the site lead, who enters it." in page


def test_boxes_of_a_quarter_or_longer_are_named_on_every_page() -> None:
    told = "Check the phase rings: box in March, June, September, December."

    assert all(told in page for page in words(made.microscope()))


def test_a_chart_with_readings_says_what_to_do_with_one_out_of_range() -> None:
    told = "A reading out of range: tell the site lead at once; say in Notes what was done."

    assert all(told in page for page in words(made.refrigerator()))
    assert not any(told in page for page in words(made.microscope()))


def test_a_duty_that_is_overdue_says_so() -> None:
    (late,) = made.microscope().dated
    pages = words(replace(made.microscope(), dated=(replace(late, state="overdue"),)))

    assert all("OVERDUE: was due 4 May 2027" in page for page in pages)


def test_the_book_s_own_words_about_the_manual_stand_once() -> None:
    own = "The manufacturer's manual, the safety officer of the county and local rules first."

    for page in words(replace(made.microscope(), cautions=("Unplug it first.", own))):
        assert page.count("manual") == 1
        assert "Unplug it first. • " + own in page


def test_cautions_and_whom_to_ask_stand_on_every_page() -> None:
    for chart in (made.microscope(), made.refrigerator(), made.twenty_tasks(), made.data_logger()):
        for page in words(chart):
            assert DEFERS in page
            assert made.CAUTIONS[0] in page


def test_cautions_without_room_are_those_of_the_card_and_the_gravest_stay() -> None:
    cautions = tuple(f"Caution number {n} of this kind, told in so many words" for n in range(40))

    for chart in (made.microscope(), made.refrigerator()):
        for page in words(replace(chart, cautions=cautions)):
            assert f"{cautions[0]}" in page
            assert cautions[39] not in page
            assert "All cautions: on the card of this kind." in page
            assert DEFERS in page


def test_rows_say_their_range_their_turn_and_when_to_write() -> None:
    pages = words(made.refrigerator())
    assert all(page.count("2.0 to 8.0 C, 1 of 2") == 2 for page in pages)
    assert all(page.count("2.0 to 8.0 C, 2 of 2") == 2 for page in pages)

    pages = words(made.issued_in_may())
    assert all(page.count("write on the day it is done") == 3 for page in pages)
    assert all(
        "Dotted cells: ✓ (or the reading) on the day the task is done, and on no other." in page
        for page in pages
    )
    assert all("Any other cell left blank is a gap" in page for page in pages)


def test_long_titles_run_into_what_more_there_is_to_say_before_they_are_cut() -> None:
    title = "Wipe the shelves and the seals of the door with the agreed agent"
    rows = [*made.refrigerator().rows[:8], made.week_row(title), made.on_day_row("Calibrate")]

    for page in words(made.year_chart([*rows, made.box_row(f"{title}, all", Each.MONTH)])):
        assert f"{title}, once a week" in page
        assert re.search(rf"{title}, all by \d\d [A-Z]", page)


def test_boxes_say_what_for_and_by_when() -> None:
    first, _, _, last = words(made.microscope())

    assert "Clean the lamp housing by 31 Jan" in first
    assert "Clean the lamp housing by 28 Feb" in first
    assert "Check the phase rings Jan to Mar, by 31 Mar" in first
    assert "Check the phase rings Oct to Dec, by 31 Dec" in last


def test_closed_days_are_told_by_name() -> None:
    pages = words(made.microscope())

    assert "1 New Year's Day" in pages[0]
    assert "6 Labor Day; 20-24 closure: flood in the lower rooms" in pages[2]


def test_notes_that_the_label_cannot_hold_go_on_beside_it() -> None:
    notes = [list(own) for own in made.notes()]
    notes[0] = [Note(n, n, "O", f"the lamp failed and was mended, {n}") for n in range(3, 9)]

    page = words(replace(made.microscope(), notes=tuple(map(tuple, notes))))[0]

    for n in range(3, 9):
        assert re.search(rf"{n} out of service: the lamp failed and was mended, {n}\b", page)


def test_a_chart_printed_again_shows_what_the_record_holds_and_warns() -> None:
    chart = made.moved_and_marked()
    pages = words(chart, printed_on=chart.on, replaces="1111AAAA")

    assert "JR MKO TA" in pages[0]
    for page in pages:
        assert "printed 14 Apr 2027, replaces print 1111AAAA" in page
        assert (
            "Cells before 14 Apr 2027 that are empty here are empty in the record: leave them so."
            " From that day on fill each in on its day. Keep the chart printed before this one, and"
            " return it too."
        ) in page
        assert "f: ink was seen on paper" in page
    assert "1-30 at another site: BIRCH" in pages[2]


def test_a_chart_with_the_small_footer_warns_too() -> None:
    marked = made.day_row("Wipe", (Face("d", "✓"), *made.day_faces()[1:]))
    rows = [marked, *(made.day_row(f"Task {n}") for n in range(6)), made.initials_row()]
    day = dt.date(2027, 4, 14)

    for page in words(made.year_chart(rows, on=day), printed_on=day):
        assert "How to fill this chart" not in page
        assert (
            "Cells before 14 Apr 2027 that are empty here are empty in the record: leave them so."
            " From that day on fill each in on its day."
        ) in page


def test_a_unit_of_which_nothing_is_known_has_no_words_for_it() -> None:
    blank = made.unit(manufacturer="", model="", serial="")

    for page in words(replace(made.microscope(), unit=blank)):
        assert "serial" not in page
        assert "Marin County page" in page


def test_a_chart_printed_before_its_year_warns_of_nothing() -> None:
    assert all("leave them so" not in page for page in words(made.microscope()))


def test_what_differs_from_the_chart_printed_before_is_told() -> None:
    printed = made.printed(made.microscope(), replaces="1111AAAA")

    page = words_of(pdf_of(replace(printed, differs=("6 September is a holiday now",))))[0]

    assert "Other than on the chart printed before: 6 September is a holiday now." in page


def test_a_copy_for_the_file_says_so() -> None:
    pages = words(made.microscope(), known_at="2026-10-01T08:30:00+00:00")

    assert all("COPY FOR THE FILE, as known at 2026-10-01 08:30 UTC" in page for page in pages)


def test_a_reading_stands_in_its_cell() -> None:
    limits = ReadingRange(Decimal("2.0"), Decimal("8.0"), "C")
    read = made.rule("read", "Read", range=limits)
    faces = [Face("d", "4.7"), Face("u", "JR"), *made.day_faces()[2:]]

    page = words(made.year_chart([made.day_row("Read", faces, version=read)]))[0]

    assert "4.7 u JR" in page


def test_a_site_name_of_eighty_characters_is_whole() -> None:
    name = "Clinical and Public Health Laboratory of the Northern Coastal Communities, Annex"
    assert len(name) == 80

    for chart in (made.microscope(), made.issued_in_may()):
        page = words(replace(chart, site=replace(made.SITE, name=name)))[0]
        assert f"{name} (ALDER), Marin County" in page


def test_letters_that_the_font_lacks_break_nothing() -> None:
    odd = "试管 🧪 عربي עברית ﷽ \u202e\u200f ñ é ß" * 3
    site = replace(made.SITE, name=odd, county=odd)
    rows = [
        made.day_row(odd),
        made.week_row(odd),
        made.initials_row(),
        made.box_row("é", Each.YEAR),
    ]
    chart = made.year_chart(rows, odd, site=site, unit=made.unit(odd, model=odd), cautions=(odd,))

    pages = words(replace(chart, notes=((Note(1, 2, "C", odd),),) * 12))

    assert len(pages) == 4
    assert "??" in pages[0]


def test_twenty_rows_with_long_names_have_a_page_a_month() -> None:
    pages = words(made.twenty_tasks())

    assert len(pages) == 12
    for turn in range(1, 21):
        told = f"probe stations number {turn:02d} with a kit."
        assert all(told in page for page in pages)


def test_the_outline_goes_by_county_site_and_unit() -> None:
    other = replace(made.SITE, site="BIRCH", name="Birch Hill Laboratory")
    charts = [
        made.printed(made.microscope()),
        made.printed(replace(made.data_logger(), unit=made.unit("DL-0001")), "0000000A"),
        made.printed(replace(made.data_logger(), site=other), "0000000B"),
    ]
    document = pypdfium2.PdfDocument(pdf_of(*charts))
    try:
        told = [(one.level, one.get_title()) for one in document.get_toc()]
        title = document.get_metadata_value("Title")
    finally:
        document.close()

    assert told == [
        (0, "Marin"),
        (1, "Alder Creek Family Health Laboratory (ALDER)"),
        (2, "MS-0412, Microscope, 2027"),
        (2, "DL-0001, Temperature data logger, 2027"),
        (1, "Birch Hill Laboratory (BIRCH)"),
        (2, "MS-0412, Temperature data logger, 2027"),
    ]
    assert title == "Charts of 2027"


def test_the_language_is_told() -> None:
    assert b"/Lang (en)" in pdf_of(made.printed(made.data_logger()))


def test_pages_are_counted_as_they_are_drawn() -> None:
    told: list[int] = []

    chart_pdf(
        [made.printed(made.microscope()), made.printed(made.data_logger(), "0000000A")],
        "a4",
        made.MADE_AT,
        told.append,
    )

    assert told == [4, 1]
