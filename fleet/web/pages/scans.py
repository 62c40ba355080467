"""How do filled charts come back: sent as scans, read beside the pages, and which pages wait?"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.desk.page_reader import INSTALL
from fleet.domain.jobs import JobFile
from fleet.domain.prints import Print
from fleet.domain.scan_sheets import ScanSheet, Scope, SheetState
from fleet.errors import BadInput
from fleet.files.sent_scans import MOST_FILES, MOST_SENT_BYTES, sent_scans
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import AttachedFile, Record
from fleet.services.scans.proposals import Proposals, Why, proposals
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count
from fleet.web.routes import Pages
from fleet.web.who import LEADS

__all__ = ["PAGES", "name_of", "scope_of"]

PAGES = Pages()

_SHOWN: Final = 20
_ASIDE_SHOWN: Final = 30


@dataclass(frozen=True, slots=True)
class Waiting:
    """A page that waits, and what it comes to today."""

    sheet: ScanSheet
    name: str
    found: Proposals | None
    """None where it cannot be used."""

    @property
    def doubtful(self) -> int:
        """Questions to look at that are not of empty cells."""
        return sum(q.why is not Why.BLANK for q in self.found.open) if self.found else 0

    @property
    def empty(self) -> int:
        """Cells that look empty, of which nobody has said anything."""
        if self.found is None:
            return 0
        return sum(len(q.slots) for q in self.found.open if q.why is Why.BLANK)


def scope_of(asking: Asked) -> Scope:
    """Whose scanned pages the visitor may see."""
    return Scope(asking.visitor.sites(*LEADS), asking.visitor.by)


@PAGES.get("/scans", who=LEADS)
def scans() -> ResponseReturnValue:
    """The form that scans are sent with, and the pages that wait for a person."""
    asking = asked()
    return asking.page("scans.html", **_facts(asking))


def _facts(asking: Asked) -> dict[str, object]:
    first = one_count("from", request.args.get("from", ""), 0, 0, 100_000)
    with asking.read() as record:
        waiting = record.scans.sheets(scope_of(asking), SheetState.WAITING)
        waiting = sorted(waiting, key=lambda one: bool(one.problem))
        aside = record.scans.sheets(scope_of(asking), SheetState.ASIDE)
        prints = record.register().prints
        shown = [_waiting(asking, record, one) for one in waiting[first : first + _SHOWN]]
        names = [
            (one.number, name_of(record, one, prints.get((one.print,))))
            for one in aside[:_ASIDE_SHOWN]
        ]
    return {
        "is_installed": asking.web.page_reader is not None,
        "install": INSTALL,
        "draft": asking.web.program.draw_token(),
        "most_files": MOST_FILES,
        "most_megabytes": MOST_SENT_BYTES // 2**20,
        "waiting": shown,
        "count": len(waiting),
        "first": first,
        "following": first + _SHOWN if first + _SHOWN < len(waiting) else 0,
        "aside": names,
        "more_aside": max(0, len(aside) - _ASIDE_SHOWN),
    }


def _waiting(asking: Asked, record: Record, sheet: ScanSheet) -> Waiting:
    print_ = record.register().prints.get((sheet.print,))
    name = name_of(record, sheet, print_)
    if sheet.problem or print_ is None:
        return Waiting(sheet, name, None)
    return Waiting(sheet, name, proposals(record, asking.public_holidays, sheet, asking.now))


def name_of(record: Record, sheet: ScanSheet, print_: Print | None) -> str:
    """What a page is called: by its unit, or by its file where no unit is known."""
    if print_ is not None:
        pages = f"page {sheet.page} of {print_.pages}"
        return f"{print_.property_number}, {print_.year}, {pages}"
    file = record.scans.file(sheet.file)
    return f"{file.name if file else 'a file'}, picture {sheet.place}"


@PAGES.post("/scans", who=LEADS)
def send() -> ResponseReturnValue:
    """Keep the files as they came and queue their reading."""
    asking = asked()
    try:
        files = sent_scans(_sent())
    except BadInput as error:
        return asking.form_again("scans.html", error.faults, **_facts(asking))
    number = _number(asking.field("draft") or asking.web.program.draw_token(), files)
    given = {"files": "\n".join(file.attachment.name for file in files)}
    kept = [
        JobFile(name=f.attachment.name, media_type=f.attachment.media_type, content=f.content)
        for f in files
    ]
    with asking.write() as record:
        job = queue_job(record, number, "read", given, asking.stamp(), kept)
        record.commit()
    return redirect(url_for("scans.sent", number=job.number))


def _number(draft: str, files: Sequence[AttachedFile]) -> str:
    """The same form sent twice is one job; sent again with other files it is another."""
    parts = [draft, *(f"{f.attachment.sha256} {f.attachment.name}" for f in files)]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:32]


def _sent() -> list[tuple[str, bytes]]:
    """What the form brought; a field that was left empty brings a nameless file of no bytes."""
    sent = [file for file in request.files.getlist("files") if file.filename]
    most = MOST_SENT_BYTES + 1
    return [(file.filename or "", file.stream.read(most)) for file in sent[: MOST_FILES + 1]]


@PAGES.get("/scans/sent/<number>", who=LEADS)
def sent(number: str) -> ResponseReturnValue:
    """How far the reading is, or what came of each file."""
    asking = asked()
    with asking.read() as record:
        job = record.jobs.find(number)
    if job is None or job.by != asking.visitor.by or job.kind != "read":
        abort(404)
    return asking.page("scans_sent.html", job=job, lines=job.result.get("lines", "").splitlines())
