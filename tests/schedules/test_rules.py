"""Do intervals, ranges, versions and models say what design 4 and 7 promise?"""

from __future__ import annotations

import datetime as dt
from decimal import Decimal

import pytest

from schedules.errors import RuleError
from schedules.rules import Basis, Each, Interval, Kind, ReadingRange, Rule


def a_rule(task: str, title: str, **fields: object) -> Rule:
    """A weekly cell rule of a microscope, told apart by its title."""
    values: dict[str, object] = {"each": Each.WEEK, **fields}
    return Rule(kind="microscope", task=task, title=title, source="test", **values)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("text", "count", "in_months"),
    [
        ("P45D", 45, False),
        ("P2W", 14, False),
        ("P6M", 6, True),
        ("P1Y", 12, True),
        ("P100Y", 1200, True),
    ],
)
def test_interval_counts_whole_days_or_whole_months(text: str, count: int, in_months: bool) -> None:
    interval = Interval.parse(text)

    assert (interval.count, interval.in_months, interval.text) == (count, in_months, text)


def test_intervals_of_one_length_are_equal_however_they_are_written() -> None:
    assert Interval.parse("P1Y") == Interval.parse("P12M")
    assert Interval.parse("P2W") == Interval.parse("P14D")
    assert Interval.parse("P1M") != Interval.parse("P1D")


@pytest.mark.parametrize(
    "text", ["", "P", "P0D", "1Y", "P1Y6M", "PT1H", "P-1D", "P1.5M", "p1y", "P1Y ", "P12345D"]
)
def test_interval_refuses_all_but_one_component(text: str) -> None:
    with pytest.raises(RuleError) as refused:
        Interval.parse(text)

    assert str(refused.value) == (
        f"every: '{text}' is not an interval; write one component, as P45D, P2W, P6M or P1Y"
    )


@pytest.mark.parametrize(
    ("low", "high", "reading", "holds"),
    [
        ("2.0", "8.0", "2.0", True),
        ("2.0", "8.0", "1.99", False),
        (None, "-15", "-15.0", True),
        (None, "-15", "-14.9", False),
        ("10", None, "1000", True),
        ("10", None, "9.9", False),
    ],
)
def test_both_ends_of_a_range_lie_inside_and_a_missing_end_is_open(
    low: str | None, high: str | None, reading: str, holds: bool
) -> None:
    limits = ReadingRange(low and Decimal(low), high and Decimal(high), "C")  # type: ignore[arg-type]

    assert limits.holds(Decimal(reading)) is holds


def test_basis_follows_from_each_every_and_anchor() -> None:
    yearly = Interval.parse("P1Y")

    assert a_rule("optics", "cell").basis is Basis.CELL
    assert a_rule("service", "last", each=None, every=yearly).basis is Basis.ANCHORED
    fixed = a_rule("service", "1 March", each=None, every=yearly, anchor_on=dt.date(2026, 3, 1))
    assert fixed.basis is Basis.FIXED


def test_a_version_speaks_on_its_first_and_its_last_day() -> None:
    rule = a_rule("optics", "2026", from_on=dt.date(2026, 1, 1), until_on=dt.date(2026, 12, 31))

    days = [dt.date(2025, 12, 31), dt.date(2026, 1, 1), dt.date(2026, 12, 31), dt.date(2027, 1, 1)]
    assert [rule.speaks_on(day) for day in days] == [False, True, True, False]


def test_a_models_own_version_wins_and_later_versions_come_first() -> None:
    kind = Kind(
        "microscope",
        "Bench microscope",
        (
            a_rule("optics", "for all"),
            a_rule("optics", "for all from 2026", from_on=dt.date(2026, 1, 1)),
            a_rule("optics", "for A1", models=("A1",)),
            a_rule("stand-check", "for B2 only", models=("B2",)),
        ),
    )

    def titles(model: str) -> dict[str, list[str]]:
        return {task: [r.title for r in found] for task, found in kind.tasks(model).items()}

    assert titles("A1") == {"optics": ["for A1", "for all from 2026", "for all"]}
    assert titles("B2") == {
        "optics": ["for all from 2026", "for all"],
        "stand-check": ["for B2 only"],
    }
