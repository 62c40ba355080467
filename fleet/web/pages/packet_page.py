"""What does an inspector see? One packet, read-only, behind a link that ends."""

from __future__ import annotations

from flask import Response, abort, make_response
from flask.typing import ResponseReturnValue

from fleet.domain.jobs import Job
from fleet.services.access.given_links import open_link
from fleet.services.links import Link, Purpose
from fleet.services.ports import Record
from fleet.web.asked import Asked, asked
from fleet.web.pages.jobs import file_answer
from fleet.web.routes import ANYBODY, Pages
from fleet.web.token_doors import wrong_links_counted

__all__ = ["PAGES", "unreferred"]

PAGES = Pages()
_FILES = ("packet.pdf", "packet.zip")


@PAGES.get("/p/<token>", who=ANYBODY)
def packet(token: str) -> ResponseReturnValue:
    """The packet's page."""
    asking = asked()
    with wrong_links_counted(asking):
        link = open_link(asking.store, asking.caller, token, Purpose.PACKET)
    with asking.read() as record:
        job = _job(record, link)
        site = record.register().sites[(link.scope["site"],)]
    return unreferred(asking.page("packet.html", link=link, job=job, site=site, token=token))


@PAGES.get("/p/<token>/<name>", who=ANYBODY)
def packet_file(token: str, name: str) -> ResponseReturnValue:
    """The packet as PDF or ZIP."""
    asking: Asked = asked()
    with wrong_links_counted(asking):
        link = open_link(asking.store, asking.caller, token, Purpose.PACKET)
    with asking.read() as record:
        job = _job(record, link)
        file = record.jobs.file(job.number, name) if name in _FILES else None
    if file is None:
        abort(404)
    return unreferred(file_answer(file, f"{job.result['name']}.{name.rpartition('.')[2]}"))


def _job(record: Record, link: Link) -> Job:
    """The job that makes the packet; a link outlives it by no day."""
    return record.jobs.find(link.scope["job"]) or abort(404)


def unreferred(response: ResponseReturnValue) -> Response:
    """A page whose address is a secret: no other page learns of it, and nobody keeps it."""
    made = make_response(response)
    made.headers["Referrer-Policy"] = "no-referrer"
    made.headers["Cache-Control"] = "no-store"
    return made
