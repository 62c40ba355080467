"""How do files become the register and the record: sent, looked at as a difference, then loaded?"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from typing import Final

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.jobs import Job, JobFile, JobState
from fleet.errors import BadInput, Fault
from fleet.files.uploads import MOST_BYTES, MOST_FILES, MOST_UNPACKED_BYTES, checked_uploads
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Record
from fleet.services.setup.difference import MOST_CHANGES, Difference
from fleet.web.asked import Asked, asked
from fleet.web.import_work import DIFFERENCE
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS

__all__ = ["PAGES"]

PAGES = Pages()

_MEGABYTE: Final = 2**20
_MEDIA_TYPE: Final = "application/octet-stream"


@PAGES.get("/setup/import", who=MANAGERS)
def import_page() -> ResponseReturnValue:
    """The form that files are sent with."""
    asking = asked()
    return asking.page("setup_import.html", **_facts(asking))


def _facts(asking: Asked) -> dict[str, object]:
    return {
        "draft": asking.web.program.draw_token(),
        "most_files": MOST_FILES,
        "most_megabytes": MOST_BYTES // _MEGABYTE,
        "most_unpacked": MOST_UNPACKED_BYTES // _MEGABYTE,
    }


@PAGES.post("/setup/import", who=MANAGERS)
def look() -> ResponseReturnValue:
    """Keep the files as they came and queue the look at what they would change."""
    asking = asked()
    try:
        job = _queued(asking, checked_uploads(_sent()))
    except BadInput as error:
        return asking.form_again("setup_import.html", error.faults, **_facts(asking))
    return redirect(url_for("setup_import.looked", number=job.number))


def _queued(asking: Asked, files: Sequence[tuple[str, bytes]]) -> Job:
    """The look at files, which are kept with it."""
    number = _number(asking.field("draft") or asking.web.program.draw_token(), files)
    given = {"files": "\n".join(name for name, _ in files)}
    kept = [JobFile(name=n, media_type=_MEDIA_TYPE, content=content) for n, content in files]
    with asking.write() as record:
        job = queue_job(record, number, "import", given, asking.stamp(), kept)
        record.commit()
    return job


def _number(draft: str, files: Sequence[tuple[str, bytes]]) -> str:
    """The same form sent twice is one job; sent again with other files it is another."""
    parts = [
        draft.encode(),
        *(part for name, content in files for part in (name.encode(), content)),
    ]
    digests = [hashlib.sha256(part).digest() for part in parts]
    return hashlib.sha256(b"".join(digests)).hexdigest()[:32]


def _sent() -> list[tuple[str, bytes]]:
    """What the form brought; a field that was left empty brings a nameless file of no bytes."""
    sent = [file for file in request.files.getlist("files") if file.filename]
    return [
        (file.filename or "", file.stream.read(MOST_BYTES + 1)) for file in sent[: MOST_FILES + 1]
    ]


@PAGES.get("/setup/import/<number>", who=MANAGERS)
def looked(number: str) -> ResponseReturnValue:
    """How far the look is, what the files would change, or what loading them came to."""
    asking = asked()
    with asking.read() as record:
        facts = _looked_facts(asking, record, number)
    return asking.page("setup_looked.html", **facts)


def _looked_facts(asking: Asked, record: Record, number: str) -> dict[str, object]:
    job = _own(asking, record, number)
    of = job.asked.get("of", job.number)
    file = record.jobs.file(job.number, DIFFERENCE)
    found = None if file is None else Difference.from_json(file.content)
    load = record.jobs.find(_load_number(number)) if job.kind == "import" else None
    return {
        "job": job,
        "names": _own(asking, record, of).asked["files"].split("\n"),
        "found": found,
        "load": load,
        "is_old": found is not None and found.register_version != record.register_version(),
        "most": MOST_CHANGES,
    }


def _own(asking: Asked, record: Record, number: str) -> Job:
    """An import of the visitor's own; any other is not there."""
    found = record.jobs.find(number)
    if found is None or found.by != asking.visitor.by or found.kind not in ("import", "load"):
        abort(404)
    return found


def _load_number(number: str) -> str:
    return f"{number}-load"


@PAGES.post("/setup/import/<number>/load", who=MANAGERS)
def load(number: str) -> ResponseReturnValue:
    """Queue the loading of the very bytes that were looked at."""
    asking = asked()
    with asking.write() as record:
        job = _own(asking, record, number)
        file = record.jobs.file(job.number, DIFFERENCE)
        if job.kind != "import" or job.state is not JobState.DONE or file is None:
            abort(404)
        standing = record.jobs.find(_load_number(number))
        if standing is None:
            _refuse_old(record, Difference.from_json(file.content))
        given = {"of": job.number, "files": job.asked["files"]}
        standing = queue_job(record, _load_number(number), "load", given, asking.stamp())
        record.commit()
    return redirect(url_for("setup_import.looked", number=standing.number))


def _refuse_old(record: Record, found: Difference) -> None:
    """What is loaded is what was seen: not where there were faults, nor where more has changed."""
    if found.fault_total:
        raise BadInput([Fault("import", None, None, "the files have faults", "mend them first")])
    if found.register_version != record.register_version():
        problem = "the register has changed since these files were looked at"
        raise BadInput([Fault("import", None, None, problem, "send them again and look once more")])
