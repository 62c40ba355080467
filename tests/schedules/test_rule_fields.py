"""Does every field of a rule say what it cannot be, with its line and the mend?

Each row is one bad value and the fault it must give, whole.
"""

from __future__ import annotations

from decimal import Decimal

import pytest

from schedules.rulebook import read_book
from tests.schedules.books import book_with, faults_of

OF_A_RULE = (
    "a rule has task, title, source, each, every, anchor, early, grace, roll, keep_anchor,"
    " due_after, first, times, from, until, models, range, stops_use, vendor, minutes, fee,"
    " cautions, title_es, cautions_es"
)
ANCHORED_HOME = "leave it out; it belongs to an anchored rule (every, no anchor)"
DATED_HOME = f"{ANCHORED_HOME} or a fixed rule (every and anchor)"


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ('each = "fortnight"', ", each: 'fortnight' is not one of open-day, week, month, quarter,"
         " half-year, year; write one of them, in double quotes"),
        ('each = "open_day"', ", each: 'open_day' is not one of open-day, week, month, quarter,"
         " half-year, year; did you mean 'open-day'?"),
        ("each = 7", ", each: 7 is not one of open-day, week, month, quarter, half-year, year;"
         " write one of them, in double quotes"),
        ('every = "P1Y6M"', ", every: 'P1Y6M' is not an interval; write one component, as P45D,"
         " P2W, P6M or P1Y"),
        ("every = 12", ", every: 12 is not text; put it in double quotes"),
        ('every = "P101Y"', ", every: 'P101Y' is longer than 100 years; write a shorter interval"),
        ('every = "P5300W"', ", every: 'P5300W' is longer than 100 years; write a shorter"
         " interval"),
        ('evry = "P1Y"', ": 'evry' is not a field of a rule; did you mean 'every'?"),
    ],
)  # fmt: skip
def test_each_and_every_say_what_they_cannot_be(line: str, fault: str) -> None:
    assert faults_of(book_with(line)) == [f"rules.toml line 4{fault}"]


@pytest.mark.parametrize(
    ("line", "fault"),
    [
        ("early = -1", ", early: -1 is not a whole number from 0 to 3660; write it in digits,"
         " without quotes"),
        ("early = true", ", early: true is not a whole number from 0 to 3660; write it in digits,"
         " without quotes"),
        ('grace = "15"', ", grace: '15' is not a whole number from 0 to 3660; write it in digits,"
         " without quotes"),
        ("grace = 1.5", ", grace: 1.5 is not a whole number from 0 to 3660; write it in digits,"
         " without quotes"),
        ("keep_anchor = 3661", ", keep_anchor: 3661 is not a whole number from 0 to 3660; write it"
         " in digits, without quotes"),
        ("minutes = 0", ", minutes: 0 is not a whole number from 1 to 10000; write it in digits,"
         " without quotes"),
        ("fee = 85.5", ", fee: 85.5 is not a whole number from 0 to 100000000; write whole cents,"
         " as 8500 for 85.00"),
        ("fee = -1", ", fee: -1 is not a whole number from 0 to 100000000; write whole cents, as"
         " 8500 for 85.00"),
        ('roll = "next"', ", roll: 'next' is not one of none, following, preceding,"
         " modified-following; write one of them, in double quotes"),
        ('first = "at start"', ", first: 'at start' is not one of after-interval, at-start; did you"
         " mean 'at-start'?"),
        ('due_after = "moved"', ", due_after: 'moved' is not a list; put it in square brackets"),
        ('due_after = ["lent"]', ", due_after: 'lent' is not one of moved, repaired; write one of"
         " them, in double quotes"),
        ('vendor = "yes"', ", vendor: 'yes' is not true or false; write true or false, without"
         " quotes"),
        ("stops_use = 1", ", stops_use: 1 is not true or false; write true or false, without"
         " quotes"),
        ("vendor = 1", ", vendor: 1 is not true or false; write true or false, without quotes"),
        ('anchor = "1 March"', ", anchor: '1 March' is not a date; write it as YYYY-MM-DD"),
        ("anchor = 2026-03-01T10:00:00", ", anchor: 2026-03-01 10:00:00 is not a date; write it as"
         " YYYY-MM-DD"),
        ("anchor = 1949-12-31", ", anchor: 1949-12-31 lies outside 1950 to 2099; choose a day"
         " within those years"),
        ('anchor = "2100-01-01"', ", anchor: 2100-01-01 lies outside 1950 to 2099; choose a day"
         " within those years"),
        ('from = "2026-02-30"', ", from: '2026-02-30' is not a date; write it as YYYY-MM-DD"),
        ("from = 1949-12-31", ", from: 1949-12-31 lies outside 1950 to 2099; choose a day within"
         " those years"),
        ('until = "2100-01-01"', ", until: 2100-01-01 lies outside 1950 to 2099; choose a day"
         " within those years"),
        ("until = 2026", ", until: 2026 is not a date; write it as YYYY-MM-DD"),
        ("models = []", ", models: the list is empty; name a model, or leave it out to mean every"
         " model"),
        ('models = "A1"', ", models: 'A1' is not a list; put it in square brackets"),
        ('models = ["A1", ""]', ", models: the text is empty; write some words between the quotes"),
        ('cautions = "Hot"', ", cautions: 'Hot' is not a list; put it in square brackets"),
        ("cautions = [1]", ", cautions: 1 is not text; put it in double quotes"),
        ('cautions_es = ["Calor", true]', ", cautions_es: true is not text; put it in double"
         " quotes"),
        ('title_es = ""', ", title_es: the text is empty; write some words between the quotes"),
        (r'title_es = "dos\nlíneas"', ", title_es: 'dos líneas' has a line break or a tab; write"
         " it on one line"),
        ("range = [2, 8]", ", range: a list is not a range; write it as { low = 2.0, high = 8.0,"
         ' unit = "C" }'),
        ('range = { unit = "C" }', ", range: the range has no end; give low, high or both"),
        ("range = { low = 2.0 }", ", range: the range has no unit; add the unit of the reading, as"
         ' unit = "C"'),
        ('range = { low = 8.1, high = 8, unit = "C" }', ", range: low 8.1 is above high 8; exchange"
         " them"),
        ('range = { low = "2", unit = "C" }', ", range: low '2' is not a number; write it without"
         " quotes, as 2.0"),
        ('range = { high = true, unit = "C" }', ", range: high true is not a number; write it"
         " without quotes, as 2.0"),
        ('range = { high = inf, unit = "C" }', ", range: high Infinity is no limit; leave an open"
         " end out"),
        ('range = { low = nan, unit = "C" }', ", range: low NaN is no limit; leave an open end"
         " out"),
        ('range = { lo = 2, unit = "C" }', ", range: 'lo' is not a field of a range; did you mean"
         " 'low'?"),
        ("colour = 3", f": 'colour' is not a field of a rule; {OF_A_RULE}"),
        ("erly = 3", ": 'erly' is not a field of a rule; did you mean 'early'?"),
        ("times = 2", ", times: it has no place in an anchored rule (every, no anchor); leave it"
         " out; it belongs to a cell rule (each)"),
    ],
)  # fmt: skip
def test_a_value_that_cannot_be_is_named_with_its_line(line: str, fault: str) -> None:
    assert faults_of(book_with('every = "P1Y"', line)) == [f"rules.toml line 5{fault}"]


@pytest.mark.parametrize(
    ("line", "home"),
    [
        ("early = 5", DATED_HOME),
        ("grace = 5", DATED_HOME),
        ('roll = "none"', DATED_HOME),
        ("keep_anchor = 5", ANCHORED_HOME),
        ('due_after = ["moved"]', ANCHORED_HOME),
        ('first = "at-start"', ANCHORED_HOME),
        ("anchor = 2026-03-01", "leave it out; it belongs to a fixed rule (every and anchor)"),
    ],
)
def test_a_cell_rule_has_no_window(line: str, home: str) -> None:
    field = line.split()[0]

    assert faults_of(book_with('each = "week"', line)) == [
        f"rules.toml line 5, {field}: it has no place in a cell rule (each); {home}"
    ]


@pytest.mark.parametrize("line", ["keep_anchor = 5", 'first = "at-start"', "due_after = []"])
def test_a_fixed_rule_has_no_anchor_to_keep_or_to_start_from(line: str) -> None:
    field = line.split()[0]

    assert faults_of(book_with('every = "P1Y"', "anchor = 2026-03-01", line)) == [
        f"rules.toml line 6, {field}: it has no place in a fixed rule (every and anchor);"
        f" {ANCHORED_HOME}"
    ]


def test_times_are_counted_from_one() -> None:
    assert faults_of(book_with('each = "week"', "times = 0")) == [
        "rules.toml line 5, times: 0 is not a whole number from 1 to 100; write it in digits,"
        " without quotes"
    ]


@pytest.mark.parametrize(
    ("limits", "low", "high"),
    [
        ("low = 5, high = 5.0", Decimal(5), Decimal(5)),
        ("low = -30.5", Decimal("-30.5"), None),
        ("high = 0.1", None, Decimal("0.1")),
    ],
)
def test_a_range_may_be_one_point_or_open_at_one_end(
    limits: str, low: Decimal | None, high: Decimal | None
) -> None:
    book = read_book(book_with('each = "week"', f'range = {{ {limits}, unit = "C" }}'))
    found = book.kinds["microscope"].rules[0].range

    assert found is not None
    assert (found.low, found.high) == (low, high)
