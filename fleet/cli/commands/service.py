"""`dueward service`: record a vendor's service with its report and certificate."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.entries import explained, show_entry
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, note
from fleet.domain.evidence import ServiceReport
from fleet.errors import BadInput, Fault
from fleet.services.service import Recorded, certificate_of, record_service
from notifications.digests.words import day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["service"]

_FILE = click.Path(path_type=Path)


@click.command(
    epilog=examples(
        "dueward service PN1000 annual-service --on 2026-11-25 --vendor Ovandel"
        " --certificate report.pdf",
        "dueward service PN1000 annual-service --on 2026-11-25 --save certificate.pdf",
    )
)
@opens_program
@click.argument("property_number")
@click.argument("task")
@day_option("on", "The day of the service, at the site", required=True)
@click.option("--vendor", default="", help="Who was sent.")
@click.option("--technician", default="", help="Who did it.")
@click.option("--findings", default="", help="What was found and done.")
@click.option(
    "--certificate",
    type=_FILE,
    help="The report as it came: PDF, PNG, JPEG or TIFF, 20 MB at most.",
)
@click.option("--initials", default="", help="Who records it.")
@click.option(
    "--key",
    default="",
    help="A name of your own for the entry: the same one twice is one entry. The key of a service"
    " that is marked done already joins the report to it.",
)
@click.option("--anyway", is_flag=True, help="Write it though it looks like a slip.")
@click.option(
    "--save",
    type=_FILE,
    help="Write nothing on the record: put the certificate of that day's report in a new file.",
)
@formatted
def service(
    program: Program,
    property_number: str,
    task: str,
    on: dt.date,
    certificate: Path | None,
    save: Path | None,
    initials: str,
    key: str,
    anyway: bool,
    form: Form,
    **words: str,
) -> None:
    """Record a vendor's service with its report and certificate.

    One act writes that it was done, the report and the file, and answers with what is due next. A
    file with scripts or a password is refused; that is no virus scan. Follow the manufacturer's
    manual, the site's safety officer and local rules before the unit is used again.
    """
    report = ServiceReport(property_number=property_number, task=task, on=on, **words)
    if save is not None:
        _refuse_more(certificate, initials, key, anyway, *words.values())
        _save(program, report, save)
        return
    attached = None
    if certificate is not None:
        from fleet.files.attached import read_attached

        attached = read_attached(certificate)
    with program.store.begin(write=True) as record:
        recorded = record_service(
            record,
            program.public_holidays,
            report,
            attached,
            initials=initials,
            key=key,
            anyway=anyway,
            stamp=program.stamp("command"),
        )
        next_up = explained(program, record, recorded.stored)
        record.commit()
    said, more = _said(recorded), _fields(recorded)
    show_entry(recorded.stored, next_up, form, said, warns=True, more=more)


def _refuse_more(*given: object) -> None:
    if any(given):
        problem, mend = "it writes nothing on the record", "give it alone with PN, TASK and --on"
        raise BadInput([Fault("--save", None, None, problem, mend)])


def _save(program: Program, report: ServiceReport, file: Path) -> None:
    with program.store.begin() as record:
        found, content = certificate_of(record, report.property_number, report.task, report.on)
    try:
        new = file.open("xb")
    except FileExistsError:
        problem = "the file is there already and is not overwritten"
        raise BadInput([Fault(str(file), None, None, problem, "name a new one")]) from None
    try:
        with new:
            new.write(content)
    except OSError:
        file.unlink()
        raise
    note(f"{file}: {found.certificate_name}, as it was attached ({len(content):,} bytes)")


def _fields(recorded: Recorded) -> dict[str, object]:
    report, file = recorded.report, recorded.attachment
    return {
        "vendor": report.vendor or None,
        "technician": report.technician or None,
        "findings": report.findings or None,
        "certificate": report.certificate or None,
        "certificate_name": report.certificate_name or None,
        "certificate_type": file.media_type if file else None,
        "certificate_bytes": file.size if file else None,
    }


def _said(recorded: Recorded) -> str:
    report, file = recorded.report, recorded.attachment
    by = f" by {report.vendor}" if report.vendor else ""
    stands = "is" if recorded.is_new else "was already"
    proof = "no certificate"
    if report.certificate:
        proof = f"certificate {report.certificate_name or report.certificate}"
        proof += f", {file.media_type}" if file else ""
    told = f"{report.property_number} {report.task} {stands} recorded as serviced{by}"
    return f"{told} on {day(report.on)} (key {report.entry}; {proof})."
