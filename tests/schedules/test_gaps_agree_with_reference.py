"""Are the gaps of every chart those that the rules of computation give, walked day by day?"""

from __future__ import annotations

import datetime as dt

from hypothesis import HealthCheck, given, settings

from fleet.services.due import Sheet, sheets
from fleet.services.kept import rebuild
from fleet.services.questions import Question
from schedules.cells import gaps
from schedules.dates import date_of, day_of
from tests import reference
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.strategies import Case, cases

NOON = dt.datetime(2028, 1, 2, 12, tzinfo=dt.UTC)
YEARS = dt.timedelta(days=3 * 366)


def gaps_of(sheet: Sheet, case: Case) -> list[reference.RefGap]:
    """Every gap of the sheet as the reference writes it."""
    fleet, found = sheet.fleet, []
    duties = fleet.duties
    start_on = min([case.on, case.gaps_from, *(u.in_service_on for u in fleet.units)])
    index = fleet.index(start_on - YEARS, max(case.on, case.gaps_to) + YEARS)
    span = (day_of(on) for on in (case.gaps_from, case.gaps_to, case.on))
    first_day, last_day, on = span
    for place, versions in enumerate(duties.versions):
        if not any(rule.each for rule in versions):
            continue
        units = duties.unit[duties.rows(place)]
        first_row = duties.starts[place]
        for some in gaps(
            versions, fleet.columns, units, index, sheet.marks, first_row, first_day, last_day, on
        ):
            days = (some.from_days, some.to_days, some.opens, some.closes)
            for row, *ends in zip(
                some.rows.tolist(), *(column.tolist() for column in days), strict=True
            ):
                number = fleet.units[units[row]].property_number
                task = fleet.tasks[place]
                found.append(reference.RefGap(number, task, *(date_of(end) for end in ends)))
    return found


@settings(max_examples=300, deadline=None, suppress_health_check=list(HealthCheck))
@given(case=cases())
def test_the_gaps_of_a_span_agree_with_the_reference(case: Case) -> None:
    record = BridgedRecord(case.fleet)
    rebuild(record, list(record.unit_ids().values()), NoPublicHolidays())  # type: ignore[arg-type]
    question = Question(now=NOON, on=case.on, known_at=case.known_at)

    (sheet,) = sheets(record, NoPublicHolidays(), question)  # type: ignore[arg-type]

    expected = reference.gaps(case.fleet, case.gaps_from, case.gaps_to, case.on, case.known_at)
    assert sorted(gaps_of(sheet, case)) == sorted(expected)
