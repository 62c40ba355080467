"""Is what one rule book has and another has not told rule by rule, field by field?"""

from __future__ import annotations

from fleet.services.setup.book_changes import book_changes
from fleet.services.setup.record_changes import FieldChange, RecordChange, Sort
from schedules.rulebook import read_book, shipped_book

BOOK = """\
[kind.balance]
name = "Analytical balance"

[[kind.balance.rule]]
task = "level"
title = "Level it"
each = "open-day"
source = "common practice, no source"
range = { low = 2.0, high = 8.0, unit = "C" }

[[kind.balance.rule]]
task = "service"
title = "Service"
every = "P1Y"
due_after = ["moved"]
source = "common practice, no source"
"""


def told(before: str, after: str) -> list[RecordChange]:
    return list(book_changes(read_book(before), read_book(after)))


def test_the_same_book_has_no_change() -> None:
    assert told(BOOK, BOOK + "\n# a remark\n") == []
    assert list(book_changes(shipped_book(), shipped_book())) == []


def test_a_field_is_told_with_what_it_held_and_holds() -> None:
    after = BOOK.replace('"P1Y"', '"P6M"').replace('["moved"]', '["repaired", "moved"]')
    after = after.replace("high = 8.0", "high = 6.0")
    assert told(BOOK, after) == [
        RecordChange(
            "rules",
            "balance level",
            Sort.CHANGED,
            [FieldChange("range", "2.0 to 8.0 C", "2.0 to 6.0 C")],
        ),
        RecordChange(
            "rules",
            "balance service",
            Sort.CHANGED,
            [
                FieldChange("every", "P1Y", "P6M"),
                FieldChange("due_after", "moved", "moved; repaired"),
            ],
        ),
    ]


def test_a_new_version_of_a_rule_is_new_beside_the_old_one() -> None:
    version = BOOK[BOOK.rindex("[[") :].replace('"P1Y"', '"P6M"\nfrom = 2027-01-01')
    (change,) = told(BOOK, f"{BOOK}\n{version}")
    assert (change.name, change.sort) == ("balance service from 2027-01-01", Sort.NEW)
    assert FieldChange("every", "", "P6M") in change.fields
    assert FieldChange("from", "", "2027-01-01") in change.fields


def test_kinds_and_rules_that_go_are_told() -> None:
    other = BOOK.replace("kind.balance", "kind.scale").replace("Analytical balance", "Scale")
    sorts = [(one.table, one.name, one.sort.value) for one in told(BOOK, other)]
    assert sorts == [
        ("kinds", "balance", "gone"),
        ("kinds", "scale", "new"),
        ("rules", "balance level", "gone"),
        ("rules", "balance service", "gone"),
        ("rules", "scale level", "new"),
        ("rules", "scale service", "new"),
    ]
