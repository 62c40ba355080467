"""What does a page say when something cannot be done? The commands' words, and no trace."""

from __future__ import annotations

import logging
from http import HTTPStatus
from math import ceil
from typing import Final

from flask import Flask, make_response, render_template, request
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import HTTPException, SecurityError, TooManyRequests

from fleet.errors import (
    BadInput,
    Doubtful,
    FleetError,
    KeyTaken,
    LinkRefused,
    NotFound,
    StoreError,
)
from fleet.services.access.visitor import NOBODY
from fleet.web.api.door import is_for_programs
from fleet.web.api.problems import problem
from fleet.web.asked import Asked, asked
from fleet.web.guard import TOKEN_FIELD

__all__ = ["install"]

_LOG = logging.getLogger("dueward.pages")

_SAID: Final = {
    400: (
        "This form has grown old",
        "Nothing was saved. Go back, load the page again, and send it once more.",
    ),
    401: ("You are signed out", "Nothing was saved. Sign in, then do it once more."),
    403: ("This page is not for you", "Your account answers for other things; see your own page."),
    404: (
        "There is no such page",
        "The address may be old, or it belongs to a site that is not among yours.",
    ),
    405: ("That cannot be done here", "Go back and use the buttons of the page."),
    413: ("That is too large", "Send a smaller file."),
    421: (
        "These pages have another address",
        "Nothing is shown under this one. Take the address that you were given, or ask whoever"
        " looks after the pages.",
    ),
    429: ("Too many at once", "Nothing was done, so that others are served too."),
}
_NO_HOST: Final = (
    "This address cannot be read",
    "Nothing was done. Take the address that you were given, letter by letter.",
)
_OTHER: Final = ("Something went wrong here", "It was noted. Try once more in a minute.")
_IN_WORDS: Final = ("why", "note", "reason", "findings", "action", "problem")
"""How fields begin whose words are somebody's own."""
_STATUS: Final = {
    BadInput: 400,
    NotFound: 404,
    Doubtful: 409,
    KeyTaken: 409,
    LinkRefused: 410,
    StoreError: 503,
}


def install(app: Flask) -> None:
    """Let every failure end in a page, or in a problem told to a program."""
    app.register_error_handler(HTTPException, _http)
    app.register_error_handler(Doubtful, _doubtful)
    app.register_error_handler(FleetError, _refused)
    app.register_error_handler(Exception, _unforeseen)


def _http(error: HTTPException) -> ResponseReturnValue:
    if is_for_programs(request.path):
        return problem(error)
    code = error.code or 500
    if code < 400:  # a redirect that was raised, as werkzeug does for a missing slash
        return error.get_response()
    is_no_host = isinstance(error, SecurityError)
    heading, words = _NO_HOST if is_no_host else _SAID.get(code, _OTHER)
    wait = error.retry_after if isinstance(error, TooManyRequests) else None
    if isinstance(wait, int):
        minutes = ceil(wait / 60)
        again = f"Come again in {minutes} minute{'' if minutes == 1 else 's'}."
        made = make_response(_page(code, heading, [words, again]))
        made.headers["Retry-After"] = str(wait)
        return made
    return _page(code, heading, [words, *_written(code)])


def _written(code: int) -> list[str]:
    """What somebody had written in words when they were signed out, so that it is not lost."""
    if code != HTTPStatus.UNAUTHORIZED:
        return []
    told = (text.strip() for name, text in request.form.items() if name.startswith(_IN_WORDS))
    return [f"You had written: {text}" for text in told if text]


def _doubtful(error: Doubtful) -> ResponseReturnValue:
    """Show what is doubtful with the very form that was sent, to be sent again if it is meant."""
    if is_for_programs(request.path):
        return problem(error)
    hidden = [
        (name, value)
        for name, values in request.form.lists()
        for value in values
        if name not in (TOKEN_FIELD, "anyway")
    ]
    page = asked().page("meant.html", problem=error.problem, hidden=hidden, path=request.path)
    return page, HTTPStatus.CONFLICT


def _refused(error: FleetError) -> ResponseReturnValue:
    if isinstance(error, StoreError):
        _LOG.error("the database: %s", error)
    if is_for_programs(request.path):
        return problem(error)
    code = next((code for kind, code in _STATUS.items() if isinstance(error, kind)), 400)
    lines = [f"{fault.problem}; {fault.mend}" for fault in getattr(error, "faults", ())]
    if isinstance(error, StoreError):
        return _page(code, "The database cannot be used just now", [_OTHER[1]])
    heading = "Nothing was saved" if request.method == "POST" else "That cannot be shown"
    is_of_jobs = any(fault.column == "jobs" for fault in getattr(error, "faults", ()))
    return _page(code, heading, lines or [str(error)], to_jobs=is_of_jobs)


def _unforeseen(error: Exception) -> ResponseReturnValue:
    _LOG.exception("an error that nobody foresaw, at %s %s", request.method, request.path)
    if is_for_programs(request.path):
        return problem(error)
    return _page(500, *(_OTHER[0], [_OTHER[1]]))


def _page(
    code: int, heading: str, lines: list[str], *, to_jobs: bool = False
) -> ResponseReturnValue:
    from flask import g

    found: Asked | None = g.get("asked")
    if request.accept_mimetypes.best_match(["text/html", "application/json"]) == (
        "application/json"
    ):
        return {"error": heading, "details": lines}, code
    visitor = NOBODY if found is None else found.visitor
    page = render_template(
        "refusal.html",
        asked=found,
        visitor=visitor,
        heading=heading,
        lines=lines,
        code=code,
        to_jobs=to_jobs,
    )
    return page, code
