"""Does text come onto the pages of a packet whole, in its columns and with the signs there are?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.files.packets.pages import BOTTOM, TOP, PacketPages

TEXTS = st.text(st.characters(codec="utf-8", exclude_categories=("Cc", "Cs")), max_size=120)
NOON = dt.datetime(2026, 3, 2, 12, tzinfo=dt.UTC)


@pytest.fixture
def blank() -> Iterator[PacketPages]:
    pages = begun()
    yield pages
    pages.shut()


def begun() -> PacketPages:
    pages = PacketPages("Packet", "foot", NOON)
    pages.add_page()
    pages.write_in(7)
    return pages


def test_signs_that_the_font_lacks_become_question_marks_and_are_counted(
    blank: PacketPages,
) -> None:
    assert blank.clean("Ž Ω Ж ✓ 検査 🧪") == "Ž Ω Ж ✓ ?? ?"
    assert blank.replaced == 3


def test_wrapped_lines_fit_their_column_and_lose_nothing_but_blanks(blank: PacketPages) -> None:
    @given(text=TEXTS, width=st.floats(4, 120))
    @settings(max_examples=60, deadline=None)
    def holds(text: str, width: float) -> None:
        lines = blank.wrap(text, width)

        assert all(blank.width(line) <= width for line in lines)
        assert "".join("".join(lines).split()) == "".join(blank.clean(text).split())

    holds()


@pytest.mark.parametrize("width", [3.0, 10.0, 30.0])
def test_what_is_cut_fits_and_says_so(width: float, blank: PacketPages) -> None:
    cut = blank.fit("a name that is far too long for the place it has", width)

    assert blank.width(cut) <= width
    assert cut.endswith("…")


def test_a_text_that_fits_is_not_cut(blank: PacketPages) -> None:
    assert blank.fit("short", 60) == "short"


def test_a_row_that_is_longer_than_a_page_runs_on_under_the_same_headings(
    blank: PacketPages,
) -> None:
    blank.rows_under(("one", "other"), (1, 9), [("A-1", "word " * 9_000)])

    assert blank.pages_count == 5
    assert TOP < blank.y < BOTTOM


def test_a_section_does_not_begin_at_the_foot_of_a_page(blank: PacketPages) -> None:
    blank.set_y(BOTTOM - 20)

    blank.section("Corrections")

    assert blank.page_no() == 2


def test_two_documents_of_the_same_words_are_the_same_bytes() -> None:
    made = []
    for _ in range(2):
        pages = begun()
        pages.contents(3)
        pages.section("One section")
        pages.paragraph("Ž Ω Ж ✓")
        made.append(bytes(pages.output()))

    assert made[0] == made[1]
