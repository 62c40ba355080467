"""A procedure card is one page a bench worker can trust: all of it is there, and can be read.

The PDFs are read back by PDFium (pypdfium2), which shares no code with what wrote them.
"""

from __future__ import annotations

import ctypes
import datetime as dt
from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from functools import cache
from itertools import product
from typing import Literal

import numpy as np
import pypdfium2
import pytest

from fleet.charts.card_blocks import LARGEST, SMALLEST
from fleet.charts.cards import cards_pdf
from fleet.errors import NotFound
from fleet.services.charts.card_words import card_words
from fleet.services.charts.cards import Card, CardDuty, card_facts
from tests.fakes import FakeRecord

Sheet = Literal["letter", "a4"]
ON = dt.date(2026, 11, 25)
MADE_AT = dt.datetime(2026, 11, 26, 3, 12, tzinfo=dt.UTC)
SIZES: dict[Sheet, tuple[float, float]] = {"letter": (612, 792), "a4": (595.28, 841.89)}
"""Points: ANSI/ASME Y14.1 letter, ISO 216 A4."""
EVERYWHERE: list[tuple[Sheet, str]] = list(product(("letter", "a4"), ("en", "es")))
_TEN_MM = 10 / 25.4 * 72

DUTY = CardDuty(
    task="wipe",
    title="Wipe the plates",
    often="each open day",
    reading="",
    only_models=(),
    not_models=(),
    is_vendor=False,
    stops_use=False,
    cautions=("Hands off the plates until both lamps are dark.",),
    source="common practice, no source",
)
CARD = Card(
    kind="press", name="Cold press", on=ON, language="en", book_sha256="ab" * 32, duties=(DUTY,)
)


@cache
def shipped(language: str) -> tuple[Card, ...]:
    return tuple(card_facts(FakeRecord(), [], language, ON))


@cache
def drawn(cards: tuple[Card, ...], paper: Sheet = "letter", language: str = "en") -> bytes:
    return cards_pdf(cards, paper, MADE_AT, language)


@cache
def pages(cards: tuple[Card, ...], paper: Sheet = "letter", language: str = "en") -> list[str]:
    """The text of every page, on one line each."""
    with pypdfium2.PdfDocument(drawn(cards, paper, language)) as document:
        return [" ".join(page.get_textpage().get_text_bounded().split()) for page in document]


def letters(content: bytes) -> Iterator[tuple[float, tuple[float, float, float, float]]]:
    """Size in points, and left, bottom, right and top in points, of every letter of a PDF."""
    with pypdfium2.PdfDocument(content) as document:
        for page in document:
            text = page.get_textpage()
            for place in range(text.count_chars()):
                if chr(pypdfium2.raw.FPDFText_GetUnicode(text, place)).strip():
                    size = pypdfium2.raw.FPDFText_GetFontSize(text, place)
                    yield size, text.get_charbox(place)


def words_of(card: Card, language: str) -> Counter[str]:
    """Every word that a card has to say of its duties and of what comes first."""
    words = card_words(language)
    said = [card.name, words.card, words.marks, words.wrong, words.wrong_first, words.defers]
    for duty in card.duties:
        said += [duty.title, duty.source, duty.reading, *duty.cautions, *duty.often.split("; ")]
        said += [words.caution] * bool(duty.cautions)
        said += [*duty.only_models, *duty.not_models]
        said += [words.vendor] * duty.is_vendor + [words.stops_use] * duty.stops_use
    return Counter(word.strip(",.:") for text in said for word in text.split())


@pytest.mark.parametrize(("paper", "language"), EVERYWHERE)
def test_every_shipped_kind_has_one_page_with_all_its_words(paper: Sheet, language: str) -> None:
    told = pages(shipped(language), paper, language)

    assert len(told) == len(shipped(language))
    for card, text in zip(shipped(language), told, strict=True):
        there = Counter(word.strip(",.:") for word in text.split())
        assert words_of(card, language) - there == Counter(), card.kind
        assert "…" not in text


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_letters_are_seven_points_or_more_and_inside_the_margins(paper: Sheet) -> None:
    width, height = SIZES[paper]
    found = list(letters(drawn(shipped("es"), paper, "es")))

    assert min(size for size, _ in found) >= SMALLEST
    boxes = np.array([box for _, box in found])
    assert boxes[:, :2].min() >= _TEN_MM
    assert boxes[:, 2].max() <= width - _TEN_MM
    assert boxes[:, 3].max() <= height - _TEN_MM


@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_the_paper_stands_upright_in_its_size(paper: Sheet) -> None:
    with pypdfium2.PdfDocument(drawn((CARD,), paper)) as document:
        assert document[0].get_size() == pytest.approx(SIZES[paper], abs=0.1)


def test_the_foot_says_what_to_do_first_what_comes_before_and_where_it_is_from() -> None:
    (text,) = pages((CARD,))

    assert text.endswith(
        "Broken, or a reading out of range? Do not use it; tell the site lead at once. The caution"
        " beside the task says what to do first. The manufacturer's manual, the site's safety"
        " officer and local rules come first: where they differ from this card, follow them."
        " Rule book abababababab, in force on 2026-11-25 · Printed 2026-11-26 03:12 UTC"
        " page 1 of 1"
    )


def test_the_head_says_in_one_line_what_is_written_on_the_chart() -> None:
    (text,) = pages((CARD,))

    assert text.startswith(
        "Procedure card Cold press On the chart ✓ or the reading when done · U when the unit was"
        " not in use that day · your initials · leave no open cell empty Wipe the plates"
    )


def box_of(content: bytes, words: str) -> tuple[float, float, float, float]:
    with pypdfium2.PdfDocument(content) as document:
        text = document[0].get_textpage()
        found = text.search(words, match_case=True).get_next()
        assert found is not None
        left, bottom, right, top = text.get_charbox(found[0])
        return left, bottom, right, top


def test_cautions_stand_before_the_facts_of_their_task_and_as_high() -> None:
    content = drawn((CARD,))
    caution, often = box_of(content, "CAUTION"), box_of(content, "How often")

    assert caution[0] < often[0]
    assert caution[3] == pytest.approx(often[3], abs=LARGEST)


def colours(content: bytes) -> set[tuple[int, ...]]:
    """What anything is filled with: red, green, blue."""
    found = set()
    with pypdfium2.PdfDocument(content) as document:
        for one in document[0].get_objects():
            parts = [ctypes.c_uint() for _ in range(4)]
            assert pypdfium2.raw.FPDFPageObj_GetFillColor(one, *parts)
            found.add(tuple(part.value for part in parts[:3]))
    return found


def test_the_sign_before_cautions_is_black_and_nothing_has_a_colour() -> None:
    content = drawn((CARD,))
    with pypdfium2.PdfDocument(content) as document:
        picture = document[0].render(scale=2).to_numpy()
    left, _, _, top = box_of(content, "CAUTION")
    row, column = int(2 * (792 - top)), int(2 * (left - 8))

    assert colours(content) == {(0, 0, 0), (255, 255, 255)}
    assert np.ptp(picture, axis=2).max() == 0
    assert picture[row, column].max() == 0


def test_a_duty_without_cautions_has_no_frame_of_cautions() -> None:
    (text,) = pages((replace(CARD, duties=(replace(DUTY, cautions=()),)),))

    assert "CAUTION" not in text
    assert "How often each open day Source: common practice, no source" in text


def test_what_a_duty_asks_is_told_beside_it() -> None:
    duty = replace(
        DUTY,
        reading="2.0 to 8.0 C",
        only_models=("Thrush 2", "Thrush 3"),
        is_vendor=True,
        stops_use=True,
        cautions=(),
    )
    (text,) = pages((replace(CARD, duties=(duty, replace(duty, not_models=("Wren 1",)))),))

    assert (
        "each open day Only for Thrush 2, Thrush 3. Reading: 2.0 to 8.0 C"
        " If it fails, the unit is not used until it passes. The vendor does it. Source" in text
    )
    assert "Not for Wren 1: another rule holds there." in text


def test_a_kind_of_which_nothing_is_asked_says_so() -> None:
    (text,) = pages((replace(CARD, duties=()),))

    assert "The rule book asks nothing of this kind on this day." in text


def numbered(count: int, cautions: int) -> Card:
    """Duties with cautions that all differ."""
    duties = (
        replace(
            DUTY,
            title=f"Task t{n}",
            cautions=tuple(
                f"Caution c{n}x{m}: keep hands, sleeves and hair away from what turns, and wait."
                for m in range(cautions)
            ),
        )
        for n in range(count)
    )
    return replace(CARD, duties=tuple(duties))


def test_letters_shrink_until_a_full_card_fits_one_page() -> None:
    cards = [numbered(count, 4) for count in (1, 4, 6)]
    caution = [size_of(card, "c0x0") for card in cards]

    assert [len(pages((card,))) for card in cards] == [1, 1, 1]
    assert caution == sorted(caution, reverse=True)
    assert caution[0] == LARGEST
    assert LARGEST > caution[2] >= SMALLEST


def size_of(card: Card, words: str) -> float:
    with pypdfium2.PdfDocument(drawn((card,))) as document:
        text = document[0].get_textpage()
        found = text.search(words).get_next()
        assert found is not None
        return float(pypdfium2.raw.FPDFText_GetFontSize(text, found[0]))


def test_a_card_that_is_too_long_goes_on_and_breaks_no_duty() -> None:
    first, second = pages((numbered(12, 4),))

    assert (first[-11:], second[-11:]) == ("page 1 of 2", "page 2 of 2")
    assert second.startswith("Procedure card Cold press On the chart")
    for n in range(12):
        own = [f"Task t{n} ", *(f"c{n}x{m}:" for m in range(4))]
        assert [all(word in page for word in own) for page in (first, second)].count(True) == 1


@pytest.mark.parametrize("count", [6, 8, 12])
def test_full_cards_have_no_letters_below_seven_points_either(count: int) -> None:
    assert min(size for size, _ in letters(drawn((numbered(count, 4),)))) >= SMALLEST


def test_a_duty_longer_than_a_page_is_broken_between_lines_and_loses_none() -> None:
    told = pages((numbered(1, 90),))
    text = " ".join(told)

    assert len(told) == 2
    assert "Task t0 (continued)" in told[1]
    assert Counter(text.split())["wait."] == 90
    assert all(f"c0x{m}:" in text for m in range(90))


def test_the_pages_of_each_card_are_counted_apart() -> None:
    told = pages((numbered(12, 4), CARD))

    assert [text[-11:] for text in told] == ["page 1 of 2", "page 2 of 2", "page 1 of 1"]


def test_the_same_cards_are_the_same_bytes() -> None:
    first, second = (cards_pdf((CARD,), "a4", MADE_AT, "es") for _ in range(2))

    assert first == second


def test_a_long_name_and_letters_that_the_font_lacks_still_fit() -> None:
    name = "Very " * 30 + "cold press 🧪"
    (text,) = pages((replace(CARD, name=name),))
    right = max(box[2] for _, box in letters(drawn((replace(CARD, name=name),))))

    assert "🧪" not in text
    assert right <= SIZES["letter"][0] - _TEN_MM


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(NotFound) as refused:
        drawn((CARD,), "a4", "fr")

    assert str(refused.value) == "no language for cards 'fr'; they are en and es"
