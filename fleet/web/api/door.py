"""Who is let in to the API? Every request of a program passes here before anything is answered.

A token comes in the header Authorization and nowhere else (RFC 6750, 2.1). Cookies are not looked
at, so that no page of another site can ask in the name of whoever looks at it.
"""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import quote

from flask import request
from werkzeug.exceptions import NotFound
from werkzeug.routing import RequestRedirect

from fleet.domain.access import Act, ApiToken
from fleet.services.access.api_tokens import (
    Bearer,
    TokenFault,
    bearer_of,
    note_use,
    note_wrong_token,
)
from fleet.services.access.caller import Caller
from fleet.services.access.visitor import NOBODY, Visitor
from fleet.web.api.problems import Refusal
from fleet.web.asked import Asked
from fleet.web.routes import Route
from fleet.web.site import WebSite

__all__ = ["asked_by", "is_for_programs", "let_program_in"]

_BEARER: Final = re.compile(r"bearer +(\S+) *", re.IGNORECASE | re.ASCII)
_REALM: Final = 'Bearer realm="Dueward"'
_READS: Final = frozenset({"GET", "HEAD"})
_A_QUARTER_HOUR: Final = "900"


def is_for_programs(path: str) -> bool:
    """Say whether an address is one of the API's; the page about it is not."""
    return path.startswith("/api/")


def let_program_in(web: WebSite, caller: Caller, route: Route | None) -> Asked:
    """Who asks, with which token; nobody where that does not matter. Raises Refusal."""
    if isinstance(request.routing_exception, RequestRedirect):
        raise NotFound  # Another spelling of an address is no address.
    if route is None or route.who is None:
        return asked_by(web, caller)
    visitor, token = _bearer(web, caller)
    if wait := web.meter.wait(token.number, caller.now):
        detail = f"This token has asked too often this minute; wait {wait} seconds."
        raise Refusal("too-many", detail, headers={"Retry-After": str(wait)})
    asked = asked_by(web, caller, visitor, token)
    _refuse_beyond(asked, route, token)
    return asked


def asked_by(
    web: WebSite, caller: Caller, visitor: Visitor = NOBODY, token: ApiToken | None = None
) -> Asked:
    """One request of a program; of nobody, where it has not been let in."""
    return Asked(
        web=web,
        caller=caller,
        visitor=visitor,
        session=None,
        device=None,
        cookie="",
        token=token,
    )


def _bearer(web: WebSite, caller: Caller) -> tuple[Visitor, ApiToken]:
    """Whoever the token speaks for; each use is noted now and then, each refusal logged."""
    given = request.headers.get("Authorization", "")
    found = _BEARER.fullmatch(given)
    if found is None:
        detail = "Send the header 'Authorization: Bearer' with a token; a person makes one."
        raise Refusal("no-token", detail, headers={"WWW-Authenticate": _REALM})
    with web.program.store.begin() as record:
        bearer = bearer_of(record, found[1], caller.now)
    visitor, token = bearer.visitor, bearer.token
    if visitor is None or token is None:
        raise _wrong_token(web, caller, bearer)
    note_use(web.program.store, token, caller.now)
    return visitor, token


def _wrong_token(web: WebSite, caller: Caller, bearer: Bearer) -> Refusal:
    """What to answer to a token that opens nothing; few are counted, then nothing is written."""
    with web.program.store.begin(write=True) as record:
        is_counted = note_wrong_token(record, caller, bearer)
        record.commit()
    if not is_counted:
        detail = "Too many tokens that open nothing came from this address; wait a quarter hour."
        return Refusal("too-many", detail, headers={"Retry-After": _A_QUARTER_HOUR})
    fault = bearer.fault or TokenFault.UNKNOWN
    told = {"WWW-Authenticate": f'{_REALM}, error="invalid_token", error_description="{fault}"'}
    return Refusal("no-token", f"The token opens nothing: {fault}.", headers=told)


def _refuse_beyond(asked: Asked, route: Route, token: ApiToken) -> None:
    """Refuse what the token, its owner's roles or the missing second step keep from it."""
    visitor, writes = asked.visitor, request.method not in _READS
    if not (route.who or frozenset()) & visitor.roles.keys():
        raise _beyond(asked, "Its owner answers for other things.")
    if visitor.roles.keys() & asked.web.second_factor and not visitor.has_factor:
        raise _beyond(asked, "Its owner has to set up the second step at sign-in first.")
    if writes and not token.may_write:
        raise _beyond(asked, "This token only reads; its owner can make one that writes.", "write")


def _beyond(asked: Asked, detail: str, scope: str = "") -> Refusal:
    with asked.write() as record:
        about = f"{asked.visitor.token}: {request.method} {quote(request.path)}"
        asked.caller.log(record.access, Act.REFUSED, asked.visitor.email, about)
        record.commit()
    told = f'{_REALM}, error="insufficient_scope"' + (f', scope="{scope}"' if scope else "")
    return Refusal("not-yours", detail, headers={"WWW-Authenticate": told})
