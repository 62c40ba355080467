"""Do the steps that `why` names agree, value by value, with the rules walked day by day?"""

from __future__ import annotations

import datetime as dt
from typing import Any, cast

from hypothesis import HealthCheck, given, settings

from fleet.services.due import due_rows
from fleet.services.kept import rebuild
from fleet.services.ports import Record
from fleet.services.questions import Question
from fleet.services.why import explain_row
from schedules.explain import in_words
from tests import reference
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.strategies import Case, cases

NOON = dt.datetime(2028, 1, 2, 12, tzinfo=dt.UTC)


def plain(value: Any) -> Any:
    return value.isoformat() if isinstance(value, dt.date) else value


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_why_names_the_steps_of_the_reference_and_the_row_of_due(case: Case) -> None:
    record = BridgedRecord(case.fleet)
    asked = cast("Record", record)
    rebuild(asked, list(record.unit_ids().values()), NoPublicHolidays())
    question = Question(now=NOON, on=case.on)

    for row in due_rows(asked, NoPublicHolidays(), question).rows:
        found = explain_row(asked, NoPublicHolidays(), row.property_number, row.task, question)

        assert found.row == row
        assert row.state in found.steps[-1]
        steps = reference.steps(case.fleet, row.property_number, row.task, case.on)
        if steps is None:
            assert found.facts == {}
            continue
        assert found.facts["base"] == plain(steps.base)
        assert found.facts["kept"] == steps.k
        assert found.facts["nominal_counted"] == plain(steps.nominal_after_step_2)
        assert found.facts["nominal_after_event"] == plain(steps.nominal_after_step_3)
        assert found.facts["nominal_after_outages"] == plain(steps.nominal_after_step_4)
        if steps.due is not None:
            assert any(in_words(steps.due) in sentence for sentence in found.steps)
