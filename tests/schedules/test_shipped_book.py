"""Does the shipped book agree with the laws and guides it names, and warn where work can hurt?

Each check names its source; what has none is common practice and is not tested against figures.
"""

from __future__ import annotations

import datetime as dt
import re
import tomllib
from decimal import Decimal

import pytest
from dateutil.relativedelta import relativedelta

from schedules.rulebook import read_book, shipped_book
from schedules.rules import Basis, DueAfter, First, Roll, Rule

BOOK = shipped_book()
RULES = [rule for kind in BOOK.kinds.values() for rule in kind.rules]
NO_SOURCE = "common practice, no source"
DEFER = "The manufacturer's manual, the site's safety officer and local rules come first."


def named(rule: Rule) -> str:
    return f"{rule.kind}/{rule.task}"


def the_rule(name: str) -> Rule:
    """The rule of that kind and task that is for every model, or the only one."""
    return sorted((r for r in RULES if named(r) == name), key=lambda r: len(r.models))[0]


def next_nominal(rule: Rule, done_on: dt.date) -> dt.date:
    """Done date plus interval, by dateutil."""
    assert rule.every is not None
    count = rule.every.count
    return done_on + (relativedelta(months=count) if rule.every.in_months else dt.timedelta(count))


@pytest.mark.parametrize(
    ("name", "last", "due", "source"),
    [
        # WAC 296-800-15035
        ("eyewash/activation", "2026-11-16", "2026-11-23", "WAC 296-800-15035"),
        ("eyewash/annual-inspection", "2026-04-30", "2027-04-30", "WAC 296-800-15035"),
        ("portable-eyewash/annual-check", "2026-04-30", "2027-04-30", "WAC 296-800-15035"),
        # NSF/ANSI 49 annex F.1 and BMBL appendix A
        ("biosafety-cabinet/certification", "2026-01-15", "2027-01-15", "NSF/ANSI 49 annex F.1"),
        # ISO 8655-2 as cited
        ("pipette/calibration", "2026-05-04", "2027-05-04", "ISO 8655-2"),
        # MMWR 52(RR-17) sec. F.6
        ("autoclave/biological-indicator", "2026-11-17", "2026-11-24", "MMWR 52(RR-17) sec. F.6"),
        # 29 CFR 1910.157(e)(2), (3) and (4)
        ("fire-extinguisher/monthly-inspection", "2026-10-05", "2026-11-05",
         "29 CFR 1910.157(e)(2)"),
        ("fire-extinguisher/annual-maintenance", "2026-03-31", "2027-03-31",
         "29 CFR 1910.157(e)(3)"),
        ("fire-extinguisher/six-year-service", "2023-05-01", "2029-05-01",
         "29 CFR 1910.157(e)(4)"),
        # 42 CFR 493.1255(b)(3)
        ("chemistry-analyzer/calibration-verification", "2026-02-28", "2026-08-28",
         "42 CFR 493.1255(b)(3)"),
    ],
)  # fmt: skip
def test_a_longest_wait_is_that_of_its_source_and_is_never_rolled_later(
    name: str, last: str, due: str, source: str
) -> None:
    rule = the_rule(name)

    assert rule.source.startswith(source)
    assert next_nominal(rule, dt.date.fromisoformat(last)) == dt.date.fromisoformat(due)
    assert (rule.basis, rule.roll, rule.grace) == (Basis.ANCHORED, Roll.PRECEDING, 0)


@pytest.mark.parametrize(
    ("name", "months"),
    [
        # AOAC draft table 1 (2015), marked not approved
        ("thermometer/verification", 12),
        ("reference-thermometer/calibration", 12),
        ("incubator/verification", 12),
        ("timer/verification", 12),
        # California VFC: 12, 24 or 36 months, 24 kept
        ("data-logger/calibration", 24),
    ],
)
def test_calibration_intervals_are_those_of_their_guides(name: str, months: int) -> None:
    every = the_rule(name).every

    assert every is not None
    assert (every.count, every.in_months) == (months, True)


def test_a_logger_is_announced_two_to_three_months_ahead() -> None:
    """California VFC: a reminder 60 to 90 days before due."""
    assert 60 <= the_rule("data-logger/calibration").early <= 90


@pytest.mark.parametrize(
    ("reading", "is_inside"), [("1.9", False), ("2.0", True), ("8.0", True), ("8.1", False)]
)
def test_the_refrigerator_range_ends_inside_at_2_and_8(reading: str, is_inside: bool) -> None:
    """CDC vaccine storage and handling toolkit."""
    limits = the_rule("refrigerator/temperature").range

    assert limits is not None
    assert limits.holds(Decimal(reading)) is is_inside


def test_a_cabinet_is_certified_before_use_and_again_after_a_move_or_a_repair() -> None:
    """BMBL 5th ed. appendix A section VII."""
    rule = the_rule("biosafety-cabinet/certification")

    assert rule.first is First.AT_START
    assert rule.due_after == {DueAfter.MOVED, DueAfter.REPAIRED}
    assert rule.vendor


def test_the_microscope_has_its_daily_monthly_and_yearly_duty() -> None:
    """The window of the annual service is the example of design 7."""
    optics, stand, service = BOOK.kinds["microscope"].rules

    assert (optics.task, str(optics.each), str(stand.each)) == ("optics", "open-day", "month")
    assert "cover" in optics.title  # WHO Manual of basic techniques p. 66
    assert (service.task, service.every and service.every.text) == ("annual-service", "P1Y")
    assert (service.early, service.grace, service.vendor) == (45, 15, True)


def test_the_book_has_the_kinds_of_a_county_bench() -> None:
    asked = {"microscope", "centrifuge", "refrigerator", "freezer", "thermometer", "data-logger",
             "pipette", "balance", "autoclave", "incubator", "biosafety-cabinet", "eyewash",
             "fire-extinguisher", "water-bath", "timer"}  # fmt: skip

    assert asked <= BOOK.kinds.keys()
    assert 35 <= len(RULES) <= 45


# Sources.


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_a_source_is_a_text_that_was_read_or_plainly_none(rule: Rule) -> None:
    """The texts that were read, in the original or in a reprint; anything from memory is absent."""
    seen = (
        "29 CFR 1910.157(e)(", "42 CFR 493.1255(b)(3)", "WAC 296-800-15035",
        "NSF/ANSI 49 annex F.1", "ISO 8655-2", "MMWR 52(RR-17) sec. F.6 (2003)",
        "AOAC draft table 1 (2015)",
        "California VFC", "CDC vaccine storage and handling toolkit (January 2020)",
        "NIH Clinical Center laboratory page on centrifuges",
    )  # fmt: skip

    assert rule.source == NO_SOURCE or rule.source.startswith(seen)


REPRINTS = (
    "CDC vaccine storage and handling toolkit", "ISO 8655-2", "MMWR 52(RR-17)", "NSF/ANSI 49",
    "29 CFR 1910.157", "42 CFR 493.1255",
)  # fmt: skip
"""Texts that were read in a copy, a quotation or a summary, and not in the official edition."""


@pytest.mark.parametrize("rule", RULES, ids=named)
def test_a_source_that_was_read_in_a_reprint_says_so(rule: Rule) -> None:
    assert rule.source.endswith(" (read in a reprint)") is rule.source.startswith(REPRINTS)


def test_the_six_years_are_counted_from_manufacture_or_recharge_and_the_book_says_so() -> None:
    """29 CFR 1910.157(e)(4): recharging or a hydrostatic test restarts the six years."""
    rule = the_rule("fire-extinguisher/six-year-service")

    assert rule.title.endswith(", six years from manufacture or the last recharge")
    comment = BOOK.text.partition("P6Y")[0].rpartition("\n\n")[2].replace("\n# ", " ")
    assert "Enter that day as done, though it lies before issue" in comment


def test_no_place_is_named_that_does_not_show_cautions() -> None:
    assert "chart, page and card" not in BOOK.text


def test_no_law_is_said_to_name_an_interval_it_does_not_name() -> None:
    """42 CFR 493.1254 has no number of days in it."""
    assert [named(r) for r in RULES if "1254" in r.source or "CLIA" in r.source] == []
    assert {r.source for r in BOOK.kinds["microscope"].rules} == {NO_SOURCE}
    by_law = {named(r) for r in RULES if re.search(r"\bCFR\b|\bWAC\b", r.source)}
    assert by_law == {
        "chemistry-analyzer/calibration-verification",
        "eyewash/activation",
        "eyewash/annual-inspection",
        "fire-extinguisher/annual-maintenance",
        "fire-extinguisher/monthly-inspection",
        "fire-extinguisher/six-year-service",
        "portable-eyewash/annual-check",
    }


def test_where_the_source_says_at_least_the_rule_is_never_rolled_later() -> None:
    """Design 7."""
    at_least = [rule for rule in RULES if "at least" in rule.source.lower()]

    assert len(at_least) >= 4
    assert {(rule.roll, rule.grace) for rule in at_least} == {(Roll.PRECEDING, 0)}


# Cautions.


@pytest.mark.parametrize(
    ("kind", "words"),
    [
        ("microscope", "[Uu]nplug"),
        ("autoclave", "Burns|Pressure"),
        ("autoclave", "[Tt]rained people only|licensed people only"),
        ("centrifuge", "rotor|aerosol|Rotor|Bleach"),
        ("biosafety-cabinet", "[Cc]ertified persons only|safety officer"),
        ("fire-extinguisher", "Pressure|discharge"),
    ],
)
def test_every_rule_of_a_kind_that_can_hurt_says_how(kind: str, words: str) -> None:
    """Design 8."""
    without = [
        rule.task
        for rule in BOOK.kinds[kind].rules
        if not any(re.search(words, caution) for caution in rule.cautions)
    ]

    assert without == []


def test_every_list_of_cautions_ends_by_deferring_to_manual_officer_and_rules() -> None:
    assert [named(r) for r in RULES if r.cautions and r.cautions[-1] != DEFER] == []
    assert [named(r) for r in RULES if r.cautions == (DEFER,)] == []


def test_only_a_timer_is_without_cautions() -> None:
    assert [named(rule) for rule in RULES if not rule.cautions] == ["timer/verification"]


def test_work_on_electrical_parts_is_left_to_trained_or_licensed_people() -> None:
    electrical = [c for rule in RULES for c in rule.cautions if "lectrical parts" in c]

    assert len(electrical) >= 10
    assert [c for c in electrical if not re.search("trained|licensed|certified", c)] == []


def test_the_optics_cautions_are_those_of_the_design() -> None:
    """Design 8, each of its points."""
    text = " ".join(the_rule("microscope/optics").cautions)
    points = (
        "unplug before any liquid", "lens paper and lens cleaner made for optics",
        "no household or eyeglass cleaner", "no wood-pulp wipes", "Never wipe dry",
        "never use breath", "without hard rubbing: coatings wear", "centre outward",
        "Lamp off and cool before the cover",
        "lowest objective or an empty position over the condenser",
    )  # fmt: skip

    assert [point for point in points if point not in text] == []
    assert "top down" in the_rule("microscope/optics").title


def test_only_function_checks_stop_the_use_of_a_unit() -> None:
    """42 CFR 493.1254(b)(2)(ii) (read in a reprint) on function checks; which tasks of the book are
    such checks is our reading of it: the temperature of a store is answered by moving the stock.
    """
    assert {named(rule) for rule in RULES if rule.stops_use} == {
        "thermometer/verification",
        "pipette/leak-check",
        "balance/check-weight",
        "autoclave/biological-indicator",
        "autoclave/door-check",
        "timer/verification",
    }
    assert [named(rule) for rule in RULES if rule.task == "temperature" and rule.stops_use] == []


# Spanish, visits, form.


def is_done_by_the_bench(rule: Rule) -> bool:
    """Days to months apart, and not a vendor's."""
    if rule.each is not None:
        return str(rule.each) in ("open-day", "week", "month")
    return rule.every is not None and rule.every.text in ("P1W", "P1M")


def test_what_the_bench_does_from_day_to_month_is_also_in_spanish() -> None:
    bench = [rule for rule in RULES if is_done_by_the_bench(rule)]

    assert len(bench) >= 20
    assert [named(r) for r in bench if r.title_es is None] == []
    assert [named(r) for r in RULES if r.title_es and len(r.cautions_es) != len(r.cautions)] == []


def test_what_is_planned_as_a_visit_has_minutes_and_a_fee() -> None:
    visits = [rule for rule in RULES if rule.vendor]

    assert len(visits) >= 8
    assert [named(r) for r in visits if not (r.minutes and r.fee_cents)] == []


def test_the_eight_channel_override_wins_for_its_model_only() -> None:
    pipette = BOOK.kinds["pipette"]

    def first(model: str) -> str | None:
        every = pipette.tasks(model)["calibration"][0].every
        return every.text if every else None

    assert (first("Octave 8"), first("Solo 100")) == ("P6M", "P1Y")


def test_the_shipped_text_is_toml_with_every_rule_and_reads_the_same_twice() -> None:
    raw = tomllib.loads(BOOK.text)["kind"]

    assert {code: len(kind["rule"]) for code, kind in raw.items()} == {
        code: len(kind.rules) for code, kind in BOOK.kinds.items()
    }
    assert read_book(BOOK.text) == BOOK
    assert shipped_book() is BOOK
