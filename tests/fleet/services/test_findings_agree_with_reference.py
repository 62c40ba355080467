"""Do the findings agree, day by day and entry by entry, with the audit walked literally?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import cast

from hypothesis import HealthCheck, given, settings

from fleet.domain.answers import FindingRow
from fleet.services.findings import finding_rows
from fleet.services.kept import rebuild
from fleet.services.ports import Record
from fleet.services.questions import Question
from tests import reference
from tests.fleet.services.literal_audit import Finding, literal_findings
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.reference.calendars import RefCalendar
from tests.reference.dates import days_between
from tests.reference.records import RefEntry
from tests.reference.units import UnitOfFleet
from tests.strategies import Case, cases

NOON = dt.datetime(2028, 1, 2, 12, tzinfo=dt.UTC)
LONG_AGO, FAR_AHEAD = dt.date(2000, 1, 1), dt.date(2100, 1, 1)
drawn = settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))


def found(
    case: Case, from_on: dt.date, to_on: dt.date, known_at: dt.datetime | None, finding: str | None
) -> list[FindingRow]:
    bridged = BridgedRecord(case.fleet)
    record = cast("Record", bridged)
    rebuild(record, list(bridged.unit_ids().values()), NoPublicHolidays())
    question = Question(now=NOON, on=case.on, known_at=known_at)
    return finding_rows(record, NoPublicHolidays(), from_on, to_on, question, finding)


def assert_gaps_agree(case: Case, known_at: dt.datetime | None) -> None:
    rows = found(case, case.gaps_from, case.gaps_to, known_at, "gap")

    expected = reference.gaps(case.fleet, case.gaps_from, case.gaps_to, case.on, known_at)
    answered = sorted(
        (r.property_number, r.task, r.period_from, r.period_to, r.opens, r.closes) for r in rows
    )
    assert answered == sorted(tuple(gap) for gap in expected)
    calendars = {site.site: RefCalendar(case.fleet, site) for site in case.fleet.sites}
    of = {
        u.property_number: UnitOfFleet(case.fleet, u, calendars, known_at) for u in case.fleet.units
    }
    standing = standing_entries(case, known_at)
    for row in rows:
        assert row.closes is not None
        assert row.site == of[row.property_number].calendar_on(row.closes).site.site
        assert row.entries == partial_keys(case, row, of[row.property_number], standing)


def standing_entries(case: Case, known_at: dt.datetime | None) -> list[RefEntry]:
    known = [
        entry
        for entry in case.fleet.entries
        if known_at is None or (entry.recorded_at or case.fleet.loaded_at) <= known_at
    ]
    struck = {entry.strikes for entry in known}
    return [entry for entry in known if entry.mark and entry.key not in struck]


def partial_keys(
    case: Case, row: FindingRow, of: UnitOfFleet, standing: list[RefEntry]
) -> str | None:
    """The keys of the standing entries that speak of a day of the gap's period."""
    assert row.period_from is not None
    assert row.period_to is not None
    period = days_between(row.period_from, min(row.period_to, case.on))
    keys = []
    for entry in standing:
        is_one = entry.to_on in (None, entry.on)
        days = [d for d in days_between(entry.on, entry.to_on or entry.on) if d in period]
        if (entry.property_number, entry.task) == (row.property_number, row.task) and any(
            is_one or of.is_expected(day) for day in days
        ):
            keys.append(entry.key)
    return "; ".join(keys) or None


@drawn
@given(case=cases())
def test_gaps_agree_with_the_reference(case: Case) -> None:
    assert_gaps_agree(case, None)


@drawn
@given(case=cases())
def test_gaps_as_known_at_an_instant_agree_with_the_reference(case: Case) -> None:
    assert_gaps_agree(case, case.known_at)


@drawn
@given(case=cases())
def test_all_other_findings_agree_with_the_literal_audit(case: Case) -> None:
    rows = found(case, LONG_AGO, FAR_AHEAD, case.known_at, None)

    others = sorted(as_finding(row) for row in rows if row.finding != "gap")
    assert others == literal_findings(case.fleet, case.on, case.known_at, (LONG_AGO, FAR_AHEAD))


def as_finding(row: FindingRow) -> Finding:
    assert row.on is not None
    assert row.entries is not None
    return row.finding, row.property_number, row.task, row.on, tuple(row.entries.split("; "))


@drawn
@given(case=cases())
def test_a_span_lists_the_findings_whose_day_lies_in_it(case: Case) -> None:
    rows = found(case, LONG_AGO, FAR_AHEAD, case.known_at, None)

    within = [
        row for row in rows if case.gaps_from <= (row.on or row.closes or LONG_AGO) <= case.gaps_to
    ]
    listed = found(case, case.gaps_from, case.gaps_to, case.known_at, None)
    assert of_one_day(listed) == of_one_day(within)


@drawn
@given(case=cases())
def test_the_findings_of_a_span_agree_with_the_literal_audit(case: Case) -> None:
    """What speaks of several days is told in every window that has one of them."""
    window = case.gaps_from, case.gaps_to
    rows = found(case, *window, case.known_at, None)

    others = sorted(as_finding(row) for row in rows if row.finding != "gap")
    assert others == literal_findings(case.fleet, case.on, case.known_at, window)


@drawn
@given(case=cases())
def test_what_was_recorded_ahead_of_its_days_agrees_with_the_literal_audit(case: Case) -> None:
    """Every other entry that gives its instant was recorded some days before its last day."""
    ahead = [
        replace(entry, recorded_at=entry.recorded_at - dt.timedelta(days=25))
        if entry.recorded_at and number % 2
        else entry
        for number, entry in enumerate(case.fleet.entries)
    ]
    case = replace(case, fleet=replace(case.fleet, entries=tuple(ahead)))
    window = case.on - dt.timedelta(days=10), case.on + dt.timedelta(days=40)

    rows = found(case, *window, case.known_at, "impossible")

    expected = literal_findings(case.fleet, case.on, case.known_at, window)
    assert sorted(map(as_finding, rows)) == [row for row in expected if row[0] == "impossible"]


def of_one_day(rows: list[FindingRow]) -> list[FindingRow]:
    return [row for row in rows if row.finding not in ("impossible", "late", "batch")]
