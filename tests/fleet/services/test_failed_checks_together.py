"""Of several failures and passes of one unit, which keep it out of use, and how long?"""

from __future__ import annotations

from dataclasses import replace

import pytest

from fleet.domain.records import Outage
from fleet.domain.register import Change
from fleet.services.actions import open_action
from fleet.services.entry_effects import Effects, effects
from fleet.services.mark import fail, strike
from fleet.services.outages import end_outage
from tests.fakes import FakeRecord
from tests.fleet.services.action_fleet import BENCH, BOOK, HOLIDAYS, entry, fill, november
from tests.fleet.services.test_failed_checks import drip, outages, put


@pytest.fixture
def record() -> FakeRecord:
    """A record of three units without entries."""
    made = FakeRecord()
    fill(made)
    return made


TWO_CHECKS = (
    BOOK
    + """
[[kind.pipette.rule]]
task = "volume-check"
title = "Check the volume"
every = "P1M"
stops_use = true
source = "common practice, no source"
"""
)


@pytest.fixture
def two(record: FakeRecord) -> FakeRecord:
    """The same record, whose pipette has two checks that stop use."""
    record.add_book(TWO_CHECKS, "1" * 64, True, BENCH)
    return record


def fail_of(record: FakeRecord, task: str, day: int) -> Effects:
    failed = replace(entry(f"P-1 {task}", day), note="no good")
    return fail(record, HOLIDAYS, failed, anyway=False, stamp=BENCH)


def tasks(effects: Effects) -> list[str]:
    return [action.task for action in effects.still]


def test_a_unit_stays_out_until_every_check_that_failed_is_passed(two: FakeRecord) -> None:
    """42 CFR 493.1254(b)(2)(ii): each function check, not the first that passes."""
    fail_of(two, "leak-check", 23)
    second = fail_of(two, "volume-check", 23)
    assert (second.began, tasks(second)) == (None, ["leak-check", "volume-check"])

    first = put(two, entry("P-1 leak-check", 24))
    assert (outages(two), first.ended) == ([(november(23), None)], None)
    assert tasks(first) == ["volume-check"]

    ended = put(two, entry("P-1 volume-check", 25)).ended
    assert outages(two) == [(november(23), november(25))]
    assert ended is not None


def test_a_check_that_fails_later_in_the_outage_keeps_the_unit_out(two: FakeRecord) -> None:
    fail_of(two, "leak-check", 20)
    fail_of(two, "volume-check", 23)

    put(two, entry("P-1 leak-check", 24))

    assert outages(two) == [(november(20), None)]


def test_a_late_pass_between_two_failures_leaves_the_second_standing(record: FakeRecord) -> None:
    drip(record, 18)
    drip(record, 20)

    found = put(record, entry("P-1 leak-check", 19))

    assert outages(record) == [(november(18), november(19)), (november(20), None)]
    assert (found.ended and found.ended.to_on, tasks(found)) == (november(19), ["leak-check"])


def test_the_second_of_two_failing_readings_begins_on_the_day_after_it(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 17, "100.9"))
    put(record, entry("B-1 check-weight", 20, "100.8"), anyway=True)

    put(record, entry("B-1 check-weight", 19, "100.0"), anyway=True)

    assert outages(record) == [(november(18), november(19)), (november(21), None)]


def struck(record: FakeRecord, key: str) -> Effects:
    before = record.register()
    stored = strike(record, HOLIDAYS, key, "another balance", None, stamp=BENCH)
    return effects(record, stored.entry, before)


def test_a_struck_failure_withdraws_its_outage_and_says_so(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 23, "100.9", key="slip"))

    found = struck(record, "slip")

    assert outages(record) == []
    assert found.withdrawn is not None
    assert (found.withdrawn.from_on, found.still) == (november(24), ())


def test_a_struck_failure_leaves_the_outage_to_the_other_failure(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 20, "100.9", key="slip"))
    put(record, entry("B-1 check-weight", 23, "100.8"), anyway=True)

    found = struck(record, "slip")

    assert outages(record) == [(november(24), None)]
    assert tasks(found) == ["check-weight"]


def test_a_struck_pass_of_the_first_day_brings_the_outage_back(record: FakeRecord) -> None:
    put(record, entry("B-1 check-weight", 24, "100.9"))
    put(record, entry("B-1 check-weight", 25, "100.0", key="pass"))
    assert outages(record) == []

    struck(record, "pass")

    assert outages(record) == [(november(25), None)]


def test_an_outage_that_a_person_ended_is_not_reopened(record: FakeRecord) -> None:
    drip(record, 18)
    end_outage(record, HOLIDAYS, record.register().units[("P-1",)], november(20), BENCH)

    drip(record, 23)
    put(record, entry("P-1 leak-check", 25))

    assert outages(record) == [(november(18), november(20)), (november(23), november(25))]


def test_an_outage_set_by_a_person_is_never_touched(record: FakeRecord) -> None:
    broken = Outage(property_number="B-1", from_on=november(20), to_on=None, reason="dropped")
    record.change([Change(old=None, new=broken, initial=False)], BENCH)
    put(record, entry("B-1 check-weight", 18, "100.9", key="slip"))
    assert outages(record) == [(november(20), None), (november(19), november(20))]

    struck(record, "slip")

    assert outages(record) == [(november(20), None)]


@pytest.mark.parametrize("is_first", [True, False])
def test_on_one_day_a_pass_counts_only_after_the_failure(
    record: FakeRecord, is_first: bool
) -> None:
    readings = ["100.0", "100.9"] if is_first else ["100.9", "100.0"]
    for reading in readings:
        put(record, entry("B-1 check-weight", 24, reading), anyway=True)

    assert outages(record) == ([(november(25), None)] if is_first else [])


def test_on_one_day_a_pass_after_a_failure_without_a_number_ends_it(record: FakeRecord) -> None:
    drip(record, 24)

    put(record, entry("P-1 leak-check", 24))

    assert outages(record) == []


def test_an_action_that_a_person_opened_about_a_check_is_no_failure(two: FakeRecord) -> None:
    open_action(two, "P-1", "order tips", task="volume-check", on=november(23), stamp=BENCH)
    drip(two, 23)

    put(two, entry("P-1 leak-check", 24))

    assert outages(two) == [(november(23), november(24))]


def test_an_outage_that_was_withdrawn_does_not_come_back(two: FakeRecord) -> None:
    """A failure without a number has no entry to strike: its outage is withdrawn by a file."""
    fail_of(two, "volume-check", 18)
    (wrong,) = two.register().outages.values()
    two.change([Change(old=wrong, new=None, initial=False)], BENCH)

    drip(two, 23)
    put(two, entry("P-1 leak-check", 24))

    assert outages(two) == [(november(23), november(24))]
