"""Which texts and readings may stand in the record, by whatever door they come."""

from __future__ import annotations

from decimal import Decimal

import pytest

from fleet.domain.texts import Wrong, check_prose, check_reading, check_text, shown

NUMBER = "write digits with a decimal point, as 4.5 or -20"


@pytest.mark.parametrize("reading", ["0", "4.5", "-20", "+37.0", "007", "9" * 15, "0." + "1" * 15])
def test_a_plain_decimal_number_is_a_reading(reading: str) -> None:
    assert check_reading(reading) is None
    assert Decimal(reading).is_finite()


@pytest.mark.parametrize(
    ("reading", "shown"),
    [
        *((word, f"'{word}'") for word in ("", "1e3", "1E+2", "1_000", "NaN", "Infinity", "-inf")),
        *(
            (word, f"'{word}'")
            for word in ("4,5", "4.", ".5", "--4", "0x10", "4 5", " 4.5", "4.5 ")
        ),
        ("٤.٥", "'٤.٥'"),  # Arabic-Indic digits, which Python's Decimal and \d take
        ("４", "'４'"),  # a full-width digit
        ("4.5\n", r"'4.5\n'"),
        ("9" * 16, f"'{'9' * 16}'"),
        ("4\udcff", r"'4\udcff'"),
    ],
)
def test_anything_else_is_no_reading(reading: str, shown: str) -> None:
    assert check_reading(reading) == Wrong(f"{shown} is not a number", NUMBER)


@pytest.mark.parametrize("text", ["", "Robin Moss", "Ñandú 5 µm", "x" * 20, "1=2;'--", "\u200d"])
def test_plain_text_is_allowed(text: str) -> None:
    assert check_text(text, 20) is None
    assert check_prose(text, 20) is None


@pytest.mark.parametrize(
    ("text", "problem", "mend"),
    [
        ("x" * 21, f"'{'x' * 21}' has 21 characters", "shorten it to at most 20"),
        ("a\x00b", r"'a\x00b' holds the control character U+0000", "take it out; write plain text"),
        ("a\tb", r"'a\tb' holds the control character U+0009", "take it out; write plain text"),
        ("a\x1b[31m", r"'a\x1b[31m' holds the control character U+001B", None),
        ("a\rb", r"'a\rb' holds the control character U+000D", None),
        ("a\x85b", r"'a\x85b' holds the control character U+0085", None),
        ("a\u2028b", r"'a\u2028b' holds the control character U+2028", None),
        ("a\u202eb", r"'a\u202eb' holds the control character U+202E", None),
        ("a\udcffb", r"'a\udcffb' is not UTF-8", "write it in UTF-8"),
        ("\ud800", r"'\ud800' is not UTF-8", "write it in UTF-8"),
    ],
)
def test_what_is_no_plain_text_is_told(text: str, problem: str, mend: str | None) -> None:
    wrong = Wrong(problem, mend or "take it out; write plain text")

    assert check_text(text, 20) == check_prose(text, 20) == wrong


def test_only_prose_may_run_over_lines() -> None:
    assert check_text("a\nb", 20) == Wrong(
        r"'a\nb' holds the control character U+000A", "take it out; write plain text"
    )
    assert check_prose("a\nb", 3) is None
    assert check_prose("a\nb\nc", 3) == Wrong("'a b c' has 5 characters", "shorten it to at most 3")


def test_every_byte_that_is_not_utf_8_in_an_argument_is_refused() -> None:
    """PEP 383: such bytes reach a program as lone surrogates."""
    for byte in range(0x80, 0x100):
        argument = bytes([byte]).decode("utf-8", "surrogateescape")
        assert check_text(argument, 20) == Wrong(
            f"{shown(argument)} is not UTF-8", "write it in UTF-8"
        )


def test_a_value_is_shown_on_one_short_line() -> None:
    assert shown("a\nb\x07") == r"'a\nb\x07'"
    assert shown("y" * 80) == f"'{'y' * 59}…'"
