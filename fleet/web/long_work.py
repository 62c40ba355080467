"""What long work is there, and what does each sort of it? Heavy libraries are imported inside."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from functools import partial
from typing import TYPE_CHECKING

from fleet.domain.jobs import Job, JobFile
from fleet.errors import BadInput, Fault, FleetError
from fleet.services.jobs.run import Made, Runner, Step, Work
from fleet.web.anew_work import plan_anew
from fleet.web.fields import at_a_form
from fleet.web.import_work import load_files, look_at_files
from fleet.web.planning_work import draw_plan, plan_visits
from fleet.web.scan_work import read_scans

if TYPE_CHECKING:
    from fleet.services.scan_ports import PageReader
    from fleet.wiring import Program

__all__ = ["runner"]


def runner(program: Program, page_reader: PageReader | None = None) -> Runner:
    """What does the long work of one process; page_reader: of scans, None for the program's own."""
    from fleet.desk.page_reader import page_reader as own_reader

    reader = page_reader or own_reader()
    kinds: Mapping[str, Work] = {
        "packet": partial(_packet, program),
        "plan": partial(plan_visits, program),
        "anew": partial(plan_anew, program),
        "pictures": partial(draw_plan, program),
        "import": partial(look_at_files, program),
        "load": partial(load_files, program),
        "read": partial(read_scans, program, reader),
    }
    said = {name: partial(_in_a_page_s_words, work) for name, work in kinds.items()}
    return Runner(program.store, said, program.clock, program.owner)


def _in_a_page_s_words(work: Work, job: Job, step: Step) -> Made:
    """Do a job; what is wrong with what was asked is said without advice for a terminal."""
    try:
        return work(job, step)
    except BadInput as error:
        raise FleetError("\n".join(_words(fault) for fault in error.faults)) from error


def _words(fault: Fault) -> str:
    """A fault with its place where that is a file's."""
    told = at_a_form(fault)
    return str(told) if "." in told.file else f"{told.problem}; {told.mend}"


def _packet(program: Program, job: Job, step: Step) -> Made:
    """The evidence of one site for a span, as it was known when it was asked for."""
    from fleet.files.packets.pdf import packet_pdf
    from fleet.files.packets.zip import packet_zip
    from fleet.services.packet import packet_facts
    from fleet.services.packet_facts import PacketQuestion

    asked = job.asked
    question = PacketQuestion(
        site=asked["site"],
        from_on=dt.date.fromisoformat(asked["from"]),
        to_on=dt.date.fromisoformat(asked["to"]),
        now=job.queued_at,
        known_at=job.queued_at,
        made_by=asked["made_by"],
    )
    step(0, 3, "the record is read")
    with program.store.begin() as record:
        facts = packet_facts(record, program.public_holidays, question)
    step(1, 3, "the pages are written")
    name = f"packet-{asked['site']}-{asked['from']}-to-{asked['to']}"
    pdf, pages = packet_pdf(facts, f"{name}.pdf")
    step(2, 3, "the tables are put beside them")
    archive, files = packet_zip(facts, f"{name}.pdf", pdf)
    return Made(
        {"root": facts.root, "pages": str(pages), "files": str(files), "name": name},
        [
            JobFile(name="packet.pdf", media_type="application/pdf", content=pdf),
            JobFile(name="packet.zip", media_type="application/zip", content=archive),
        ],
    )
