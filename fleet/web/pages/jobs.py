"""How far is long work? Whoever asked for it sees, and managers; a reload comes back to it."""

from __future__ import annotations

from flask import Response, abort
from flask.typing import ResponseReturnValue

from fleet.domain.jobs import KIND_WORDS, Job, JobFile
from fleet.domain.records import Role
from fleet.services.ports import Record
from fleet.web.asked import Asked, asked
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES", "file_answer"]

PAGES = Pages()


@PAGES.get("/jobs", who=OVERSEERS)
def jobs() -> ResponseReturnValue:
    """The visitor's own long work that waits or runs."""
    asking = asked()
    with asking.read() as record:
        own = record.jobs.unfinished(asking.visitor.by)
    return asking.page("jobs.html", jobs=own, kind_words=KIND_WORDS)


@PAGES.get("/jobs/<number>", who=OVERSEERS)
def job(number: str) -> ResponseReturnValue:
    """How far it is, or what it came to."""
    asking = asked()
    with asking.read() as record:
        found = _own(asking, record, number)
    return asking.page("job.html", job=found)


@PAGES.get("/jobs/<number>/<name>", who=OVERSEERS)
def made(number: str, name: str) -> ResponseReturnValue:
    """A file that it made."""
    asking = asked()
    with asking.read() as record:
        found = _own(asking, record, number)
        file = record.jobs.file(found.number, name)
    if file is None:
        abort(404)
    return file_answer(file, f"{found.result.get('name', 'made')}.{name.rpartition('.')[2]}")


def _own(asking: Asked, record: Record, number: str) -> Job:
    """A job of the visitor's own, or any for a manager; of a site, if they may see it still."""
    found, visitor = record.jobs.find(number), asking.visitor
    if found is None or (found.by != visitor.by and Role.MANAGER not in visitor.roles):
        abort(404)
    if "site" in found.asked:
        asking.site(record.register(), found.asked["site"], *OVERSEERS)
    return found


def file_answer(file: JobFile, name: str) -> Response:
    """A file to be kept, under a plain name."""
    plain = "".join(
        sign if sign.isascii() and (sign.isalnum() or sign in ".-") else "-" for sign in name
    )
    headers = {
        "Content-Disposition": f'attachment; filename="{plain}"',
        "Cache-Control": "no-store",
    }
    return Response(file.content, mimetype=file.media_type, headers=headers)
