"""Are due dates those that dateutil, QuantLib, RFC 5545 and worked examples of laws give?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

import numpy as np
import pytest
import QuantLib
from dateutil.relativedelta import relativedelta
from hypothesis import given, settings
from hypothesis import strategies as st

from schedules.calendars import CalendarIndex, Spell
from schedules.dates import FAR, NEVER, date_of, day_of
from schedules.due import DueRows, due
from schedules.rulebook import shipped_book
from schedules.rules import Interval, Roll, Rule
from schedules.units import UnitColumns, UnitSpan
from tests.outside import day, rows
from tests.schedules.one_unit import MON_TO_FRI, OneUnit, a_fixed_rule, a_rule, a_site, days

CONVENTIONS = {
    Roll.NONE: QuantLib.Unadjusted,
    Roll.FOLLOWING: QuantLib.Following,
    Roll.PRECEDING: QuantLib.Preceding,
    Roll.MODIFIED_FOLLOWING: QuantLib.ModifiedFollowing,
}
RULES = [
    a_rule(every, roll=roll)
    for every in ("P10D", "P2W", "P1M", "P3M", "P6M", "P18M", "P1Y", "P2Y")
    for roll in CONVENTIONS
]
A_YEAR = (dt.date(2025, 1, 1), dt.date(2026, 12, 31))


def judged(rule: Rule, base: dt.date, closures: Sequence[dt.date]) -> dt.date:
    """The due date by dateutil and QuantLib, of a site open Monday to Friday."""
    assert rule.every is not None
    count = rule.every.count
    nominal = base + (relativedelta(months=count) if rule.every.in_months else dt.timedelta(count))
    calendar = QuantLib.BespokeCalendar("bespoke")
    for weekday in (QuantLib.Saturday, QuantLib.Sunday):
        calendar.addWeekend(weekday)
    for on in closures:
        calendar.addHoliday(QuantLib.Date(on.day, on.month, on.year))
    of_quantlib = QuantLib.Date(nominal.day, nominal.month, nominal.year)
    adjusted: dt.date = calendar.adjust(of_quantlib, CONVENTIONS[rule.roll]).to_date()
    return adjusted


@settings(max_examples=60, deadline=None)
@given(
    found=st.lists(
        st.tuples(st.integers(0, len(RULES) - 1), st.dates(*A_YEAR)), min_size=1, max_size=40
    ),
    closures=st.lists(st.dates(dt.date(2025, 1, 1), dt.date(2029, 1, 31)), max_size=30),
    season=st.integers(0, 200),
)
def test_due_dates_agree_with_dateutil_and_quantlib(
    found: list[tuple[int, dt.date]], closures: list[dt.date], season: int
) -> None:
    closed_on = [*closures, *(dt.date(2026, 5, 1) + dt.timedelta(n) for n in range(season))]
    site = a_site(MON_TO_FRI, *(Spell(on, on, "drawn") for on in closed_on))
    found.sort()
    start = day_of(dt.date(2025, 1, 1))
    units = UnitColumns.build([UnitSpan(start, FAR, start, 0)] * len(found))
    base = np.array([day_of(on) for _, on in found], dtype=np.int32)
    asked = DueRows(
        rule=np.array([rule for rule, _ in found], dtype=np.int32),
        unit=np.arange(len(found)),
        base=base,
        steps=np.ones(len(found), dtype=np.int32),
        last=base,
        event=np.full(len(found), NEVER, dtype=np.int32),
    )
    index = CalendarIndex([site], dt.date(2024, 1, 1), dt.date(2030, 12, 31))

    answers = due(RULES, asked, units, index, day_of(dt.date(2027, 1, 1)))

    assert answers.failures == {}
    assert [date_of(n) for n in answers.due.tolist()] == [
        judged(RULES[rule], on, closed_on) for rule, on in found
    ]


# --- RFC 5545, the published expansions that plain intervals can express

EXPRESSED: dict[str, list[tuple[str, str]]] = {
    "R06": [("1997-09-02", "P1M"), ("1997-09-15", "P1M")],
    "R07": [("1997-10-01", "P1M"), ("1997-08-31", "P1M")],
    "R08": [(f"1997-09-{n}", "P18M") for n in range(10, 16)],
    "R09": [("1997-06-10", "P1Y"), ("1997-07-10", "P1Y")],
    "R10": [("1997-01-10", "P2Y"), ("1997-02-10", "P2Y"), ("1997-03-10", "P2Y")],
    "R16": [("1997-08-05", "P2W"), ("1997-08-10", "P2W")],
    "R17": [("1997-08-05", "P2W"), ("1997-08-17", "P2W")],
}
"""By row of the table: fixed rules whose dates together are those of the calendar rule.

The last day of a month is a monthly rule anchored on a 31st, since we clamp (R07).
"""


def occurrences(anchor: str, every: str, since: str, until: dt.date) -> list[dt.date]:
    """The nominal dates the engine shows, one after the other, each done on its day."""
    unit = OneUnit(rules=[a_fixed_rule(anchor, every)], in_service=since)
    found: list[dt.date] = []
    on = since
    while True:
        nominal = OneUnit(rules=unit.rules, in_service=since, done=found).on(on).nominal
        assert nominal is not None
        if nominal > until:
            return found
        found.append(nominal)
        on = nominal.isoformat()


def published(name: str) -> list[dt.date]:
    (line,) = [line for line in rows("rfc5545_rrule") if line["id"] == name]
    return list(days(*line["expected_dates_space_separated"].split()))


@pytest.mark.parametrize("name", EXPRESSED)
def test_fixed_rules_give_the_published_dates_of_rfc_5545(name: str) -> None:
    """RFC 5545 3.8.5.3, pages 127 to 131."""
    expected = published(name)
    since = expected[0].isoformat()

    ours = [occurrences(*rule, since, expected[-1]) for rule in EXPRESSED[name]]

    assert sorted(on for found in ours for on in found) == expected


def test_where_rfc_5545_skips_30_february_we_keep_the_28th() -> None:
    """RFC 5545 3.8.5.3 p. 132 (B-09): MONTHLY;BYMONTHDAY=15,30 has no second date in February."""
    expected = published("R15")
    rules = [("2007-01-15", "P1M"), ("2007-01-30", "P1M")]

    ours = sorted(on for rule in rules for on in occurrences(*rule, "2007-01-15", expected[-1]))

    assert [on for on in ours if on not in expected] == [day("2007-02-28")]
    assert [on for on in expected if on not in ours] == []


# --- worked examples, through the shipped book


def shipped(name: str) -> Rule:
    """The rule of that kind and task for every model, or the only one."""
    kind, task = name.split("/")
    found = [rule for rule in shipped_book().kinds[kind].rules if rule.task == task]
    return sorted(found, key=lambda rule: len(rule.models))[0]


@pytest.mark.parametrize(
    ("name", "in_service", "done", "nominal", "due", "source"),
    [
        ("chemistry-analyzer/calibration-verification", "2025-06-02", "2026-02-28",
         "2026-08-28", "2026-08-28", "A-06: 42 CFR 493.1255(b)(3), every 6 months"),
        ("fire-extinguisher/monthly-inspection", "2025-06-02", "2026-10-05",
         "2026-11-05", "2026-11-05", "A-20: 29 CFR 1910.157(e)(2), monthly"),
        ("fire-extinguisher/annual-maintenance", "2025-03-03", "2026-03-31",
         "2027-03-31", "2027-03-31", "A-21: 29 CFR 1910.157(e)(3), yearly"),
        ("fire-extinguisher/six-year-service", "2020-05-01", "2023-05-01",
         "2029-05-01", "2029-05-01", "A-23: 29 CFR 1910.157(e)(4), recharged, six years"),
        ("eyewash/activation", "2025-06-02", "2026-11-16",
         "2026-11-23", "2026-11-23", "A-27: WAC 296-800-15035, activated weekly"),
        ("eyewash/annual-inspection", "2025-06-02", "2026-04-30",
         "2027-04-30", "2027-04-30", "A-27: WAC 296-800-15035, inspected once a year"),
        ("biosafety-cabinet/certification", "2026-01-15", "",
         "2026-01-15", "2026-01-15", "A-29: NSF/ANSI 49 annex F.1, at installation"),
        ("biosafety-cabinet/certification", "2026-01-15", "2026-01-15",
         "2027-01-15", "2027-01-15", "A-29: NSF/ANSI 49 annex F.1, at least annually"),
        ("pipette/calibration", "2025-06-02", "2026-05-04",
         "2027-05-04", "2027-05-04", "A-32: ISO 8655-2, at least once a year"),
        ("autoclave/biological-indicator", "2025-06-02", "2026-11-17",
         "2026-11-24", "2026-11-24", "A-40: MMWR 52(RR-17) sec. F.6, at least weekly"),
        ("microscope/annual-service", "2025-06-02", "2026-03-17",
         "2027-03-17", "2027-03-17", "G-05: common practice, no source"),
        ("microscope/annual-service", "2026-02-10", "2026-11-05",
         "2027-11-05", "2027-11-05", "G-09: common practice, no source"),
    ],
)  # fmt: skip
def test_worked_examples_are_due_as_the_source_says(
    name: str, in_service: str, done: str, nominal: str, due: str, source: str
) -> None:
    unit = OneUnit(
        rules=[_for_any_model(shipped(name))],
        sites=(a_site(MON_TO_FRI),),
        in_service=in_service,
        done=days(done) if done else (),
    )

    found = unit.on(done or in_service)

    assert (found.nominal, found.due) == (day(nominal), day(due)), source


def _for_any_model(rule: Rule) -> Rule:
    """The rule without the invented model names it is for."""
    fields = {name: getattr(rule, name) for name in Rule.__dataclass_fields__}
    return Rule(**{**fields, "task": "service", "models": ()})


def test_a_longest_wait_that_ends_on_a_saturday_is_due_the_friday_before() -> None:
    """Logic (B-28): preceding never exceeds 'at least once a year'; 2027-07-03 is a Saturday."""
    rule = _for_any_model(shipped("pipette/calibration"))
    unit = OneUnit(
        rules=[rule], sites=(a_site(MON_TO_FRI),), in_service="2025-06-02", done=days("2026-07-03")
    )

    assert unit.on("2027-07-01").due == day("2027-07-02")


def test_a_moved_cabinet_is_due_at_once_and_its_year_restarts() -> None:
    """BMBL 5th ed. appendix A section VII (A-30): before use after it has been relocated."""
    unit = OneUnit(
        rules=[_for_any_model(shipped("biosafety-cabinet/certification"))],
        sites=(a_site(MON_TO_FRI),),
        in_service="2026-01-15",
        moves=(("2026-06-01", 0),),
        done=days("2026-01-15"),
    )

    assert unit.on("2026-05-31").due == day("2027-01-15")
    assert unit.on("2026-06-01").due == day("2026-06-01")
    certified = OneUnit(
        rules=unit.rules,
        sites=unit.sites,
        in_service=unit.in_service,
        moves=unit.moves,
        done=days("2026-01-15", "2026-06-01"),
    )
    assert certified.on("2026-06-02").due == day("2027-06-01")


def test_late_service_counts_from_the_day_it_was_done() -> None:
    """G-10, common practice, no source: due 2026-02-10, served 2026-04-01, 50 days late."""
    rule = a_rule("P1Y")
    unit = OneUnit(rules=[rule], in_service="2025-02-10", done=days("2026-04-01"))

    before = unit.on("2026-03-31")
    assert (before.due, before.days_past_due) == (day("2026-02-10"), 49)
    assert OneUnit(rules=[rule], in_service="2025-02-10").on("2026-04-01").days_past_due == 50
    assert unit.on("2026-04-01").due == day("2027-04-01")


def test_thirty_days_and_a_calendar_month_are_two_intervals() -> None:
    """NFPA 10 (2002) table 6.2.1 says 30 days (A-25); from 31 January they differ."""
    found = [
        OneUnit(rules=[a_rule(every)], in_service="2026-01-31").on("2026-01-31").due
        for every in ("P30D", "P1M")
    ]

    assert found == list(days("2026-03-02", "2026-02-28"))
    assert Interval.parse("P30D") != Interval.parse("P1M")
