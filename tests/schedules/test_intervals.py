"""Are multiples of an interval counted from the anchor, as dateutil and RFC 5545 count them?"""

from __future__ import annotations

import datetime as dt

import numpy as np
import pytest
from dateutil.relativedelta import relativedelta
from dateutil.rrule import MONTHLY, YEARLY, rrule
from hypothesis import given, settings
from hypothesis import strategies as st

from schedules.dates import NEVER, date_of, day_of
from schedules.intervals import Folded, Terms, first_reaching, fold, reach, step
from schedules.rules import First, Rule
from tests.outside import day, rows
from tests.schedules.one_unit import a_fixed_rule, a_rule, days

EVERIES = ("P10D", "P1W", "P2W", "P45D", "P1M", "P3M", "P6M", "P18M", "P1Y", "P2Y")


def reached(every: str, base: dt.date, steps: int) -> dt.date:
    return date_of(reach(a_rule(every), day_of(base), steps))


@pytest.mark.parametrize("line", rows("anchored_vs_chained"), ids=lambda line: "-".join(
    (line["anchor_date"], line["occurrence_number"])
))  # fmt: skip
def test_multiples_are_counted_from_the_anchor(line: dict[str, str]) -> None:
    """By dateutil and arithmetic (B-03)."""
    every, turn = f"P{line['interval_months']}M", int(line["occurrence_number"])
    counted = reached(every, day(line["anchor_date"]), turn)

    assert counted == day(line["expected_anchored"])
    if line["agree"] == "differs":
        assert counted != day(line["expected_if_chained_from_previous_due"])


@pytest.mark.parametrize("line", rows("leap_day_anniversaries"), ids=lambda line: line[
    "years_later"
])  # fmt: skip
def test_a_year_after_29_february_is_28_february(line: dict[str, str]) -> None:
    """By dateutil (B-04); the convention of 1 March and RFC 5545's skipping are not ours."""
    counted = reached("P1Y", day(line["start_date"]), int(line["years_later"]))

    assert counted == day(line["expected_february_28_convention"])
    of_rfc = line["expected_rfc5545_yearly_rule_blank_means_skipped"]
    assert not of_rfc or counted == day(of_rfc)


def test_rfc_5545_skips_the_common_years_that_we_keep() -> None:
    """RFC 5545 3.3.10 (B-07): FREQ=YEARLY from 29 February falls on leap years only."""
    start = dt.datetime(2024, 2, 29)  # noqa: DTZ001 - rrule works on naive instants
    of_rfc = [found.date() for found in rrule(YEARLY, dtstart=start, count=3)]

    assert of_rfc == list(days("2024-02-29", "2028-02-29", "2032-02-29"))
    ours = [reached("P1Y", start.date(), turn) for turn in range(9)]
    assert len(ours) == 9
    assert [on for on in ours if on.day == 29] == of_rfc


def test_rfc_5545_skips_the_short_months_that_we_keep() -> None:
    """RFC 5545 3.3.10 (B-08): FREQ=MONTHLY from the 31st falls on long months only."""
    start = dt.datetime(2026, 1, 31)  # noqa: DTZ001 - rrule works on naive instants
    of_rfc = [found.date() for found in rrule(MONTHLY, dtstart=start, count=5)]

    assert of_rfc == list(
        days("2026-01-31", "2026-03-31", "2026-05-31", "2026-07-31", "2026-08-31")
    )
    assert [reached("P1M", start.date(), turn) for turn in range(5)] == list(
        days("2026-01-31", "2026-02-28", "2026-03-31", "2026-04-30", "2026-05-31")
    )


def after(base: dt.date, every: str, turns: int) -> dt.date:
    """The same date by dateutil, from the base."""
    count, letter = int(every[1:-1]) * turns, every[-1]
    names = {"D": "days", "W": "weeks", "M": "months", "Y": "years"}
    return base + relativedelta(**{names[letter]: count})  # type: ignore[arg-type]


@settings(deadline=None)
@given(
    base=st.dates(dt.date(1990, 1, 1), dt.date(2040, 12, 31)),
    every=st.sampled_from(EVERIES),
    turns=st.integers(0, 40),
)
def test_every_multiple_agrees_with_dateutil(base: dt.date, every: str, turns: int) -> None:
    assert reached(every, base, turns) == after(base, every, turns)


@settings(deadline=None)
@given(
    anchor=st.dates(dt.date(2020, 1, 1), dt.date(2026, 12, 31)),
    every=st.sampled_from(EVERIES),
    since=st.dates(dt.date(2019, 1, 1), dt.date(2028, 12, 31)),
)
def test_the_first_occurrence_from_a_day_on_is_found(
    anchor: dt.date, every: str, since: dt.date
) -> None:
    terms = Terms.of([a_fixed_rule(anchor.isoformat(), every)])

    (turn,) = first_reaching(terms, np.array([day_of(since)], dtype=np.int32)).tolist()

    assert after(anchor, every, turn) >= since
    assert turn == 0 or after(anchor, every, turn - 1) < since


def test_rules_of_days_and_of_months_are_counted_side_by_side() -> None:
    rules = [a_rule("P45D"), a_rule("P1M"), a_rule("P2W"), a_rule("P1Y")]
    base = np.full(4, day_of(day("2024-01-31")), dtype=np.int32)
    found = step(Terms.of(rules), base, np.array([2, 1, 3, 1], dtype=np.int32))

    assert [date_of(n) for n in found.tolist()] == list(
        days("2024-04-30", "2024-02-29", "2024-03-13", "2025-01-31")
    )


# --- steps 1 and 2 of design 4.3


def folded(
    rule: Rule, done: tuple[dt.date, ...], on: str = "2027-12-31", record_from: str = "2025-03-17"
) -> tuple[str, int, int]:
    """Base, kept and steps of a unit in service since 2025-03-17."""
    found = fold(
        rule,
        day_of(day("2025-03-17")),
        day_of(day(record_from)),
        [day_of(when) for when in done],
        day_of(day(on)),
    )
    return date_of(found.base).isoformat(), found.kept, found.steps


@pytest.mark.parametrize(("done", "expected"), [
    ((), ("2025-03-17", 0, 1)),
    (("2025-02-10",), ("2025-02-10", 0, 1)),
    (("2024-02-10", "2025-03-16"), ("2025-03-16", 0, 1)),
    (("2025-03-17",), ("2025-03-17", 0, 1)),
    (("2025-02-10", "2026-01-05"), ("2026-01-05", 0, 1)),
    (("2026-01-05", "2028-01-05"), ("2026-01-05", 0, 1)),
])  # fmt: skip
def test_the_last_date_done_is_the_anchor(
    done: tuple[str, ...], expected: tuple[str, int, int]
) -> None:
    assert folded(a_rule("P1Y"), days(*done)) == expected


def test_a_kept_anchor_counts_on_from_the_base() -> None:
    rule = a_rule("P1M", keep_anchor=5)
    done = days("2025-03-31", "2025-04-28", "2025-06-05", "2025-06-27")

    assert folded(rule, done[:1]) == ("2025-03-31", 0, 1)
    assert folded(rule, done[:2]) == ("2025-03-31", 1, 2)
    assert folded(rule, done[:3]) == ("2025-03-31", 2, 3)
    assert folded(rule, done) == ("2025-03-31", 3, 4)
    assert reached("P1M", day("2025-03-31"), 4) == day("2025-07-31")


def test_a_day_beyond_the_kept_span_becomes_the_anchor_on_either_side() -> None:
    rule = a_rule("P1Y", keep_anchor=30)

    assert folded(rule, days("2026-04-16")) == ("2025-03-17", 1, 2)
    assert folded(rule, days("2026-04-17")) == ("2026-04-17", 0, 1)
    assert folded(rule, days("2026-02-15")) == ("2025-03-17", 1, 2)
    assert folded(rule, days("2026-02-14")) == ("2026-02-14", 0, 1)


def test_at_start_the_first_date_kept_leaves_k_at_0() -> None:
    rule = a_rule("P1Y", keep_anchor=10, first=First.AT_START)

    assert folded(rule, ()) == ("2025-03-17", 0, 0)
    assert folded(rule, days("2025-03-17")) == ("2025-03-17", 0, 1)
    assert folded(rule, days("2025-03-20")) == ("2025-03-17", 0, 1)
    assert folded(rule, days("2025-03-20", "2026-03-10")) == ("2025-03-17", 1, 2)
    assert folded(rule, days("2025-04-20")) == ("2025-04-20", 0, 1)


def test_at_start_what_was_done_before_service_is_no_anchor() -> None:
    rule = a_rule("P1Y", first=First.AT_START)

    assert folded(rule, days("2025-03-10")) == ("2025-03-17", 0, 0)
    assert folded(rule, days("2025-03-10", "2025-03-20")) == ("2025-03-20", 0, 1)


def test_a_record_that_begins_late_stands_for_the_first_date_unless_anything_was_done() -> None:
    late = "2026-01-01"
    rule = a_rule("P1Y")

    assert folded(rule, (), record_from=late) == ("2026-01-01", 0, 0)
    assert folded(rule, days("2025-02-10"), record_from=late) == ("2025-02-10", 0, 1)
    assert folded(rule, days("2025-05-05"), record_from=late) == ("2025-05-05", 0, 1)


def test_dates_after_the_day_asked_and_before_service_are_no_last_date() -> None:
    done = [day_of(on) for on in days("2025-02-10", "2026-01-05", "2026-03-01")]
    start = day_of(day("2025-03-17"))

    def last(on: str) -> Folded:
        return fold(a_rule("P1Y"), start, start, done, day_of(day(on)))

    assert last("2026-01-04").last == NEVER
    assert last("2026-01-05").last == day_of(day("2026-01-05"))
    assert last("2026-02-28").last == day_of(day("2026-01-05"))
    assert last("2026-03-01").last == day_of(day("2026-03-01"))
