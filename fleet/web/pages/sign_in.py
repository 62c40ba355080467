"""How does somebody come in, go out, and get back in after forgetting the password?"""

from __future__ import annotations

from typing import Final
from urllib.parse import urlsplit

from flask import Response, make_response, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.access import Session
from fleet.errors import BadInput, Fault
from fleet.services.access.accounts import look_at_door, set_password
from fleet.services.access.sessions import begin_session, end_session
from fleet.services.access.sign_in import SignedIn, confirm_code
from fleet.services.access.sign_in import sign_in as try_password
from fleet.services.links import Purpose
from fleet.web.asked import Asked, asked
from fleet.web.routes import ANYBODY, Pages
from fleet.web.token_doors import wrong_links_counted

__all__ = ["PAGES", "cleared"]

PAGES = Pages()

_NO_ENTRY: Final = Fault(
    "sign-in",
    None,
    "password",
    "this address and password do not fit, or there were too many tries",
    "check both, or wait a quarter of an hour",
)
_NO_CODE: Final = Fault(
    "sign-in",
    None,
    "code",
    "this code does not fit, was used already, or there were too many tries",
    "wait for the next code, and check the phone's clock",
)


@PAGES.get("/sign-in", who=ANYBODY)
def sign_in_page() -> ResponseReturnValue:
    """The form for address and password."""
    asking = asked()
    if asking.visitor.email:
        return redirect(_onward(request.args.get("then", "")))
    return asking.page("sign_in.html", then=request.args.get("then", ""), email="")


@PAGES.post("/sign-in", who=ANYBODY)
def sign_in() -> ResponseReturnValue:
    """Try address and password."""
    asking = asked()
    email, password = asking.field("email"), request.form.get("password", "")
    signed = try_password(asking.store, asking.caller, email, password, asking.session)
    if signed is None:
        then = asking.field("then")
        return asking.form_again("sign_in.html", [_NO_ENTRY], then=then, email=email)
    asking.new_cookie = signed.token
    if not signed.is_whole:
        return redirect(url_for("sign_in.code_page", then=asking.field("then")))
    return redirect(_onward(asking.field("then")))


@PAGES.get("/sign-in/code", who=ANYBODY)
def code_page() -> ResponseReturnValue:
    """The form for the second factor's code."""
    if _waiting(asked()) is None:
        return redirect(url_for("sign_in.sign_in_page"))
    return asked().page("code.html", then=request.args.get("then", ""))


@PAGES.post("/sign-in/code", who=ANYBODY)
def code() -> ResponseReturnValue:
    """Try a code of the second factor."""
    asking = asked()
    session = _waiting(asking)
    if session is None:
        return redirect(url_for("sign_in.sign_in_page"))
    signed: SignedIn | None = confirm_code(
        asking.store, asking.caller, session, asking.field("code")
    )
    if signed is None:
        return asking.form_again("code.html", [_NO_CODE], then=asking.field("then"))
    asking.new_cookie = signed.token
    return redirect(_onward(asking.field("then")))


def _waiting(asking: Asked) -> Session | None:
    """The session that gave its password and still owes a code."""
    session = asking.session
    return session if session is not None and session.email and not session.is_whole else None


@PAGES.post("/sign-out", who=ANYBODY)
def sign_out() -> ResponseReturnValue:
    """End the session, here and in the database."""
    asking = asked()
    if asking.session is not None:
        with asking.write() as record:
            end_session(record.access, asking.caller, asking.session)
            record.commit()
    asking.new_cookie = ""
    to = "bench.bench" if asking.device is not None else "sign_in.sign_in_page"
    return cleared(redirect(url_for(to)))


def cleared(response: ResponseReturnValue) -> Response:
    """An answer after which the browser keeps no page that the next person should not see."""
    made = make_response(response)
    made.headers["Clear-Site-Data"] = '"cache"'
    return made


@PAGES.get("/l/<token>", who=ANYBODY)
def door_page(token: str) -> ResponseReturnValue:
    """What a link opens: an invitation, or a new password. Looking at it uses nothing up."""
    asking = asked()
    with wrong_links_counted(asking), asking.read() as record:
        link = look_at_door(record, asking.caller, token)
    return _unreferred(asking.page("door.html", link=link, is_new=_is_new(link.purpose)))


@PAGES.post("/l/<token>", who=ANYBODY)
def door(token: str) -> ResponseReturnValue:
    """Set the password, and let its owner in."""
    asking = asked()
    password = request.form.get("password", "")
    with wrong_links_counted(asking), asking.read() as record:
        link = look_at_door(record, asking.caller, token)
    hashed = asking.caller.hasher.hashed(password)
    try:
        with asking.write() as record:
            email = set_password(record, asking.caller, token, password, hashed)
            account = record.access.account(email)
            is_whole = account is None or not account.totp_key
            asking.new_cookie = begin_session(
                record.access, asking.caller, email=email, is_whole=is_whole
            )
            record.commit()
    except BadInput as error:
        again = asking.form_again(
            "door.html", error.faults, link=link, is_new=_is_new(link.purpose)
        )
        return _unreferred(again)
    return redirect(url_for("home.home") if is_whole else url_for("sign_in.code_page"))


def _is_new(purpose: Purpose) -> bool:
    return purpose is Purpose.INVITE


def _unreferred(response: ResponseReturnValue) -> Response:
    """The page's address is a secret: no other page learns of it."""
    made = make_response(response)
    made.headers["Referrer-Policy"] = "no-referrer"
    made.headers["Cache-Control"] = "no-store"
    return made


def _onward(then: str) -> str:
    """Where to go after signing in: a path of ours, whatever the address says."""
    parts = urlsplit(then)
    is_ours = then.startswith("/") and not then.startswith(("//", "/\\", "/sign-"))
    return then if is_ours and not parts.scheme and not parts.netloc else url_for("home.home")
