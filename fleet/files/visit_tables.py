"""Which columns have the tables of vendor visits, and what must one row of them make sense of?"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator

from fleet.domain.texts import shown
from fleet.domain.visits import (
    SiteVisit,
    StoredPlan,
    TechnicianDaysOff,
    UnsuitableDays,
    VisitState,
)
from fleet.files import cells
from fleet.files.cells import CellError
from fleet.files.table_shapes import (
    FROM,
    WITHDRAWN_COLUMN,
    Column,
    RowFault,
    Table,
    name,
    notes,
    short,
)
from schedules.visits.model import Grade

__all__ = ["VISIT_TABLES"]

_LONGEST = 32_767
"""So many characters a cell of a workbook holds."""
_NEED = re.compile(r".+/[^/]+/[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MOST = 2**63 - 1
_AS_EXPORTED = "write it as it was exported"


def _formed(form: str, what: str, mend: str) -> Callable[[str], str]:
    """Make a reader of text of one form."""
    pattern = re.compile(form)

    def read(value: str) -> str:
        if not pattern.fullmatch(value):
            raise CellError(f"{shown(value)} is no {what}", mend)
        return value

    return read


def _count(value: str) -> int:
    if not re.fullmatch(r"[0-9]{1,19}", value) or int(value) > _MOST:
        raise CellError(f"{shown(value)} is no whole number", "write digits alone, as 20000")
    return int(value)


def _json_of_needs(kind: type[list[str]] | type[dict[str, str]]) -> Callable[[str], str]:
    """Make a reader of JSON that names needs, and for an object says a text of each."""

    def read(value: str) -> str:
        try:
            found = json.loads(value) if len(value) <= _LONGEST else None
        except (ValueError, RecursionError):
            found = None
        words = [*found] + (list(found.values()) if kind is dict else []) if found else []
        is_right = isinstance(found, kind) and all(isinstance(word, str) for word in words)
        if not (is_right and found and all(map(_NEED.fullmatch, found))):
            mend = f'{_AS_EXPORTED}, needs as ["UNIT/TASK/DUE", …]'
            raise CellError(f"{shown(value)} names no needs in JSON", mend)
        return value

    return read


def _span_faults(record: StoredPlan | UnsuitableDays | TechnicianDaysOff) -> Iterator[RowFault]:
    if record.to_on < record.from_on:
        problem = f"{record.to_on} is before from {record.from_on}"
        yield RowFault("to", problem, "check both dates; both are included")
    if isinstance(record, StoredPlan) and record.follows == record.number:
        yield RowFault("follows", "it is the plan's own number", "leave it empty")


def _visit_faults(visit: SiteVisit) -> Iterator[RowFault]:
    if not visit.trip_on <= visit.on <= visit.to_on:
        problem = f"on {visit.on} does not lie from trip_on {visit.trip_on} to {visit.to_on}"
        yield RowFault("on", problem, "check the three dates")
    if (visit.done_on is not None) != (visit.state is VisitState.DONE):
        mend = "a visit that is done has the day it was done on, and no other has"
        yield RowFault("done_on", f"the visit is {visit.state.value}", mend)
    if unknown := sorted(visit.reasons.keys() - set(visit.need_names)):
        problem = f"{unknown[0]} is none of its needs"
        yield RowFault("not_done", problem, "name needs that stand in needs")


_plan_number = _formed(r"P-[0-9]{4,9}", "number of a plan", "write it as P-0001")
_visit_number = _formed(r"V-[0-9]{4,9}", "number of a visit", "write it as V-0001")
_time = _formed(r"([01][0-9]|2[0-3]):[0-5][0-9]", "time of a day", "write it as 09:30")
_TO = Column("to", cells.civil_date, required=True, is_key=False, field="to_on")
_WHY = Column("reason", notes, required=True, is_key=False)

VISIT_TABLES = (
    Table(
        "plans",
        (
            Column("number", _plan_number, required=True),
            Column("made_on", cells.civil_date, required=True),
            FROM,
            _TO,
            Column("follows", _plan_number),
            Column("seed", _count, required=True),
            Column("iterations", _count, required=True),
            Column("versions", notes),
            Column("content", cells.sha256, required=True),
        ),
        StoredPlan,
        _span_faults,
    ),
    Table(
        "visits",
        (
            Column("number", _visit_number, required=True),
            Column("plan", _plan_number, required=True),
            Column("technician", name, required=True),
            Column("vendor", name),
            Column("site", short, required=True),
            Column("trip_on", cells.civil_date, required=True),
            Column("on", cells.civil_date, required=True),
            Column("to", cells.civil_date, required=True, field="to_on"),
            Column("from_at", _time, required=True),
            Column("to_at", _time, required=True),
            Column("needs", _json_of_needs(list), required=True),
            Column("grade", cells.choice(Grade, "grade"), required=True),
            Column("state", cells.choice(VisitState, "state"), required=True),
            Column("told_on", cells.civil_date, empty=None),
            Column("done_on", cells.civil_date, empty=None),
            Column("not_done", _json_of_needs(dict)),
            Column("reason", notes),
        ),
        SiteVisit,
        _visit_faults,
    ),
    Table(
        "unsuitable_days",
        (Column("site", short, required=True), FROM, _TO, _WHY, WITHDRAWN_COLUMN),
        UnsuitableDays,
        _span_faults,
    ),
    Table(
        "technician_days_off",
        (Column("technician", name, required=True), FROM, _TO, _WHY, WITHDRAWN_COLUMN),
        TechnicianDaysOff,
        _span_faults,
    ),
)
