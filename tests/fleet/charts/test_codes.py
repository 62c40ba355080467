"""Is a code that was read one of ours, and is a wrong one refused?"""

from __future__ import annotations

import pytest

from fleet.charts.codes import CHANCE, Code, code_text, read_code, symbol

DIGITS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"


@pytest.mark.parametrize("page", range(1, 13))
def test_a_code_reads_back(page: int) -> None:
    text = code_text("1", "4K7Q09ZX", page)

    assert len(text) == 13
    assert text[9] == "123456789ABC"[page - 1]
    assert read_code(text) == Code("1", "4K7Q09ZX", page)


def test_the_check_is_the_hash_of_the_ten_characters() -> None:
    # printf 14K7Q09ZX1 | sha256sum, its remainder by 46,656 in base 36 worked out with bc.
    assert code_text("1", "4K7Q09ZX", 1) == "14K7Q09ZX1EDZ"


def test_no_code_with_one_wrong_character_passes() -> None:
    text = code_text("1", "4K7Q09ZX", 2)
    wrong = [
        text[:place] + digit + text[place + 1 :]
        for place in range(len(text))
        for digit in DIGITS
        if digit != text[place]
    ]

    assert len(wrong) == 13 * 35
    assert [read_code(one) for one in wrong] == [None] * len(wrong)


def test_wrong_characters_pass_once_in_46_656() -> None:
    assert pytest.approx(1 / 46_656) == CHANCE


@pytest.mark.parametrize("text", ["", "14K7Q09ZX1ED", "14K7Q09ZX1EDZ0", "14k7q09zx1edz", "1" * 13])
def test_what_is_none_of_our_codes_is_refused(text: str) -> None:
    assert read_code(text) is None


def test_the_symbol_is_of_version_one_and_always_the_same() -> None:
    modules = symbol("14K7Q09ZX1EDZ")

    assert [len(row) for row in modules] == [21] * 21
    assert modules == symbol("14K7Q09ZX1EDZ")
    assert modules != symbol("14K7Q09ZX25DT")
