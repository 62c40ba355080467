"""Do marked days come back from their packed years as they went in?"""

from __future__ import annotations

import datetime as dt
from collections import Counter

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from schedules.dates import NEVER, day_of
from schedules.marks import DAYS_OF_YEAR, YEAR_BYTES, MarkedYears, year_of
from tests.outside import day

ROWS = 3
a_day = st.one_of(
    st.dates(dt.date(2023, 12, 28), dt.date(2025, 1, 4)),
    st.sampled_from([dt.date(2024, 2, 29), dt.date(2024, 12, 31), dt.date(2025, 12, 31)]),
).map(day_of)
marks = st.lists(st.tuples(st.integers(0, ROWS - 1), a_day, st.booleans()), max_size=30)


def packed(found: list[tuple[int, int, bool]]) -> MarkedYears:
    return MarkedYears.pack(
        np.array([row for row, _, _ in found], dtype=np.int64),
        np.array([on for _, on, _ in found], dtype=np.int32),
        np.array([is_done for _, _, is_done in found], dtype=np.bool_),
    )


@settings(deadline=None)
@given(found=marks, first_day=a_day, length=st.integers(1, 800), on=a_day)
def test_counts_of_days_come_back(
    found: list[tuple[int, int, bool]], first_day: int, length: int, on: int
) -> None:
    counted = Counter((row, when) for row, when, _ in found if when <= on)

    counts = packed(found).counts(0, ROWS, first_day, length, on)

    assert counts.tolist() == [
        [counted[row, first_day + place] for place in range(length)] for row in range(ROWS)
    ]


@settings(deadline=None)
@given(found=marks, first_row=st.integers(0, ROWS - 1), rows=st.integers(1, 2))
def test_counts_of_some_rows_are_those_of_all(
    found: list[tuple[int, int, bool]], first_row: int, rows: int
) -> None:
    years, first_day = packed(found), day_of(dt.date(2023, 12, 1))

    whole = years.counts(0, ROWS + 1, first_day, 800, first_day + 800)
    some = years.counts(first_row, rows, first_day, 800, first_day + 800)

    assert np.array_equal(some, whole[first_row : first_row + rows])


@settings(deadline=None)
@given(found=marks, on=a_day)
def test_the_latest_done_day_comes_back(found: list[tuple[int, int, bool]], on: int) -> None:
    latest = packed(found).last_done(ROWS, on)

    assert latest.tolist() == [
        max((when for of, when, done in found if of == row and done and when <= on), default=NEVER)
        for row in range(ROWS)
    ]


@settings(deadline=None)
@given(found=marks, first_row=st.integers(0, ROWS - 1), rows=st.integers(1, ROWS))
def test_all_done_days_come_back_in_order(
    found: list[tuple[int, int, bool]], first_row: int, rows: int
) -> None:
    row, when = packed(found).done_days(first_row, rows)

    own = sorted({
        (of - first_row, on)
        for of, on, done in found
        if done and first_row <= of < first_row + rows
    })  # fmt: skip
    assert list(zip(row.tolist(), when.tolist(), strict=True)) == own


def test_a_leap_year_has_366_places_and_a_common_year_none_for_its_last() -> None:
    ends = [day_of(dt.date(2024, 12, 31)), day_of(dt.date(2025, 12, 31))]
    years = packed([(0, ends[0], True), (0, ends[1], True)])

    bits = np.unpackbits(years.marked, axis=1)
    assert years.years.tolist() == [2024, 2025]
    assert years.marked.shape == (2, YEAR_BYTES)
    assert np.flatnonzero(bits[0]).tolist() == [DAYS_OF_YEAR - 1]
    assert np.flatnonzero(bits[1]).tolist() == [DAYS_OF_YEAR - 2]


def test_the_first_day_of_a_year_is_the_highest_bit_of_the_first_byte() -> None:
    years = packed(
        [(0, day_of(dt.date(2026, 1, 1)), False), (0, day_of(dt.date(2026, 1, 9)), True)]
    )

    assert years.marked[0, :2].tolist() == [0b1000_0000, 0b1000_0000]
    assert years.done[0, :2].tolist() == [0, 0b1000_0000]


def test_more_marks_than_a_byte_holds_are_counted_to_255() -> None:
    on = day_of(day("2026-03-02"))

    assert packed([(0, on, False)] * 255).counts(0, 1, on, 1, on).tolist() == [[255]]
    assert packed([(0, on, False)] * 257).counts(0, 1, on, 1, on).tolist() == [[255]]


def test_only_a_year_with_a_repeated_day_keeps_numbers() -> None:
    twice, once = day_of(day("2025-03-03")), day_of(day("2026-03-02"))

    years = packed([(0, twice, False), (0, twice, True), (0, once, True)])

    assert list(years.extra) == [0]
    assert years.counts(0, 1, twice, 1, once).tolist() == [[2]]
    assert years.counts(0, 1, once, 1, once).tolist() == [[1]]


def test_the_year_of_a_day_is_its_calendar_year() -> None:
    texts = ("1900-01-01", "1969-12-31", "1970-01-01", "2024-02-29", "2026-12-31", "2027-01-01")

    years = year_of(np.array([day_of(day(text)) for text in texts], dtype=np.int32))

    assert years.tolist() == [int(text[:4]) for text in texts]
