"""How does a vendor's service come on the record: the entry, the report and its certificate?

One act writes all three. The report is a register record, so that a later one for the same unit,
task and day stands beside the earlier one, both readable in the change lines.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from dataclasses import dataclass, replace

from fleet.domain.evidence import Attachment, ServiceReport
from fleet.domain.records import Entry, Mark, StoredEntry
from fleet.domain.register import Change, Register
from fleet.domain.texts import NAME_LENGTH, PROSE_LENGTH, check_prose, check_text
from fleet.errors import BadInput, Doubtful, Fault, KeyTaken, NotFound
from fleet.services.columns import book_of
from fleet.services.mark import mark
from fleet.services.ports import AttachedFile, PublicHolidays, Record, Stamp
from fleet.services.why import unit_of
from schedules.rules import Basis

__all__ = ["Recorded", "certificate_of", "record_service"]


@dataclass(frozen=True, slots=True)
class Recorded:
    """What stands on the record: the entry, the report, its file and whether any of it is new."""

    stored: StoredEntry
    report: ServiceReport
    attachment: Attachment | None
    is_new: bool


def record_service(
    record: Record,
    public_holidays: PublicHolidays,
    report: ServiceReport,
    certificate: AttachedFile | None = None,
    *,
    initials: str = "",
    key: str = "",
    anyway: bool,
    stamp: Stamp,
) -> Recorded:
    """Write that a service was done, what the vendor reported of it, and the certificate.

    report: as the vendor gave it; its certificate and entry are filled in here. The same report
    again changes nothing; another one for the unit, task and day is Doubtful unless `anyway`, and
    then keeps the entry of the first. A `key` that stands for a done entry of that day joins the
    report to it. Raises NotFound, BadInput, Doubtful, KeyTaken as `mark` does. The caller commits.
    """
    register = record.register()
    _check_task(register, report.property_number, report.task)
    _check_texts(report)
    if certificate is not None:
        file = certificate.attachment
        report = replace(report, certificate=file.sha256, certificate_name=file.name)
    former = register.reports.get(report.key)
    stored, is_marked = _entry(
        record, public_holidays, report, former, initials, key, anyway=anyway, stamp=stamp
    )
    report = replace(report, entry=stored.entry.key)
    if former is not None:
        differing = [name for name in _TOLD if getattr(former, name) != getattr(report, name)]
        if not differing and former.entry == report.entry:
            return Recorded(stored, former, _attachment(record, former), is_marked)
        if (differing or former.entry) and not anyway:
            raise Doubtful(_differs(report, differing))
    record.change([Change(old=former, new=report, initial=False)], stamp)
    if certificate is not None:
        _attach(record, certificate, stamp)
    return Recorded(stored, report, _attachment(record, report), True)


def certificate_of(
    record: Record, property_number: str, task: str, on: dt.date
) -> tuple[ServiceReport, bytes]:
    """The certificate of a report, as it was attached.

    Raises NotFound where there is no such report or it has none, BadInput where the file was
    removed after its retention, or is not the one that was attached.
    """
    register = record.register()
    unit_of(register, property_number)
    report = register.reports.get((property_number, task, on.isoformat()))
    if report is None:
        days = sorted(
            str(other.on)
            for other in register.reports.values()
            if (other.property_number, other.task) == (property_number, task)
        )
        mend = f"there are reports of: {', '.join(days)}" if days else "none has been recorded yet"
        raise NotFound("service report", f"{property_number} {task} {on}", mend)
    if not report.certificate:
        mend = "attach it with --certificate FILE --anyway"
        raise NotFound("certificate of", f"{property_number} {task} {on}", mend)
    content = record.content(report.certificate)
    name = report.certificate_name or report.certificate
    if content is None:
        raise _file_fault(name, "the file is not kept (any more)", "ask the vendor for it")
    if hashlib.sha256(content).hexdigest() != report.certificate:
        problem = "what is kept is not the file that was attached"
        raise _file_fault(name, problem, "run dueward verify, and restore a backup")
    return report, content


def _file_fault(name: str, problem: str, mend: str) -> BadInput:
    return BadInput([Fault(name, None, None, problem, mend)])


def _check_task(register: Register, property_number: str, task: str) -> None:
    """Only what is counted from a day done has a service to report."""
    unit = unit_of(register, property_number)
    kind = book_of(register).kinds.get(unit.kind)
    dated = {
        name
        for name, rules in (kind.tasks(unit.model) if kind else {}).items()
        if any(rule.basis is not Basis.CELL for rule in rules)
    }
    if kind is not None and task in kind.tasks(unit.model) and task not in dated:
        problem = f"'{task}' is marked cell by cell, not serviced"
        mend = f"mark it with dueward mark, or name one of: {', '.join(sorted(dated)) or 'none'}"
        raise BadInput([Fault("service", None, "task", problem, mend)])
    if task not in dated:
        listed = ", ".join(sorted(dated)) or "none"
        raise NotFound("task", task, f"a {unit.kind} has these to be serviced: {listed}")


def _check_texts(report: ServiceReport) -> None:
    wrongs = {
        "vendor": check_text(report.vendor, NAME_LENGTH),
        "technician": check_text(report.technician, NAME_LENGTH),
        "findings": check_prose(report.findings, PROSE_LENGTH),
    }
    faults = [
        Fault("service", None, name, wrong.problem, wrong.mend)
        for name, wrong in wrongs.items()
        if wrong is not None
    ]
    if faults:
        raise BadInput(faults)


def _entry(
    record: Record,
    public_holidays: PublicHolidays,
    report: ServiceReport,
    former: ServiceReport | None,
    initials: str,
    key: str,
    *,
    anyway: bool,
    stamp: Stamp,
) -> tuple[StoredEntry, bool]:
    """The done entry that the report belongs to, and whether it was written just now."""
    wanted = key or (former.entry if former is not None else "")
    standing = _standing(record, report, wanted)
    if standing is not None:
        if initials and standing.entry.initials != initials:
            raise KeyTaken(wanted, "initials")
        return standing, False
    entry = Entry(
        key=key,
        property_number=report.property_number,
        task=report.task,
        on=report.on,
        mark=Mark.DONE,
        initials=initials,
    )
    return mark(record, public_holidays, entry, anyway=anyway, stamp=stamp)


def _standing(record: Record, report: ServiceReport, key: str) -> StoredEntry | None:
    """The entry of that key, where it says that this very service was done and is not struck."""
    stored = record.stored([key]).get(key) if key else None
    if stored is None:
        return None
    entry = stored.entry
    told = (entry.property_number, entry.task, entry.on, entry.mark)
    if told != (report.property_number, report.task, report.on, Mark.DONE):
        return None
    unit_id = record.unit_ids()[entry.property_number]
    struck = any(other.entry.strikes == key for other in record.entries([unit_id], entry.task))
    return None if struck else stored


_TOLD = ("vendor", "technician", "findings", "certificate")
"""What a report tells; one name of a file is as good as another."""


def _differs(report: ServiceReport, names: list[str]) -> str:
    verb = "differs" if len(names) == 1 else "differ"
    told = f" ({', '.join(names)} {verb})" if names else " (its entry was struck)"
    of = f"{report.property_number} {report.task}"
    return f"{of} has another service report of {report.on} already{told}"


def _attach(record: Record, certificate: AttachedFile, stamp: Stamp) -> None:
    record.attach(certificate.attachment, certificate.content, stamp)
    if record.content(certificate.attachment.sha256) is None:
        problem = "this very file was attached before and removed after its retention"
        mend = "attach a new scan, or record the service without it"
        raise _file_fault(certificate.attachment.name, problem, mend)


def _attachment(record: Record, report: ServiceReport) -> Attachment | None:
    known = (file for file in record.attachments() if file.sha256 == report.certificate)
    return next(known, None)
