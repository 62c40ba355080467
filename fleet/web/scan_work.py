"""How are scans that were sent read, beside the pages?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING

from fleet.domain.jobs import Job
from fleet.domain.scan_sheets import ScanSheet
from fleet.errors import BadInput, FleetError, NotFound
from fleet.services.jobs.run import Made, Step
from fleet.services.ports import AttachedFile, Stamp
from notifications.digests.words import counted, day

if TYPE_CHECKING:
    from fleet.services.scan_ports import PageReader
    from fleet.wiring import Program

__all__ = ["read_scans"]


def read_scans(program: Program, reader: PageReader | None, job: Job, step: Step) -> Made:
    """Read the files of a job and keep what was found, file by file; done twice, it adds nothing.

    The result says of each file in a line what came of it.
    """
    from fleet.desk.page_reader import INSTALL

    if reader is None:
        raise FleetError(f"this machine cannot read scans yet; whoever runs it runs: {INSTALL}")
    names = job.asked["files"].split("\n")
    lines, pages = [], 0
    for turn, name in enumerate(names):
        step(turn, len(names), f"{name} is read")
        sheets, line = _read_one(program, reader, job, name)
        pages += len(sheets)
        lines.append(line)
    return Made({"pages": str(pages), "lines": "\n".join(lines)})


def _read_one(
    program: Program, reader: PageReader, job: Job, name: str
) -> tuple[Sequence[ScanSheet], str]:
    """The pages of one file that came from this job, and what came of the file, in a line."""
    from fleet.services.scans.keeping import keep, print_of

    sent = _sent(program, job, name)
    with program.store.begin() as record:
        known, found = record.scans.file(sent.attachment.sha256), print_of(record)
    if known is not None and known.sent_at < job.queued_at:
        return (), f"{name}: sent before, on {_on(known.sent_at)}, and not read again."
    pages = []
    if known is None:
        try:
            pages = list(reader.read(name, sent.content, found))
        except BadInput as error:
            fault = error.faults[0]
            return (), f"{name}: {fault.problem}; {fault.mend}."
    stamp = Stamp(at=program.clock(), by=job.by, source="page")
    with program.store.begin(write=True) as record:
        kept = keep(record, program.draw_number, sent, pages, stamp)
        record.commit()
    return kept.sheets, f"{name}: {_told(kept.sheets)}"


def _sent(program: Program, job: Job, name: str) -> AttachedFile:
    from fleet.files.attached import attached

    with program.store.begin() as record:
        file = record.jobs.file(job.number, name)
    if file is None:
        raise NotFound("file", name, "send the files again: they were kept a month")
    return attached(file.name, file.content)


def _on(at: dt.datetime) -> str:
    return day(at.date())


def _told(sheets: Sequence[ScanSheet]) -> str:
    wrong = sum(bool(sheet.problem) for sheet in sheets)
    if not sheets:
        return "it was read already."
    found = counted(len(sheets) - wrong, "page") + " found"
    if not wrong:
        return f"{found}."
    first = next(sheet.problem for sheet in sheets if sheet.problem)
    if wrong == len(sheets) == 1:
        return f"{first}."
    return f"{found}, {counted(wrong, 'page')} cannot be used ({first})."
