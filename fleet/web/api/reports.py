"""How does a program hand in a vendor's service report, with its certificate?"""

from __future__ import annotations

import base64
import binascii
from typing import Final

from flask import Response

from fleet.domain.evidence import ServiceReport
from fleet.domain.texts import INITIALS_LENGTH, NAME_LENGTH, PROSE_LENGTH, WORD_LENGTH, Wrong
from fleet.errors import BadInput
from fleet.files.attached import attached
from fleet.services.entry_effects import effects
from fleet.services.ports import AttachedFile
from fleet.services.service import Recorded, record_service
from fleet.web.api.given import Given, body
from fleet.web.api.marks import told_entry
from fleet.web.api.told import json_answer, own_unit
from fleet.web.asked import asked
from fleet.web.routes import Operations
from fleet.web.who import LEADS

__all__ = ["OPERATIONS"]

OPERATIONS = Operations()

_MOST_BYTES: Final = 8 * 2**20
_MOST_BODY: Final = 12 * 2**20
_FIELDS: Final = (
    "property_number",
    "task",
    "on",
    "vendor",
    "technician",
    "findings",
    "initials",
    "key",
    "certificate",
    "certificate_name",
    "anyway",
)


@OPERATIONS.post("/api/v1/service-reports", who=LEADS)
def service_report() -> Response:
    """Record a service with its report and certificate; the same one sent twice is one."""
    asking, given = asked(), body(*_FIELDS, most=_MOST_BODY)
    report, certificate = _report(given), _certificate(given)
    initials, key = given.text("initials", INITIALS_LENGTH), given.key("key")
    anyway = given.flag("anyway")
    given.check()
    with asking.write() as record:
        before = record.register()
        unit = own_unit(asking, before, report.property_number, *LEADS)
        recorded = record_service(
            record,
            asking.public_holidays,
            ServiceReport(
                property_number=unit.property_number,
                task=report.task,
                on=report.on,
                vendor=report.vendor,
                technician=report.technician,
                findings=report.findings,
            ),
            certificate,
            initials=initials,
            key=key,
            anyway=anyway,
            stamp=asking.stamp(),
        )
        followed = effects(record, recorded.stored.entry, before)
        told = told_entry(asking, record, recorded.stored, followed) | _told(recorded)
        record.commit()
    return json_answer(told, 201 if recorded.is_new else 200)


def _report(given: Given) -> ServiceReport:
    return ServiceReport(
        property_number=given.text("property_number", WORD_LENGTH, is_needed=True),
        task=given.text("task", WORD_LENGTH, is_needed=True),
        on=given.day("on"),
        vendor=given.text("vendor", NAME_LENGTH),
        technician=given.text("technician", NAME_LENGTH),
        findings=given.text("findings", PROSE_LENGTH, is_prose=True),
    )


def _certificate(given: Given) -> AttachedFile | None:
    """The certificate that came as base 64 (RFC 4648, 4), judged by its bytes."""
    sent = given.text("certificate", _MOST_BODY)
    name = given.text("certificate_name", NAME_LENGTH)
    if not sent:
        return None
    try:
        content = base64.b64decode(sent, validate=True)
    except binascii.Error:
        given.fault("certificate", Wrong("it is not base 64", "encode the file's bytes"))
        return None
    if len(content) > _MOST_BYTES:
        wrong = Wrong("the file has more than 8 MB", "send only its pages, or scan it in grey")
        given.fault("certificate", wrong)
        return None
    try:
        return attached(name, content)
    except BadInput as error:
        (fault,) = error.faults
        given.fault("certificate", Wrong(fault.problem, fault.mend))
        return None


def _told(recorded: Recorded) -> dict[str, object]:
    report, file = recorded.report, recorded.attachment
    return {
        "vendor": report.vendor or None,
        "technician": report.technician or None,
        "findings": report.findings or None,
        "certificate_name": report.certificate_name or None,
        "certificate_sha256": report.certificate or None,
        "certificate_bytes": file.size if file else None,
    }
