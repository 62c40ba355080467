"""Labels keep off each other, letters are no wider than thought, colours can be read on."""

from __future__ import annotations

from importlib import resources

import pytest
from PIL import ImageFont

from fleet.pictures.columns import cut, padded
from fleet.pictures.drawing import POINT, Point, Rect
from fleet.pictures.labels import Room
from fleet.pictures.letters import fit, width
from fleet.pictures.palette import OKABE_ITO, ink_on
from fleet.pictures.projection import scale_miles

FRAME = Rect(0, 0, 100, 100)
TEXTS = (
    "Reed County Regional Laboratory",
    "11–12 Jan · T1 · 5 visits, 6 services",
    "WAVE & MOSS @ 100%",
    "illicit filling",
    "Ñandú Ærø Žilina",
)


def test_labels_round_one_place_do_not_cover_each_other_while_there_is_room() -> None:
    room = Room(FRAME)
    taken = [room.find(Point(50, 50), 10, 3, (1.4, 2.6, 4.2, 6, 8)) for _ in range(6)]
    found = [place for place in taken if place is not None]
    assert len(found) == 6
    for turn, one in enumerate(found):
        for other in found[turn + 1 :]:
            is_apart = one.right <= other.left or other.right <= one.left
            assert is_apart or one.bottom <= other.top or other.bottom <= one.top


def test_a_label_that_finds_no_room_is_left_out_unless_it_must_stand() -> None:
    room = Room(FRAME)
    room.take(FRAME)
    assert room.find(Point(50, 50), 10, 3, (1.0,)) is None
    assert room.insist(Point(50, 50), 10, 3, (1.0,)).width == pytest.approx(10)


def test_a_label_stays_within_its_frame_and_rather_off_a_line() -> None:
    room = Room(FRAME)
    room.cross([Point(0, 10), Point(99, 10)])
    place = room.find(Point(98, 10), 20, 3, (1.0,))
    assert place is not None
    assert place.right <= 100
    assert place.top > 10 or place.bottom < 10


@pytest.mark.parametrize("text", TEXTS)
@pytest.mark.parametrize("is_bold", [False, True])
def test_no_text_is_wider_than_it_is_taken_for(text: str, is_bold: bool) -> None:
    """Measured by FreeType (Pillow) in the shipped condensed font, which is 0.9 of the full one."""
    name = "DejaVuSansCondensed-Bold.ttf" if is_bold else "DejaVuSansCondensed.ttf"
    path = resources.files("fleet.files").joinpath("fonts", name)
    font = ImageFont.truetype(str(path), 100)
    measured = font.getlength(text) / 100 / 0.9 * 8 * POINT
    assert measured <= width(text, 8, is_bold=is_bold) <= 1.35 * measured


def test_a_text_is_cut_to_its_room() -> None:
    assert fit("short", 100, 8) == "short"
    cut_text = fit("Reed County Regional Laboratory", 20, 8)
    assert cut_text.endswith("…")
    assert width(cut_text, 8) <= 20
    assert (cut("手手手", 5), padded("é", 3), cut("a\tb", 9)) == ("手手…", "é  ", "a?b")


@pytest.mark.parametrize("colour", OKABE_ITO)
def test_letters_on_every_colour_reach_a_contrast_of_4_5(colour: str) -> None:
    """WCAG 2.2, success criterion 1.4.3, with its definitions of contrast ratio and luminance."""

    def luminance(text: str) -> float:
        parts = [int(text[n : n + 2], 16) / 255 for n in (1, 3, 5)]
        red, green, blue = (
            part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
        )
        return 0.2126 * red + 0.7152 * green + 0.0722 * blue

    low, high = sorted((luminance(colour), luminance(ink_on(colour))))
    assert (high + 0.05) / (low + 0.05) >= 4.5


@pytest.mark.parametrize(
    ("mile", "miles"), [(0.4, 100), (0.1, 500), (1.0, 50), (60.0, 1), (0.21, 200)]
)
def test_a_scale_bar_is_a_round_number_of_miles_that_fits(mile: float, miles: int) -> None:
    assert scale_miles(mile, 52) == miles
