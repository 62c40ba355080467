"""Does a kind say how long its records are kept, and never less than the law's two years?"""

from __future__ import annotations

import pytest

from schedules.rulebook import read_book, shipped_book
from schedules.rules import LEAST_RETENTION
from tests.schedules.books import book_with, faults_of


def book_kept(retention: str) -> str:
    """A book of one kind, with its retention on line 3."""
    return book_with('each = "open-day"').replace(
        'name = "Bench"\n', f'name = "Bench"\nretention = {retention}\n'
    )


def test_a_kind_that_does_not_say_is_kept_two_years() -> None:
    """42 CFR 493.1105(a)(3) as in a state's retention table (check value A-08)."""
    book = read_book(book_with('each = "open-day"'))

    assert book.kinds["microscope"].retention == LEAST_RETENTION
    assert (LEAST_RETENTION.count, LEAST_RETENTION.in_months) == (24, True)
    assert {kind.retention for kind in shipped_book().kinds.values()} == {LEAST_RETENTION}


@pytest.mark.parametrize(
    ("text", "months"),
    [("P2Y", 24), ("P24M", 24), ("P30M", 30), ("P5Y", 60), ("P10Y", 120), ("P100Y", 1200)],
)
def test_years_and_months_are_read(text: str, months: int) -> None:
    """Five years: a state laboratory's records schedule (A-11); ten: 21 CFR 606.160 (A-10)."""
    kept = read_book(book_kept(f'"{text}"')).kinds["microscope"].retention

    assert (kept.count, kept.in_months, kept.text) == (months, True, text)


FORM = 'is not a retention; write whole years or months in quotes, as "P5Y" or "P30M"'
LEAST = 'is less than two years; records are kept 2 years at least (42 CFR 493.1105(a)(3)): "P2Y"'


@pytest.mark.parametrize(
    ("value", "fault"),
    [
        ('"P1Y"', f"'P1Y' {LEAST}"),
        ('"P23M"', f"'P23M' {LEAST}"),
        ('"P0Y"', f"'P0Y' {LEAST}"),
        ('"P800D"', f"'P800D' {FORM}"),
        ('"P2Y6M"', f"'P2Y6M' {FORM}"),
        ('"five years"', f"'five years' {FORM}"),
        ("5", "5 is not text; put it in double quotes"),
        ('"P101Y"', "'P101Y' is more than a hundred years; write \"P100Y\" or less"),
    ],
)
def test_what_is_no_retention_or_too_short_is_refused(value: str, fault: str) -> None:
    assert faults_of(book_kept(value)) == [f"rules.toml line 3, retention: {fault}"]


def test_a_misspelt_retention_is_told() -> None:
    text = book_kept('"P5Y"').replace("retention", "retension")

    assert faults_of(text) == [
        "rules.toml line 3: 'retension' is not a field of a kind; did you mean 'retention'?"
    ]
