"""Are the flaws planted in the demo found in its database, and no others?"""

from __future__ import annotations

import datetime as dt
from contextlib import closing
from importlib.resources import as_file
from pathlib import Path

import pytest

import demo_data
from fleet.domain.answers import FindingRow
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.findings import finding_rows
from fleet.services.kept import rebuild
from fleet.services.load import load
from fleet.services.ports import Stamp
from fleet.services.questions import Question
from fleet.services.returned_late import RETURNED_LATE
from fleet.storage import create, open_store
from tests.demo_data.as_reference import Row, day, day_or_none, fleet_of, planted, table
from tests.fakes import NoProgress
from tests.reference.answers import gaps

FIRST = dt.date(2024, 6, 3)
EVENING = dt.datetime(2026, 11, 25, 23, 0, tzinfo=dt.UTC)
PLANTED_AS = {
    "batch": {"batch"},
    "conflict": {"conflict"},
    "impossible": {"impossible"},
    "no initials": {"no initials"},
    "corrected": {"corrected"},
    "late": {"late", "batch", "explained", "corrected"},
}
"""The flaws that may bring a finding: what is filled in at once, explained or replaced is late."""


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> list[FindingRow]:
    """Every finding of the demo on its day, from its files through a database."""
    holidays = PublicHolidayCalendar()
    url = f"sqlite:///{tmp_path_factory.mktemp('demo') / 'fleet.db'}"
    create(url)
    with (
        closing(open_store(url, clock=lambda: EVENING)) as store,
        as_file(demo_data.files()) as files,
    ):
        load(
            store,
            read_tables([Path(files)]),
            holidays,
            lambda record, unit_ids: rebuild(record, unit_ids, holidays),
            stamp=Stamp(at=EVENING, by="demo", source="file"),
            progress=NoProgress(),
        )
        question = Question(now=EVENING, on=demo_data.today())
        with store.begin() as record:
            return finding_rows(record, holidays, FIRST, demo_data.today(), question)


def speaks_of(row: FindingRow, flaw: Row) -> bool:
    """Say whether a finding speaks of a planted row: its unit and task, on one of its days."""
    on = row.on or row.closes
    assert on is not None
    last_on = day_or_none(flaw["to"]) or demo_data.today()
    is_chart = row.property_number == flaw["property_number"] and flaw["task"] in ("", row.task)
    return is_chart and day(flaw["from"]) <= on <= last_on


@pytest.mark.parametrize(
    "flaw",
    [row for row in planted() if row["flaw"] in {"gap", *PLANTED_AS}],
    ids=lambda row: f"{row['flaw']} {row['property_number']} {row['from']}",
)
def test_a_planted_flaw_is_found_from_its_first_to_its_last_day(
    found: list[FindingRow], flaw: Row
) -> None:
    own = [row for row in found if row.finding == flaw["flaw"] and speaks_of(row, flaw)]

    days = {row.on or row.closes for row in own}
    assert day(flaw["from"]) in days
    if flaw["flaw"] != "batch":
        assert day(flaw["to"]) in days


@pytest.mark.parametrize("finding", PLANTED_AS)
def test_every_finding_has_been_planted(found: list[FindingRow], finding: str) -> None:
    rows = [row for row in found if row.finding == finding]

    flaws = [row for row in planted() if row["flaw"] in PLANTED_AS[finding]]
    assert rows
    assert [row for row in rows if not any(speaks_of(row, flaw) for flaw in flaws)] == []


def test_only_what_was_planted_is_found(found: list[FindingRow]) -> None:
    """Nothing is backdated either: all of the demo comes with its first load."""
    assert {row.finding for row in found} == {"gap", RETURNED_LATE, *PLANTED_AS}


def test_the_charts_that_came_back_late_are_those_planted(found: list[FindingRow]) -> None:
    """A return is planted by one unit of the site, and speaks of the whole site's charts."""
    site_of = {unit["property_number"]: unit["site"] for unit in table("units")}
    flaws = [flaw for flaw in planted() if flaw["flaw"] == RETURNED_LATE]

    assert flaws
    assert {
        (row.site, row.period_from, row.period_to) for row in found if row.finding == RETURNED_LATE
    } == {(site_of[flaw["property_number"]], day(flaw["from"]), day(flaw["to"])) for flaw in flaws}


def test_the_batches_name_every_mark_of_their_days(found: list[FindingRow]) -> None:
    batches = [row for row in found if row.finding == "batch"]

    assert {row.property_number: len((row.entries or "").split("; ")) for row in batches} == {
        flaw["property_number"]: sum(
            entry["property_number"] == flaw["property_number"]
            and entry["task"] == flaw["task"]
            and flaw["from"] <= entry["on"] <= flaw["to"]
            for entry in table("entries")
        )
        for flaw in planted()
        if flaw["flaw"] == "batch"
    }


def test_the_gaps_of_every_fourth_unit_are_those_of_the_literal_engine(
    found: list[FindingRow],
) -> None:
    units = [row["property_number"] for row in table("units")][::4]
    expected = [
        tuple(gap)
        for number in units
        for gap in gaps(fleet_of(number), FIRST, demo_data.today(), demo_data.today())
    ]

    assert len(expected) > 100
    assert sorted(
        (row.property_number, row.task, row.period_from, row.period_to, row.opens, row.closes)
        for row in found
        if row.finding == "gap" and row.property_number in units
    ) == sorted(expected)
