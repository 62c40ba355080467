"""What does the record lack, and what in it is doubtful: the findings of the audit (design 4.7)?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from operator import attrgetter

from fleet.domain.answers import FindingRow
from fleet.domain.records import Unit
from fleet.errors import BadInput, Fault
from fleet.services.backdated import backdated_rows
from fleet.services.due import Sheet, sheets
from fleet.services.entry_findings import ENTRY_FINDINGS, entry_findings
from fleet.services.gap_findings import gap_rows
from fleet.services.narrow import units_let_through
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import Narrow, Question
from fleet.services.returned_late import RETURNED_LATE, returned_late_rows

__all__ = ["FINDINGS", "finding_rows"]

FINDINGS = ("gap", *ENTRY_FINDINGS, "backdated", RETURNED_LATE)
"""The findings there are."""


def finding_rows(
    record: Record,
    public_holidays: PublicHolidays,
    from_on: dt.date,
    to_on: dt.date,
    question: Question,
    finding: str | None = None,
) -> list[FindingRow]:
    """The findings of a span of days, both ends included; only one sort of them if it is named.

    In the order of site, unit, task and day. No date is rolled that has to be answered, so that no
    unit can fail here as one can in `due`.

    A gap counts by the day its cell closed, before the day asked for; all others by the day they
    speak of, not after the day asked for unless they were recorded ahead. BadInput for a finding
    that is not known.
    """
    if finding is not None and finding not in FINDINGS:
        known = f"they are {', '.join(FINDINGS)}"
        raise BadInput([Fault("--finding", None, None, f"no finding '{finding}'", known)])
    wanted = FINDINGS if finding is None else (finding,)
    units = _units(record, question)
    rows: list[FindingRow] = []
    for sheet in sheets(record, public_holidays, question, units):
        if "gap" in wanted:
            rows += gap_rows(record, sheet, from_on, to_on, question.narrow.tasks)
        if of_entries := [name for name in wanted if name in ENTRY_FINDINGS]:
            stored = record.entries(_unit_ids(record, sheet))
            span = from_on, to_on
            rows += entry_findings(
                sheet.fleet, stored, span, sheet.on, question.known_at, of_entries
            )
    if "backdated" in wanted:
        last_on = to_on if question.on is None else min(to_on, question.on)
        rows += backdated_rows(record, from_on, last_on, question.known_at)
    if RETURNED_LATE in wanted:
        rows += returned_late_rows(record, public_holidays, from_on, to_on, question)
    return sorted(_passing(rows, question.narrow), key=_order)


def _order(row: FindingRow) -> tuple[str, str, str, dt.date, str, str]:
    day = row.on or row.closes or dt.date.min
    return row.site, row.property_number, row.task, day, row.finding, row.entries or ""


def _passing(rows: Iterable[FindingRow], narrow: Narrow) -> Iterator[FindingRow]:
    """The rows that a question lets through, whatever the case of its words."""
    wanted = [
        (attrgetter(column), {name.casefold() for name in names})
        for column, names in (
            ("site", narrow.sites),
            ("county", narrow.counties),
            ("region", narrow.regions),
            ("kind", narrow.kinds),
        )
        if names
    ]
    tasks = {name.casefold() for name in narrow.tasks}
    for row in rows:
        is_asked = all(told(row).casefold() in names for told, names in wanted)
        if is_asked and (not tasks or tasks & set(row.task.casefold().split("; "))):
            yield row


def _units(record: Record, question: Question) -> list[Unit] | None:
    """The units that may have a finding that passes; None for all."""
    narrow = question.narrow
    if not (narrow.kinds or narrow.sites or narrow.counties or narrow.regions):
        return None
    return units_let_through(record.register(question.known_at), narrow)


def _unit_ids(record: Record, sheet: Sheet) -> list[int] | None:
    """The store's numbers of a sheet's units; None where they are all there are."""
    ids = record.unit_ids()
    if len(ids) == len(sheet.fleet.units):
        return None
    return [ids[unit.property_number] for unit in sheet.fleet.units]
