"""What does a calendar program read at a person's address? Their due dates and visits."""

from __future__ import annotations

from flask import Response, abort, request
from flask.typing import ResponseReturnValue

from fleet.services.feeds import feed
from fleet.web.asked import asked
from fleet.web.routes import ANYBODY, Pages

__all__ = ["PAGES"]

PAGES = Pages()


@PAGES.get("/calendar/<token>.ics", who=ANYBODY)
def calendar(token: str) -> ResponseReturnValue:
    """The calendar at an address that `dueward feed` made; 404 for one that was revoked."""
    asking = asked()
    with asking.read() as record:
        found = feed(record, token, asking.now)
    if found is None:
        abort(404)
    answer = Response(found.content, mimetype="text/calendar")
    answer.headers["ETag"] = found.etag
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.make_conditional(request)
    return answer
