"""Does a rule book say what its text says, and does a bad one say all that is wrong with it?"""

from __future__ import annotations

import datetime as dt
import hashlib
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from schedules.errors import BookError
from schedules.rulebook import read_book, shipped_book
from schedules.rules import Basis, DueAfter, Each, First, Roll, RuleBook
from tests.schedules.books import book_with, faults_of

GOOD = """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optics"
each = "open-day"
times = 2
range = { low = 2, high = 8.0, unit = "C" }
source = "common practice, no source"
cautions = ["Unplug first."]
title_es = "Limpiar la óptica"
cautions_es = ["Primero desenchufe."]

[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
roll = "modified-following"
keep_anchor = 20
due_after = ["moved", "repaired"]
first = "at-start"
from = 2026-01-01
until = "2026-12-31"
models = ["A1", "A2"]
source = "common practice, no source"
vendor = true
minutes = 45
fee = 8500

[[kind.microscope.rule]]
task = "inventory"
title = "Count"
every = "P6M"
anchor = 2024-02-29
source = "common practice, no source"
"""


# A good book.


def test_every_field_of_the_contract_is_read() -> None:
    book = read_book(GOOD)
    optics, service, inventory = book.kinds["microscope"].rules

    assert book.kinds["microscope"].name == "Bench microscope"
    assert (optics.basis, optics.each, optics.times) == (Basis.CELL, Each.OPEN_DAY, 2)
    assert optics.range is not None
    assert (optics.range.low, optics.range.high) == (Decimal(2), Decimal("8.0"))
    assert (optics.range.unit, optics.cautions) == ("C", ("Unplug first.",))
    assert (optics.title_es, optics.cautions_es) == ("Limpiar la óptica", ("Primero desenchufe.",))
    assert service.basis is Basis.ANCHORED
    assert service.every is not None
    assert service.every.text == "P1Y"
    assert (service.early, service.grace, service.keep_anchor) == (45, 15, 20)
    assert (service.roll, service.first) == (Roll.MODIFIED_FOLLOWING, First.AT_START)
    assert service.due_after == {DueAfter.MOVED, DueAfter.REPAIRED}
    assert (service.from_on, service.until_on) == (dt.date(2026, 1, 1), dt.date(2026, 12, 31))
    assert (service.models, service.vendor) == (("A1", "A2"), True)
    assert (service.minutes, service.fee_cents) == (45, 8500)
    assert (inventory.basis, inventory.anchor_on) == (Basis.FIXED, dt.date(2024, 2, 29))


def test_what_a_rule_leaves_out_has_the_defaults_of_the_design() -> None:
    rule = read_book(book_with('every = "P1Y"')).kinds["microscope"].rules[0]

    assert (rule.early, rule.grace, rule.keep_anchor) == (0, 0, 0)
    assert (rule.roll, rule.first) == (Roll.FOLLOWING, First.AFTER_INTERVAL)
    assert (rule.due_after, rule.times, rule.models) == (frozenset(), 1, ())
    assert (rule.range, rule.vendor, rule.minutes, rule.fee_cents) == (None, False, None, None)
    assert rule.stops_use is False


def test_a_function_check_that_stops_use_may_count_in_any_way() -> None:
    for line in ('every = "P1Y"', 'each = "month"', 'every = "P1Y"\nanchor = 2026-03-01'):
        book = read_book(book_with(f"{line}\nstops_use = true"))
        assert book.kinds["microscope"].rules[0].stops_use


def test_a_book_keeps_its_text_and_the_hash_of_its_utf8_bytes() -> None:
    book = read_book(GOOD)

    assert book.text == GOOD
    assert book.sha256 == hashlib.sha256(GOOD.encode("utf-8")).hexdigest()


def test_the_example_of_the_design_is_a_good_book() -> None:
    """Design 7, word for word."""
    book = read_book(
        """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces, top down"
each = "open-day"
source = "common practice, no source"
cautions = ["Unplug before any liquid comes near."]

[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
source = "common practice, no source"
"""
    )

    assert [rule.task for rule in book.kinds["microscope"].rules] == ["optics", "annual-service"]


# Bad books; what single fields cannot be stands in test_rule_fields.

A_RULE = "rules.toml line 3: "
NO_BASIS = 'write one: each = "month" for cells, or every = "P1Y" for dates'


def test_a_rule_needs_one_way_of_counting_and_only_one() -> None:
    assert faults_of(book_with()) == [f"{A_RULE}the rule has neither each nor every; {NO_BASIS}"]
    assert faults_of(book_with('each = "week"', 'every = "P1Y"')) == [
        f"{A_RULE}the rule has both each and every; {NO_BASIS}"
    ]


def test_a_version_does_not_end_before_it_begins() -> None:
    lines = 'each = "week"', "from = 2026-05-02", "until = 2026-05-01"

    assert faults_of(book_with(*lines)) == [
        "rules.toml line 6, until: 2026-05-01 is before 2026-05-02, its from; until is the last"
        " day of the version, from its first"
    ]


def test_a_version_of_one_day_is_a_version() -> None:
    book = read_book(book_with('each = "week"', "from = 2026-05-01", "until = 2026-05-01"))

    assert book.kinds["microscope"].rules[0].until_on == dt.date(2026, 5, 1)


@pytest.mark.parametrize(
    ("text", "faults"),
    [
        ("", ["rules.toml line 1: the book has no kind; write a table as [kind.microscope]"]),
        ("kind = 3\n", ["rules.toml line 1: the book has no kind; write a table as"
         " [kind.microscope]"]),
        ("[kind]\nmicroscope = 3\n", ["rules.toml line 2: kind 'microscope' is not a table; write"
         " it in square brackets, as [kind.microscope]"]),
        ('[kind.microscope]\nname = "Bench"\n', ["rules.toml line 1: kind 'microscope' has no rule;"
         " add one as [[kind.microscope.rule]], with the kind's own short name"]),
        ('[kind.microscope]\nname = "Bench"\nrule = "none"\n', ["rules.toml line 3: the rules of"
         " 'microscope' are not a list of tables; write each in double square brackets, as"
         " [[kind.microscope.rule]]"]),
        ('[kind.Microscope]\nname = "Bench"\n[[kind.Microscope.rule]]\ntask = "o"\ntitle = "t"\n'
         'source = "s"\neach = "week"\n', ["rules.toml line 1: 'Microscope' is not a short name;"
         " use only a to z, 0 to 9 and -, as annual-service"]),
        ('[[kind.microscope.rule]]\ntask = "Optics!"\ntitle = " "\neach = "week"\n', [
            "rules.toml line 1: kind 'microscope' has no name; add what people call it, as"
            ' name = "Bench microscope"',
            "rules.toml line 1: a rule of 'microscope' has no source; add the law or guide, or"
            ' source = "common practice, no source"',
            "rules.toml line 2, task: 'Optics!' is not a short name; use only a to z, 0 to 9 and -,"
            " as annual-service",
            "rules.toml line 3, title: the text is empty; write some words between the quotes",
        ]),
        ('[kind.microscope]\nnames = "Bench"\n[[kind.microscope.rule]]\neach = "week"\n', [
            "rules.toml line 2: 'names' is not a field of a kind; did you mean 'name'?",
            "rules.toml line 3: a rule of 'microscope' has no task; add its short name, as"
            ' task = "annual-service"',
            "rules.toml line 3: a rule of 'microscope' has no title; add what is to be done, in a"
            " few words",
            "rules.toml line 3: a rule of 'microscope' has no source; add the law or guide, or"
            ' source = "common practice, no source"',
        ]),
        (GOOD + "[kinds]\n", ["rules.toml line 39: 'kinds' is not a field of a rule book; did you"
         " mean 'kind'?"]),
        ("[kind.microscope]\nname = Bench\n", ["rules.toml line 2: this is not TOML at column 8"
         " (Invalid value); put text in double quotes, lists in square brackets, dates as"
         " 2026-03-01"]),
        ('[kind.microscope]\nname = """Bench\n', ["rules.toml line 2: this is not TOML"
         " (Unterminated string); put text in double quotes, lists in square brackets, dates as"
         " 2026-03-01"]),
        ('name = "a"\nname = "b"\n', ["rules.toml line 2: this is not TOML at column 11 (Cannot"
         " overwrite a value); put text in double quotes, lists in square brackets, dates as"
         " 2026-03-01"]),
    ],
)  # fmt: skip
def test_a_book_or_kind_of_the_wrong_form_is_refused(text: str, faults: list[str]) -> None:
    assert faults_of(text) == faults


def test_all_faults_of_a_file_come_at_once_under_its_name_in_the_order_of_its_lines() -> None:
    text = GOOD.replace("early = 45", "early = -45").replace("times = 2", 'times = "2"')

    with pytest.raises(BookError) as refused:
        read_book(
            text.replace('source = "common practice, no source"\nvendor', "vendor"), "ne.toml"
        )

    assert str(refused.value).split("\n") == [
        "ne.toml line 8, times: '2' is not a whole number from 1 to 100; write it in digits,"
        " without quotes",
        "ne.toml line 15: a rule of 'microscope' has no source; add the law or guide, or"
        ' source = "common practice, no source"',
        "ne.toml line 19, early: -45 is not a whole number from 0 to 3660; write it in digits,"
        " without quotes",
    ]


def test_lines_are_found_past_long_texts_quoted_names_and_windows_line_ends() -> None:
    text = (
        '[ kind . "microscope" ] # a comment\nname = "Bench"\n'
        '[[kind.microscope.rule]]\ntask = "optics"\ntitle = "Clean"\neach = "week"\n'
        'source = """\nlong\n[[kind.microscope.rule]]\nearly = 3\n"""\n'
        'cautions = [\n  "early = 5",\n]\n'
        "[[kind.'microscope'.rule]] # another\n\"early\" = -1\n"
        'task = "lamp"\ntitle = "Look"\nsource = "s"\nevery = "P1M"\n'
        'range.low = "x"\n'
    )
    expected = [
        "rules.toml line 16, early: -1 is not a whole number from 0 to 3660; write it in digits,"
        " without quotes",
        "rules.toml line 21, range: low 'x' is not a number; write it without quotes, as 2.0",
    ]

    assert faults_of(text) == expected
    assert faults_of(text.replace("\n", "\r\n")) == expected


# Versions and overrides.


def two_versions(first: str, second: str) -> str:
    """A book with two versions of one task, their fields from lines 4 and 10."""
    required = 'task = "optics"\ntitle = "Clean"\nsource = "test"\n'
    head = "[[kind.microscope.rule]]\n"
    return f'[kind.microscope]\nname = "B"\n{head}{first}\n{required}\n{head}{second}\n{required}'


@pytest.mark.parametrize(
    ("first", "second", "begins"),
    [
        ('each = "week"', 'each = "month"', "without from"),
        ('each = "week"; from = 2026-01-01', 'each = "week"; from = 2026-01-01', "from 2026-01-01"),
        ('each = "week"; models = ["A", "B"]', 'each = "week"; models = ["B"]', "without from"),
    ],
)
def test_two_versions_of_a_task_cannot_begin_together(first: str, second: str, begins: str) -> None:
    text = two_versions(first.replace("; ", "\n"), second.replace("; ", "\n"))
    line = 9 + first.count(";")

    assert faults_of(text) == [
        f"rules.toml line {line}: 'optics' has a version {begins} on line 3 already;"
        " give the changed rule a later from"
    ]


@pytest.mark.parametrize(
    ("general", "override", "fault"),
    [
        ('every = "P1Y"', 'every = "P13M"', ", every: 'P13M' is longer than 'P1Y' of the rule for"
         " every model (line 3); an override may only shorten: write P1Y or less"),
        ('every = "P1M"', 'every = "P31D"', ", every: 'P31D' is longer than 'P1M' of the rule for"
         " every model (line 3); an override may only shorten: write P1M or less"),
        ('each = "week"', 'each = "month"', ", each: 'month' is longer than 'week' of the rule for"
         " every model (line 3); an override may only shorten: write week or less"),
        ('each = "half-year"', 'each = "year"', ", each: 'year' is longer than 'half-year' of the"
         " rule for every model (line 3); an override may only shorten: write half-year or less"),
        ('each = "week"', 'every = "P1D"', ", every: the rule for every model (line 3) has each in"
         " its place; an override keeps the way of counting: write each"),
        ('every = "P1Y"', 'each = "open-day"', ", each: the rule for every model (line 3) has every"
         " in its place; an override keeps the way of counting: write every"),
    ],
)  # fmt: skip
def test_an_override_may_only_shorten(general: str, override: str, fault: str) -> None:
    """Design 7; 42 CFR 493.1254(a)(1), "with at least the frequency specified"."""
    text = two_versions(general, f'{override}\nmodels = ["A"]')

    assert faults_of(text) == [f"rules.toml line 10{fault}"]


def test_an_override_may_not_ask_for_fewer_marks() -> None:
    text = two_versions('each = "week"\ntimes = 2', 'each = "week"\nmodels = ["A"]')

    assert faults_of(text) == [
        "rules.toml line 10, times: 1 is fewer than the 2 of the rule for every model (line 3);"
        " an override may only shorten: write 2 or more"
    ]


@pytest.mark.parametrize(
    ("general", "override"),
    [
        ('every = "P1Y"', 'every = "P12M"'),
        ('every = "P1Y"', 'every = "P365D"'),
        ('every = "P1M"', 'every = "P30D"'),
        ('each = "year"', 'each = "half-year"'),
        ('each = "week"', 'each = "open-day"'),
        # They never speak on one day, so neither lengthens the other.
        ('every = "P1M"\nuntil = 2025-12-31', 'every = "P1Y"\nfrom = 2026-01-01'),
    ],
)
def test_an_override_that_does_not_lengthen_is_taken(general: str, override: str) -> None:
    book = read_book(two_versions(general, f'{override}\nmodels = ["A"]'))

    assert len(book.kinds["microscope"].tasks("A")["optics"]) == 2


def test_a_changed_rule_may_be_longer_than_the_one_before() -> None:
    book = read_book(two_versions('every = "P1M"', 'every = "P1Y"\nfrom = 2026-01-01'))

    assert [r.from_on for r in book.kinds["microscope"].tasks("")["optics"]] == [
        dt.date(2026, 1, 1),
        None,
    ]


# No text makes anything but a book or a BookError.

SHIPPED_LINES = shipped_book().text.split("\n")
FIELD_LINES = [n for n, line in enumerate(SHIPPED_LINES) if " = " in line and line[0].isalpha()]
SCRAPS = st.sampled_from(
    ["kind = 1", "[kind]", "[kind.timer.rule]", "[[kind.timer.rule]]", "rule = [1]", "[[kind]]",
     "range = { low = 1 }", "x.y = 2", "early = 1979-05-27", "until = 07:32:00", '"" = 1', "= 1",
     "cautions = [[]]", "a = 1e400", "fee = 0x10", "[", "]", '"""', "due_after = [true]"]
)  # fmt: skip


def read_or_refused(text: str) -> RuleBook | BookError:
    """The book or its refusal; whatever else is raised fails the test."""
    try:
        return read_book(text)
    except BookError as refused:
        return refused


@settings(deadline=None)
@given(
    at=st.sampled_from(FIELD_LINES), name=st.none() | st.from_regex(r"[a-z_]{1,12}", fullmatch=True)
)
def test_a_field_deleted_or_renamed_gives_a_book_or_a_refusal(at: int, name: str | None) -> None:
    field, value = SHIPPED_LINES[at].split(" = ", 1)
    changed = [] if name is None else [f"{name} = {value}"]
    text = "\n".join([*SHIPPED_LINES[:at], *changed, *SHIPPED_LINES[at + 1 :]])

    answer = read_or_refused(text)

    required = {"name", "task", "title", "source", "each", "every"}
    if field in required and name is None:
        assert isinstance(answer, BookError)
    elif isinstance(answer, RuleBook):
        assert answer.kinds.keys() == shipped_book().kinds.keys()


@settings(deadline=None)
@given(at=st.integers(0, len(SHIPPED_LINES)), scrap=SCRAPS)
def test_a_stray_line_gives_a_book_or_a_refusal_with_a_line_of_the_file(
    at: int, scrap: str
) -> None:
    text = "\n".join([*SHIPPED_LINES[:at], scrap, *SHIPPED_LINES[at:]])

    answer = read_or_refused(text)

    if isinstance(answer, BookError):
        lines = [int(fault.where.split(",")[0].split(" line ")[1]) for fault in answer.faults]
        assert all(1 <= line <= len(SHIPPED_LINES) + 1 for line in lines)
        assert "\n".join(map(str, answer.faults)).count("\n") == len(answer.faults) - 1


@pytest.mark.parametrize("text", ["a = " + "[" * 5000, "a = " + "9" * 5000])
def test_what_toml_itself_cannot_hold_is_refused_like_any_fault(text: str) -> None:
    assert len(faults_of(text)) == 1
