"""Who is let in to which page? Every request passes here before any page sees it."""

from __future__ import annotations

from typing import Final
from urllib.parse import quote, urlsplit

from flask import abort, g, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.access import Act, Device, Session
from fleet.services.access.benches import enrolled
from fleet.services.access.caller import Caller
from fleet.services.access.sessions import is_stale, live_session
from fleet.services.access.visitor import NOBODY, Visitor, at_bench, visitor_of
from fleet.services.ports import Record
from fleet.web.api.door import asked_by, is_for_programs, let_program_in
from fleet.web.asked import Asked
from fleet.web.routes import Route
from fleet.web.site import WebSite
from fleet.web.tokens import is_form_token

__all__ = ["COOKIE", "DEVICE_COOKIE", "TOKEN_FIELD", "let_in"]

COOKIE: Final = "__Host-dueward"
DEVICE_COOKIE: Final = "__Host-dueward-bench"
"""Names that browsers take only with Secure, Path=/ and without a domain (RFC 6265bis)."""
TOKEN_FIELD: Final = "form_token"  # noqa: S105 - a field's name
_SAFE: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_LABEL_LENGTH: Final = 120


def let_in(web: WebSite, routes: dict[str, Route]) -> ResponseReturnValue | None:
    """Find out who asks, refuse what comes from elsewhere, and send on who may not see the page."""
    caller = Caller(
        now=web.program.clock(),
        address=request.remote_addr or "",
        label=request.headers.get("User-Agent", "")[:_LABEL_LENGTH],
        hasher=web.hasher,
        draw=web.program.draw_token,
    )
    route = routes.get(request.endpoint or "")
    if is_for_programs(request.path):
        g.asked = asked_by(web, caller)
        g.asked = let_program_in(web, caller, route)
        return None
    g.asked = asked = _recognised(web, caller)
    if route is None:
        return None
    if request.method not in _SAFE:
        _refuse_foreign(asked, route)
    if asked.session is not None and is_stale(asked.session, caller.now):
        with asked.write() as record:
            record.access.see_session(asked.session.token_hash, caller.now)
            record.commit()
    return _sent_on(asked, route)


def _recognised(web: WebSite, caller: Caller) -> Asked:
    cookie = request.cookies.get(COOKIE, "")
    bench_cookie = request.cookies.get(DEVICE_COOKIE, "")
    session, device, visitor = None, None, NOBODY
    if cookie or bench_cookie:
        with web.program.store.begin() as record:
            session = live_session(record.access, cookie, caller.now)
            device = enrolled(record, caller, bench_cookie)
            visitor = _visitor(record, caller, session, device)
    return Asked(
        web=web, caller=caller, visitor=visitor, session=session, device=device, cookie=cookie
    )


def _visitor(
    record: Record, caller: Caller, session: Session | None, device: Device | None
) -> Visitor:
    """An account that signed in; else the bench, with the initials of who gave a PIN there."""
    if session is not None and session.email:
        found = visitor_of(record.register(), record.access, session.email, caller.now)
        return found if found is not None and session.is_whole else NOBODY
    if device is None:
        return NOBODY
    initials = ""
    if session is not None and session.device == device.number:
        people = {person.initials for person in record.access.bench_people(device.site)}
        initials = session.initials if session.initials in people else ""
    return at_bench(device.site, device.number, initials)


def _refuse_foreign(asked: Asked, route: Route) -> None:
    """Refuse an act that another site's page sends (OWASP ASVS 5.0.0, 3.5.1)."""
    origin = request.headers.get("Origin", "null")  # 'null': its page tells nobody its address
    is_foreign = request.headers.get("Sec-Fetch-Site", "same-origin") not in ("same-origin", "none")
    is_foreign = is_foreign or (origin != "null" and urlsplit(origin).netloc != request.host)
    if not is_foreign and route.takes_json and request.is_json:
        # Another site's page cannot send JSON without being asked first, and is never let.
        return
    if is_foreign or not is_form_token(asked.cookie, request.form.get(TOKEN_FIELD, "")):
        _log_refusal(asked, "a form of another page")
        abort(400, "form")


def _sent_on(asked: Asked, route: Route) -> ResponseReturnValue | None:
    if route.who is None:
        return None
    if route.who & asked.visitor.roles.keys():
        return _to_second_factor(asked, route)
    if not asked.visitor.is_known:
        if request.method in _SAFE:
            return redirect(url_for("sign_in.sign_in_page", then=request.full_path.rstrip("?")))
        abort(401)
    _log_refusal(asked, quote(request.path))
    return abort(403)


def _to_second_factor(asked: Asked, route: Route) -> ResponseReturnValue | None:
    """Lead whoever owes a second factor to setting it up, and to nothing else before."""
    visitor = asked.visitor
    owes = visitor.email and not visitor.has_factor
    if not owes or not visitor.roles.keys() & asked.web.second_factor:
        return None
    return None if route.name.startswith("account.") else redirect(url_for("account.factor_page"))


def _log_refusal(asked: Asked, about: str) -> None:
    with asked.write() as record:
        who = asked.visitor.email or asked.visitor.by
        asked.caller.log(record.access, Act.REFUSED, who, about)
        record.commit()
