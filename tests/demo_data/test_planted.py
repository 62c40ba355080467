"""Does the record hold the flaws that were planted, and few others? The literal engine judges."""

from __future__ import annotations

import datetime as dt
from decimal import Decimal
from functools import cache

import pytest

from schedules.rulebook import shipped_book
from tests.demo_data.as_reference import Row, day, demo_fleet, fleet_of, instant, planted, table
from tests.reference.answers import RefRow, gaps, status
from tests.reference.calendars import RefCalendar
from tests.reference.units import UnitOfFleet

_TODAY = dt.date(2026, 11, 25)
_FIRST = dt.date(2024, 6, 3)


def _planted(*flaws: str) -> list[Row]:
    found = [row for row in planted() if row["flaw"] in flaws]
    assert found, f"nothing planted as {flaws}"
    return found


def _entries_of(row: Row) -> list[Row]:
    """The entries of a planted row's unit and task that begin within its days."""
    last = row["to"] or _TODAY.isoformat()
    return [
        entry
        for entry in table("entries")
        if entry["property_number"] == row["property_number"]
        and row["task"] in ("", entry["task"])
        and row["from"] <= entry["on"] <= last
    ]


def _units() -> list[str]:
    return [row["property_number"] for row in table("units")]


@cache
def _status() -> dict[tuple[str, str], RefRow]:
    """The row of every unit and task on the demo's day."""
    found = {}
    for number in _units():
        answer = status(fleet_of(number), _TODAY)
        assert answer.errors == []
        found.update({(number, row.task): row for row in answer.rows})
    return found


@cache
def _gap_days() -> set[tuple[str, str, dt.date]]:
    """Unit, task and closing day of every gap until the day before the demo's."""
    return {
        (number, gap.task, gap.closes)
        for number in _units()
        for gap in gaps(fleet_of(number), _FIRST, _TODAY, _TODAY)
    }


def test_every_planted_flaw_lies_within_the_record() -> None:
    wrong = [row for row in planted() if row["to"] and not row["from"] <= row["to"]]

    assert wrong == []
    assert len(planted()) > 40


@pytest.mark.parametrize("row", _planted("gap"), ids=lambda row: row["note"])
def test_a_planted_gap_is_a_gap_from_its_first_to_its_last_day(row: Row) -> None:
    found = {
        closes
        for number, task, closes in _gap_days()
        if (number, task) == (row["property_number"], row["task"])
    }

    assert {day(row["from"]), day(row["to"])} <= found


def test_most_sites_keep_their_charts_without_gaps_in_the_last_months() -> None:
    site_of = {row["property_number"]: row["site"] for row in table("units")}
    recent = {site_of[number] for number, _, closes in _gap_days() if closes >= dt.date(2026, 9, 1)}

    assert 4 <= len(recent) <= 30


def test_six_to_ten_counties_owe_a_vendors_service() -> None:
    vendor = {
        (kind.code, rule.task)
        for kind in shipped_book().kinds.values()
        for rule in kind.rules
        if rule.vendor
    }
    owing = {
        row.county
        for row in _status().values()
        if row.state == "overdue" and (row.kind, row.task) in vendor
    }

    assert 6 <= len(owing) <= 10


@pytest.mark.parametrize("row", _planted("service owed"), ids=lambda row: row["property_number"])
def test_a_service_owed_is_overdue_since_the_last_one(row: Row) -> None:
    found = _status()[row["property_number"], row["task"]]

    assert (found.state, found.last_done) == ("overdue", day(row["from"]))


@pytest.mark.parametrize("row", _planted("late service"), ids=lambda row: row["property_number"])
def test_a_late_service_was_overdue_the_day_before(row: Row) -> None:
    day_before = day(row["from"]) - dt.timedelta(days=1)
    before = status(fleet_of(row["property_number"]), day_before)

    (found,) = [each for each in before.rows if each.task == row["task"]]
    assert found.state == "overdue"


def test_units_that_are_away_or_retired_say_so() -> None:
    states = {number: row.state for (number, _), row in _status().items()}
    away = [row for row in _planted("out of service") if not row["to"]]

    assert [states[row["property_number"]] for row in away] == ["out of service"]
    assert [states[r["property_number"]] for r in _planted("retired")] == ["retired"]


def test_one_unit_has_no_entry_at_all() -> None:
    (row,) = _planted("nothing reported")

    assert _entries_of(row) == []


def test_the_new_unit_counts_from_its_central_service_before_issue() -> None:
    (row,) = _planted("issued")
    found = _status()[row["property_number"], "annual-service"]

    assert found.last_done is not None
    assert dt.timedelta(0) < day(row["from"]) - found.last_done < dt.timedelta(days=20)
    assert found.nominal == found.last_done.replace(year=2027)


@pytest.mark.parametrize("row", _planted("batch"), ids=lambda row: row["property_number"])
def test_a_batch_was_recorded_within_one_minute_after_its_days(row: Row) -> None:
    moments = [instant(entry["recorded_at"]) for entry in _entries_of(row)]

    known = [moment for moment in moments if moment is not None]
    assert len(known) == len(moments) >= 5
    assert max(known) - min(known) <= dt.timedelta(minutes=1)
    assert min(known).date() > day(row["to"])


@pytest.mark.parametrize("row", _planted("late", "explained"), ids=lambda row: row["flaw"])
def test_what_was_recorded_late_carries_its_instant(row: Row) -> None:
    for entry in _entries_of(row):
        recorded_at = instant(entry["recorded_at"])
        assert recorded_at is not None
        assert recorded_at.date() >= day(entry["on"]) + dt.timedelta(days=5)


def test_the_impossible_entry_was_recorded_before_its_day() -> None:
    (row,) = _planted("impossible")
    (entry,) = _entries_of(row)

    recorded_at = instant(entry["recorded_at"])
    assert recorded_at is not None
    assert recorded_at.date() < day(entry["on"])


def test_only_the_planted_readings_are_out_of_range() -> None:
    kind_of = {row["property_number"]: row["kind"] for row in table("units")}
    ranges = {
        (kind.code, rule.task): rule.range
        for kind in shipped_book().kinds.values()
        for rule in kind.rules
    }
    outside = set()
    for entry in table("entries"):
        limits = ranges[kind_of[entry["property_number"]], entry["task"]]
        reading = entry.get("reading")
        if reading and limits is not None and not limits.holds(Decimal(reading)):
            outside.add((entry["property_number"], entry["on"]))

    expected = {
        (row["property_number"], entry["on"])
        for row in _planted("out of range")
        for entry in _entries_of(row)
        if entry["reading"]
    }
    assert outside == expected
    assert len(outside) >= 3


def test_conflicts_are_a_doubled_day_and_a_sunday() -> None:
    doubled, sunday = sorted(_planted("conflict"), key=lambda row: row["from"])
    marks = {
        entry["mark"]
        for entry in table("entries")
        if (entry["property_number"], entry["task"]) == (doubled["property_number"], "optics")
        and entry["on"] <= doubled["from"] <= (entry.get("to") or entry["on"])
    }

    assert marks == {"done", "unused"}
    assert day(sunday["from"]).weekday() == 6


def test_marks_without_initials_are_the_planted_ones_and_scans() -> None:
    bare = {
        (entry["property_number"], entry["on"])
        for entry in table("entries")
        if not entry["initials"] and entry["mark"] != "filled"
    }

    assert bare == {
        (row["property_number"], entry["on"])
        for row in _planted("no initials")
        for entry in _entries_of(row)
    }


def test_cell_marks_stand_on_expected_days_except_two_sundays() -> None:
    odd = set()
    for number in _units():
        fleet = fleet_of(number)
        calendars = {site.site: RefCalendar(fleet, site) for site in fleet.sites}
        of = UnitOfFleet(fleet, fleet.units[0], calendars, None)
        cells = {rule.task for rule in of.rules if rule.basis == "cell"}
        ends = {
            on
            for entry in fleet.entries
            if entry.task in cells
            for on in (entry.on, entry.to_on or entry.on)
        }
        odd |= {on for on in ends if not of.is_expected(on)}

    assert odd == {dt.date(2026, 5, 3), dt.date(2026, 10, 11)}


def test_spans_of_one_chart_never_overlap() -> None:
    last: dict[tuple[str, str], str] = {}
    overlaps = []
    for entry in table("entries"):
        if entry.get("key"):
            continue  # the story's corrections and doubled marks
        chart = entry["property_number"], entry["task"]
        if entry["on"] <= last.get(chart, ""):
            overlaps.append(entry)
        last[chart] = max(last.get(chart, ""), entry.get("to") or entry["on"])

    assert overlaps == []


def test_a_county_kept_a_day_more_and_another_a_day_less() -> None:
    fleet = demo_fleet()
    calendars = {site.site: RefCalendar(fleet, site) for site in fleet.sites}

    assert not calendars["wheeler"].is_open(dt.date(2026, 8, 7))
    assert calendars["adams"].is_open(dt.date(2026, 8, 7))
    assert calendars["banner"].is_open(dt.date(2026, 4, 24))
    assert not calendars["adams"].is_open(dt.date(2026, 4, 24))
