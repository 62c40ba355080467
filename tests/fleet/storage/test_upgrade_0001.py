"""A database of version 0001 with a fleet in it is upgraded, and nothing of its record changes."""

from __future__ import annotations

from pathlib import Path

import pytest

from fleet.storage import upgrade
from tests.studies.survival.evidence import flaws
from tests.studies.survival.invented import invented
from tests.studies.survival.places import Place
from tests.studies.survival.raw import fingerprint, tables, writing
from tests.studies.survival.upgrades import tried
from tests.studies.survival.version_0001 import build

WRITTEN_BY_0001 = {
    "entry": "b37c314c88ad8a8405a7b049f358140f8a16409eb25894b59cd7371737670e2f",
    "change_line": "7a2ad8ccb8924de2208a6e776227e7fec5c7e2a06c7bbf04c7ea3ee9cfa46177",
    "rule_book": "6d8e8435eebd3dc29b8e9bb18a2c1258b3273dfb79753eba392d34affdf27702",
    "marked_year": "d840866df3b973c9e19d860e23e926be55c6a2a7dc77f8cfc079ba2907dc9d56",
}
"""Of all rows, when version 0001 itself (0.1.0, 2026-11-25) loaded `invented(5, 120)`."""


def test_the_frozen_builder_writes_what_version_0001_wrote(place: Place) -> None:
    url = place.fresh()
    build(url, invented(5, 120), [])

    found = tables(url)
    assert {name: fingerprint({name: found[name]}) for name in WRITTEN_BY_0001} == WRITTEN_BY_0001


def test_a_populated_database_comes_through_an_upgrade(place: Place) -> None:
    assert tried(place, invented(12, 120)) == []


@pytest.mark.parametrize(
    ("harm", "told"),
    [
        (
            "DELETE FROM entry WHERE unit_id = 1 AND seq = 3",
            ["entry/M-001 line 4 does not follow the one before it"],
        ),
        (
            "UPDATE entry SET note = 'forged' WHERE unit_id = 1 AND seq = 3",
            ["entry/M-001 line 3 is not what was hashed"],
        ),
        (
            "DELETE FROM chain_head WHERE chain = 'rule_book'",
            ["the head of rule_book is not its end"],
        ),
        (
            "UPDATE site SET county = 'Other' WHERE site = 'alder'",
            ["table site is not what its changes add up to"],
        ),
        (
            "DELETE FROM marked_year WHERE unit_id = 1 AND task = 'annual-service'",
            ["1 kept years are not what the entries add up to"],
        ),
        (
            "UPDATE holiday_year SET names = '{}' WHERE seq = 1",
            ["holiday_year line 1 is not what was hashed"],
        ),
    ],
)
def test_the_check_sees_what_an_upgrade_would_have_lost(
    tmp_path: Path, harm: str, told: list[str]
) -> None:
    url = f"sqlite:///{tmp_path / 'fleet.db'}"
    year = {
        "country": "US",
        "subdivision": "NE",
        "year": 2026,
        "names": '{"2026-01-01":"New Year"}',
    }
    build(url, invented(2, 20), [{**year, "origin": "invented"}])
    upgrade(url)
    assert flaws(tables(url)) == []
    with writing(url) as connection:
        for trigger in ("entry_no_delete", "entry_no_update", "holiday_year_no_update"):
            connection.execute(f"DROP TRIGGER {trigger}")
        connection.execute(harm)

    said = flaws(tables(url))

    assert said[: len(told)] == told
