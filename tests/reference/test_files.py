"""Does a fleet of the reference become the files of design section 7?"""

from __future__ import annotations

import csv
import re
import tomllib
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings

from tests.reference import RefClosure, RefEvery, RefFleet, RefOutage, RefPattern, RefRule
from tests.reference.files import rules_text, write_folder
from tests.reference.small import a_move, an_entry, day, instant, one_unit
from tests.strategies import Case, cases

COLUMNS = {
    "sites": "site name county region country subdivision time_zone open_days latitude longitude"
    " postal_code lead_email",
    "patterns": "site from open_days",
    "holidays": "site country subdivision on name",
    "closures": "site from to reason open",
    "units": "property_number kind manufacturer model serial site in_service_on retired_on"
    " record_from",
    "placements": "property_number site from",
    "outages": "property_number from to reason",
    "entries": "property_number task on to mark initials note reading recorded_at key strikes why",
}


def a_full_fleet() -> RefFleet:
    rule = RefRule(
        kind="microscope",
        task="service",
        every=RefEvery(6, "M"),
        early=45,
        keep_anchor=10,
        due_after=frozenset({"repaired", "moved"}),
        first="at-start",
        roll="modified-following",
        from_on=day("2025-01-01"),
        models=("A1",),
    )
    return replace(
        one_unit(rule, retired_on=day("2026-12-31")),
        patterns=[RefPattern(site="Alder", from_on=day("2026-01-01"), open_days=(1, 3))],
        closures=[
            RefClosure(site="", from_on=day("2026-05-05"), to_on=day("2026-05-05"), reason="flood")
        ],
        placements=[a_move("2026-02-02")],
        outages=[RefOutage(property_number="U-1", from_on=day("2026-03-03"), to_on=None)],
        entries=[
            an_entry("2026-01-05", key="k-a", recorded_at=instant("2026-01-06")),
            an_entry("2026-01-05", None, key="k-b", strikes="k-a"),
        ],
    )


def test_every_table_has_the_columns_of_the_contract(tmp_path: Path) -> None:
    write_folder(a_full_fleet(), tmp_path)

    headers = {
        path.stem: path.read_text(encoding="utf-8").splitlines()[0].replace(",", " ")
        for path in tmp_path.glob("*.csv")
    }
    assert headers == COLUMNS


def test_rows_are_written_as_the_contract_asks(tmp_path: Path) -> None:
    write_folder(a_full_fleet(), tmp_path)

    def first_row(name: str) -> str:
        return (tmp_path / f"{name}.csv").read_text(encoding="utf-8").splitlines()[1]

    assert first_row("patterns") == "Alder,2026-01-01,Tue Thu"
    assert first_row("holidays") == "Alder,US,NE,2021-01-01,New Year's Day"
    assert first_row("closures") == ",2026-05-05,,flood,"
    assert first_row("units") == (
        "U-1,microscope,Invented Works,A1,S-U-1,Alder,2025-03-17,2026-12-31,"
    )
    assert first_row("outages") == "U-1,2026-03-03,,repair"
    assert first_row("entries") == (
        "U-1,service,2026-01-05,,done,QZ,,,2026-01-06T12:00:00+00:00,k-a,,"
    )


def test_the_rule_book_is_written_with_what_differs_from_the_defaults() -> None:
    book = tomllib.loads(rules_text(a_full_fleet().rules))

    assert book == {
        "kind": {
            "microscope": {
                "name": "Microscope",
                "rule": [
                    {
                        "task": "service",
                        "title": "service of the microscope",
                        "source": "invented for the tests, no source",
                        "every": "P6M",
                        "early": 45,
                        "roll": "modified-following",
                        "keep_anchor": 10,
                        "due_after": ["moved", "repaired"],
                        "first": "at-start",
                        "from": day("2025-01-01"),
                        "models": ["A1"],
                    }
                ],
            }
        }
    }


def test_a_site_without_holidays_of_its_own_is_refused(tmp_path: Path) -> None:
    fleet = one_unit()
    message = "site Birch states no holiday of its own in 2026"

    with pytest.raises(ValueError, match=f"^{re.escape(message)}$"):
        write_folder(
            replace(
                fleet,
                holidays=[h for h in fleet.holidays if (h.site, h.on.year) != ("Birch", 2026)],
            ),
            tmp_path,
        )


@settings(
    max_examples=20, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(case=cases())
def test_every_drawn_fleet_is_written_row_by_row(tmp_path: Path, case: Case) -> None:
    write_folder(case.fleet, tmp_path)

    with (tmp_path / "units.csv").open(encoding="utf-8", newline="") as file:
        numbers = [line["property_number"] for line in csv.DictReader(file)]
    assert numbers == [unit.property_number for unit in case.fleet.units]
    book = tomllib.loads((tmp_path / "rules.toml").read_text(encoding="utf-8"))
    written = sum(len(kind["rule"]) for kind in book["kind"].values())
    assert written == len(case.fleet.rules)
