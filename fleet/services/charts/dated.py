"""How do the duties that are due by date stand, as the head of a chart tells it?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping

from fleet.domain.answers import StatusRow
from fleet.domain.evidence import ServiceReport
from fleet.services.charts.facts import DatedDuty
from fleet.services.charts.rows import RowPlans
from fleet.services.readings import rule_on
from schedules.rules import Kind

__all__ = ["Reports", "Rows", "dated_duties"]

Rows = Mapping[tuple[str, str], StatusRow]
"""The rows of `due` by property number and task."""
Reports = Mapping[tuple[str, ...], ServiceReport]
"""A register's service reports by their keys."""


def dated_duties(
    kind: Kind, model: str, plans: RowPlans, number: str, on: dt.date, rows: Rows, reports: Reports
) -> Iterator[DatedDuty]:
    """The duties of a chart's head, as they stand on a day; number: the unit's.

    Where no version that counts by date is in force that day, or there is no answer, the dates are
    None and the state is ''.
    """
    tasks = kind.tasks(model)
    for versions in plans.dated:
        task = versions[0].task
        rule, row = rule_on(tasks[task], on), rows.get((number, task))
        last_done = row.last_done if row else None
        report = reports.get((number, task, last_done.isoformat())) if last_done else None
        dates = row if rule is not None and rule.every is not None else None
        yield DatedDuty(
            rule=rule if rule is not None and rule.every is not None else versions[0],
            last_done=last_done,
            done_by=report.vendor if report else "",
            opens=dates.opens if dates else None,
            due=dates.due if dates else None,
            limit=dates.limit if dates else None,
            state=dates.state if dates else "",
        )
