"""What comes back from a visit? What was served, as service reports; what was not, and why.

A report settles its unit's rule as any service does. What was not served stays due, and is planned
again when the plan is made anew.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from fleet.domain.evidence import ServiceReport
from fleet.domain.texts import PROSE_LENGTH, check_prose
from fleet.domain.visits import SiteVisit, VisitState
from fleet.services.ports import AttachedFile, PublicHolidays, Record, Stamp
from fleet.services.register_changes import change_register, refused
from fleet.services.service import Recorded, record_service
from fleet.services.visits.kept_plan import visit_of
from fleet.services.visits.numbers import present_names, unit_and_task

__all__ = ["HandedBack", "Outcome", "hand_back"]

_ACT = "visits"


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How a visit went; findings, certificates and not_done by property number.

    on: the day it was made; None for the day it was planned for.
    """

    on: dt.date | None = None
    initials: str = ""
    findings: Mapping[str, str] = field(default_factory=dict)
    certificates: Mapping[str, AttachedFile] = field(default_factory=dict)
    not_done: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class HandedBack:
    """The visit as it stands now, what was recorded of it, and what was not served."""

    visit: SiteVisit
    recorded: tuple[Recorded, ...]
    not_served: Mapping[str, str]


def hand_back(
    record: Record,
    public_holidays: PublicHolidays,
    number: str,
    outcome: Outcome,
    *,
    anyway: bool,
    stamp: Stamp,
) -> HandedBack:
    """Record the outcome of a visit, once.

    Raises NotFound, BadInput for a visit that is no longer to be made, a day to come and a unit
    that is not visited, and what `record_service` raises. The caller commits.
    """
    register = record.register()
    visit = visit_of(register, number)
    on = outcome.on or visit.on
    _check_visit(visit, on, stamp)
    names = dict(zip(present_names(register, visit.need_names), visit.need_names, strict=True))
    _check_units(visit, outcome, {unit_and_task(name)[0] for name in names})
    recorded, missed = [], {}
    for name, written in names.items():
        unit, task = unit_and_task(name)
        if unit in outcome.not_done:
            missed[written] = outcome.not_done[unit]
        else:
            report = _report(visit, unit, task, on, outcome)
            certificate = outcome.certificates.get(unit)
            done = record_service(
                record,
                public_holidays,
                report,
                certificate,
                initials=outcome.initials,
                anyway=anyway,
                stamp=stamp,
            )
            recorded.append(done)
    told = json.dumps(missed, ensure_ascii=False, sort_keys=True) if missed else ""
    made = replace(visit, state=VisitState.DONE, done_on=on, not_done=told)
    change_register(record, public_holidays, _ACT, [made], stamp)
    return HandedBack(made, tuple(recorded), missed)


def _report(visit: SiteVisit, unit: str, task: str, on: dt.date, outcome: Outcome) -> ServiceReport:
    return ServiceReport(
        property_number=unit,
        task=task,
        on=on,
        vendor=visit.vendor,
        technician=visit.technician,
        findings=outcome.findings.get(unit, ""),
    )


def _check_visit(visit: SiteVisit, on: dt.date, stamp: Stamp) -> None:
    if visit.state is not VisitState.PLANNED:
        mend = "correct a report with: dueward service ... --anyway"
        raise refused(_ACT, "number", f"visit {visit.number} is {visit.state.value}", mend)
    if on > stamp.at.date() + dt.timedelta(days=1):
        raise refused(_ACT, "on", f"{on} lies in the future", "hand it back once it was made")


def _check_units(visit: SiteVisit, outcome: Outcome, units: set[str]) -> None:
    named = [*outcome.findings, *outcome.certificates, *outcome.not_done]
    for unit in named:
        if unit not in units:
            problem = f"unit '{unit}' is not served by visit {visit.number}"
            raise refused(_ACT, "unit", problem, f"it is for: {', '.join(sorted(units))}")
    for unit in outcome.not_done:
        if unit in outcome.findings or unit in outcome.certificates:
            problem = f"{unit} is said to be not served, and has findings or a certificate"
            raise refused(_ACT, "not-done", problem, "say one of the two")
    for unit, why in outcome.not_done.items():
        wrong = check_prose(why, PROSE_LENGTH)
        if not why.strip() or wrong is not None:
            problem = wrong.problem if wrong else f"no reason is given for {unit}"
            mend = wrong.mend if wrong else f"say why: --not-done '{unit}=no power'"
            raise refused(_ACT, "not-done", problem, mend)
