"""What is a program told when something cannot be done? A problem of RFC 9457, and no trace.

400 means that the request is not as the document says; 409 that it is, and the record stands
against it: what is doubtful goes on when it is meant, what is refused does not.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Final

from flask import Response
from werkzeug.exceptions import HTTPException

from fleet.errors import BadInput, Doubtful, Fault, FleetError, KeyTaken, NotFound, StoreError
from fleet.web.fields import at_a_form

__all__ = ["SORTS", "Refusal", "problem"]

SORTS: Final[Mapping[str, tuple[int, str]]] = {
    "bad-input": (400, "The request is not as the document says"),
    "no-token": (401, "A token that is known and has not ended is needed"),
    "not-yours": (403, "This token may not do that"),
    "not-there": (404, "There is no such thing"),
    "wrong-method": (405, "That cannot be done here"),
    "doubtful": (409, "Possible, but probably a slip"),
    "key-taken": (409, "The key stands for something else"),
    "refused": (409, "The record stands against it"),
    "too-large": (413, "That is too large"),
    "not-json": (415, "The body is to be JSON"),
    "misdirected": (421, "There is no such server"),
    "too-many": (429, "Too many questions"),
    "broken": (500, "Something went wrong here"),
    "no-database": (503, "The database cannot be used just now"),
}
"""Each sort of problem with its status and title; the page about the API tells of each."""
_OF_STATUS: Final = {
    400: "bad-input",
    404: "not-there",
    405: "wrong-method",
    413: "too-large",
    421: "misdirected",
}
_NOT_THERE: Final = "The address names nothing, or something of a site that is not among yours."
_DETAILS: Final = {
    "bad-input": "The request cannot be read.",
    "not-there": _NOT_THERE,
    "wrong-method": "The header Allow names the methods that there are.",
    "too-large": "Send less in one request.",
    "misdirected": "Nothing is answered under this name; ask for the address of the pages.",
    "broken": "It was noted. Try once more in a minute.",
    "no-database": "It was noted. Try once more in a minute.",
}


class Refusal(HTTPException):
    """A problem that the API itself finds; word: one of SORTS."""

    def __init__(
        self,
        word: str,
        detail: str,
        *,
        faults: Sequence[Fault] = (),
        headers: Mapping[str, str] | None = None,
    ) -> None:
        super().__init__(detail)
        self.code, self.word, self.detail = SORTS[word][0], word, detail
        self.faults, self.headers = tuple(faults), dict(headers or {})


def problem(error: Exception) -> Response:
    """The answer to whatever went wrong."""
    if isinstance(error, Refusal):
        return _answer(error.word, error.detail, error.faults, error.headers)
    if isinstance(error, HTTPException):
        return _of_http(error)
    if isinstance(error, FleetError):
        return _of_service(error)
    return _answer("broken", _DETAILS["broken"])


def _of_http(error: HTTPException) -> Response:
    code = error.code or HTTPStatus.INTERNAL_SERVER_ERROR
    if code < HTTPStatus.BAD_REQUEST:  # what would lead on to another spelling of the address
        code = HTTPStatus.NOT_FOUND
    usual = "bad-input" if code < HTTPStatus.INTERNAL_SERVER_ERROR else "broken"
    word = _OF_STATUS.get(code, usual)
    allowed = getattr(error, "valid_methods", None)
    headers = {"Allow": ", ".join(sorted(allowed))} if allowed else {}
    return _answer(word, _DETAILS[word], (), headers)


def _of_service(error: FleetError) -> Response:
    if isinstance(error, Doubtful):
        return _answer("doubtful", f'{error.problem}; send "anyway": true if it is meant')
    if isinstance(error, KeyTaken):
        detail = f"the key stands for another entry already ({error.differs} differs)"
        return _answer("key-taken", f"{detail}; an entry is never changed: give a new key")
    if isinstance(error, NotFound):
        return _answer("not-there", str(error))
    if isinstance(error, StoreError):
        return _answer("no-database", _DETAILS["no-database"])
    if isinstance(error, BadInput):
        faults = [at_a_form(fault) for fault in error.faults]
        return _answer("refused", f"{faults[0].problem}; {faults[0].mend}", faults)
    return _answer("refused", str(error))


def _answer(
    word: str,
    detail: str,
    faults: Sequence[Fault] = (),
    headers: Mapping[str, str] | None = None,
) -> Response:
    status, title = SORTS[word]
    told = {
        "type": f"/api#{word}",
        "title": title,
        "status": status,
        "detail": detail,
        "faults": [
            {"field": fault.column or None, "problem": fault.problem, "mend": fault.mend}
            for fault in faults
        ],
    }
    body = json.dumps(told)
    return Response(body, status, headers, mimetype="application/problem+json")
