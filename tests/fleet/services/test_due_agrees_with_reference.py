"""Does `due` agree, field by field, with the rules of computation walked day by day?"""

from __future__ import annotations

import datetime as dt
from typing import Any

from hypothesis import HealthCheck, given, settings

from fleet.domain.answers import StatusRow
from fleet.services.due import due_rows
from fleet.services.kept import rebuild
from fleet.services.questions import Question
from tests import reference
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.strategies import Case, cases

NOON = dt.datetime(2028, 1, 2, 12, tzinfo=dt.UTC)


def by_unit_and_task(rows: list[Any]) -> dict[tuple[str, str], dict[str, Any]]:
    names = StatusRow._fields
    return {
        (row.property_number, row.task): {name: getattr(row, name) for name in names}
        for row in rows
    }


def assert_agrees(case: Case, known_at: dt.datetime | None) -> None:
    record = BridgedRecord(case.fleet)
    rebuild(record, list(record.unit_ids().values()), NoPublicHolidays())  # type: ignore[arg-type]
    question = Question(now=NOON, on=case.on, known_at=known_at)

    answer = due_rows(record, NoPublicHolidays(), question)  # type: ignore[arg-type]

    expected = reference.status(case.fleet, case.on, known_at)
    assert by_unit_and_task(answer.rows) == by_unit_and_task(expected.rows)
    assert len(answer.failures) == len(expected.errors)
    for failure, error in zip(sorted(answer.failures), sorted(expected.errors), strict=True):
        assert failure.startswith(f"unit {error.property_number}, {error.task}: site ")


@settings(max_examples=400, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_every_field_of_due_agrees_with_the_reference(case: Case) -> None:
    assert_agrees(case, None)


@settings(max_examples=200, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_due_as_known_at_an_instant_agrees_with_the_reference(case: Case) -> None:
    assert_agrees(case, case.known_at)
