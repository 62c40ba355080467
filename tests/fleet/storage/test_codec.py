"""Register records as change lines hold them."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace

import pytest

from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Role,
)
from fleet.storage.codec import from_json, to_json
from tests.fleet.storage.examples import SITE, UNIT

DAY = dt.date(2026, 3, 2)

RECORDS: list[RegisterRecord] = [
    SITE,
    replace(SITE, latitude=None, longitude=0.1 + 0.2, name='"Älder"\n'),
    Pattern(site="alder-creek", from_on=DAY, open_days="Mon Tue"),
    Holiday(site="", country="US", subdivision="NE", on=DAY, name="Arbor Day"),
    Closure(site="alder-creek", from_on=DAY, to_on=DAY, reason="flood", open=True),
    UNIT,
    replace(UNIT, retired_on=DAY, record_from_on=DAY),
    Placement(property_number="M-001", site="alder-creek", from_on=DAY),
    Outage(property_number="M-001", from_on=DAY, to_on=None, reason="lamp"),
    Person(email="r.alder@lab.example", name="R. Alder", role=Role.SITE_LEAD, site="alder-creek"),
]


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: type(record).__name__)
def test_record_reads_back_as_it_was_written(record: RegisterRecord) -> None:
    again = from_json(type(record), to_json(record))

    assert again == record
    assert type(again.key[-1]) is str


def test_no_number_in_a_change_line_is_a_float() -> None:
    values = json.loads(to_json(replace(SITE, latitude=41.25)))

    assert values["latitude"] == "41.25"
    assert not [value for value in values.values() if isinstance(value, float)]


def test_field_missing_from_an_old_line_takes_its_default() -> None:
    values = json.loads(to_json(UNIT))
    del values["record_from_on"]

    assert from_json(type(UNIT), json.dumps(values)) == UNIT
