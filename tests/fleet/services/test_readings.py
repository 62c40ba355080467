"""Does a reading out of its limits open a corrective action, once?

42 CFR 493.1282(b)(1)(i), (b)(3) (read in a reprint): a corrective action is documented where
equipment performs outside its operating parameters or storage criteria are not met.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from fleet.domain.records import Mark
from fleet.services.mark import mark, strike
from fleet.services.readings import limits_words
from schedules.rules import ReadingRange
from tests.fakes import FakeRecord
from tests.fleet.services.action_fleet import BENCH, HOLIDAYS, WEDNESDAY, entry, fill

# Each reading, whether it is out, and why. 2 to 8 C: CDC vaccine storage and handling toolkit
# (January 2020), in summary (read in a reprint). That both ends are inside is design 7.
READINGS = [
    ("1.9", True, "a tenth below the low end"),
    ("1.9999999999", True, "below by less than a float of 8 digits tells"),
    ("2.0", False, "the low end is inside"),
    ("2", False, "the same number without its decimal"),
    ("+2.00", False, "the same number with a sign and zeros"),
    ("5", False, "the middle"),
    ("8.0", False, "the high end is inside"),
    ("8.000000000000001", True, "above by less than a float tells: decimals are compared"),
    ("8.1", True, "a tenth above the high end"),
    ("-4", True, "below zero"),
    ("", False, "no number was read"),
]


@pytest.fixture
def record() -> FakeRecord:
    """A record of three units without entries."""
    made = FakeRecord()
    fill(made)
    return made


@pytest.mark.parametrize(("reading", "is_out", "why"), READINGS, ids=[why for *_, why in READINGS])
def test_a_reading_is_out_or_in(record: FakeRecord, reading: str, is_out: bool, why: str) -> None:
    mark(record, HOLIDAYS, entry("R-1 temperature", 24, reading), anyway=False, stamp=BENCH)

    found = [(a.number, a.entry, a.problem) for a in record.register().actions.values()]

    problem = f"Read the temperature: read {reading} C, allowed 2.0 to 8.0 C"
    one = ("R-1/2026-11-24/1", "R-1/temperature/2026-11-24/1", problem)
    assert found == ([one] if is_out else [])


@pytest.mark.parametrize(
    ("low", "high", "words", "outside", "inside"),
    [
        ("2.0", None, "at least 2.0 C", "1.9", "99"),
        (None, "-15.0", "at most -15.0 C", "-14.9", "-99"),
        ("2.0", "8.0", "2.0 to 8.0 C", "8.1", "2.0"),
    ],
)
def test_an_open_end_holds_everything_beyond_it(
    low: str | None, high: str | None, words: str, outside: str, inside: str
) -> None:
    limits = ReadingRange(low and Decimal(low), high and Decimal(high), "C")  # type: ignore[arg-type]

    assert limits_words(limits) == words
    assert (limits.holds(Decimal(outside)), limits.holds(Decimal(inside))) == (False, True)


@pytest.mark.parametrize(
    ("day", "reading", "is_out"),
    [
        (13, "100.5", False),
        (13, "101.1", True),
        (16, "100.5", True),
        (16, "100.1", False),
        (16, "100.100000000000001", True),
    ],
)
def test_the_limits_are_those_of_the_version_in_force_on_the_day_of_the_entry(
    record: FakeRecord, day: int, reading: str, is_out: bool
) -> None:
    """Until the 15th 99 to 101 g, from the 16th 99.9 to 100.1 g."""
    mark(record, HOLIDAYS, entry("B-1 check-weight", day, reading), anyway=False, stamp=BENCH)

    assert bool(record.register().actions) is is_out


def test_the_same_key_again_opens_nothing(record: FakeRecord) -> None:
    hot = entry("R-1 temperature", 24, "8.1", key="bench-7")
    mark(record, HOLIDAYS, hot, anyway=False, stamp=BENCH)
    lines = len(record.changes)

    mark(record, HOLIDAYS, hot, anyway=False, stamp=BENCH)

    assert len(record.changes) == lines


def test_a_correction_into_the_range_leaves_the_action_open(record: FakeRecord) -> None:
    stored, _ = mark(
        record, HOLIDAYS, entry("R-1 temperature", 24, "8.1"), anyway=False, stamp=BENCH
    )

    strike(record, HOLIDAYS, stored.entry.key, "misread", Mark.DONE, reading="4.1", stamp=BENCH)

    (action,) = record.register().actions.values()
    assert (action.entry, action.closed_on) == (stored.entry.key, None)


def test_a_correction_that_is_out_of_range_too_is_the_same_problem(record: FakeRecord) -> None:
    stored, _ = mark(
        record, HOLIDAYS, entry("R-1 temperature", 24, "8.1"), anyway=False, stamp=BENCH
    )

    strike(record, HOLIDAYS, stored.entry.key, "misread", Mark.DONE, reading="9.1", stamp=BENCH)

    assert list(record.register().actions) == [("R-1/2026-11-24/1",)]


def test_a_correction_out_of_the_range_opens_what_the_first_reading_did_not(
    record: FakeRecord,
) -> None:
    stored, _ = mark(
        record, HOLIDAYS, entry("R-1 temperature", 24, "7.1"), anyway=False, stamp=BENCH
    )

    new = strike(
        record, HOLIDAYS, stored.entry.key, "misread", Mark.DONE, reading="9.1", stamp=BENCH
    )

    assert [a.entry for a in record.register().actions.values()] == [new.entry.key]


def test_a_reading_written_ahead_of_its_day_opens_an_action_of_today(record: FakeRecord) -> None:
    mark(record, HOLIDAYS, entry("R-1 temperature", 30, "8.1"), anyway=True, stamp=BENCH)

    (action,) = record.register().actions.values()
    assert (action.opened_on, action.entry) == (WEDNESDAY, "R-1/temperature/2026-11-30/1")
