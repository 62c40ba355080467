"""What can somebody do about their own account?"""

from __future__ import annotations

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.access import Account
from fleet.errors import BadInput
from fleet.services.access.accounts import (
    change_password,
    end_second_factor,
    set_up_second_factor,
)
from fleet.services.access.api_tokens import live_tokens
from fleet.services.access.sessions import begin_session
from fleet.services.access.throttle import is_slowed, note_failure
from fleet.services.access.totp import address_of_key, is_key, new_key
from fleet.web.asked import Asked, asked
from fleet.web.routes import Pages
from fleet.web.who import ACCOUNTS

__all__ = ["PAGES"]

PAGES = Pages()


@PAGES.get("/account", who=ACCOUNTS)
def account() -> ResponseReturnValue:
    """The account's page."""
    return asked().page("account.html", **_facts(asked()))


def _owner(asking: Asked) -> str:
    """The account's address; a bench has no account of its own."""
    return asking.visitor.email or abort(403)


def _facts(asking: Asked) -> dict[str, object]:
    email = _owner(asking)
    with asking.read() as record:
        found = record.access.account(email)
        return {
            "account": found,
            "sessions": record.access.sessions_of(email),
            "log": record.access.logged(10, email),
            "tokens": live_tokens(record.access, email, asking.now),
        }


@PAGES.post("/account/password", who=ACCOUNTS)
def password() -> ResponseReturnValue:
    """Change the password; every other browser is signed out."""
    asking, email = asked(), _owner(asked())
    chosen = request.form.get("password", "")
    is_known = _knows_password(asking)
    hashed = asking.caller.hasher.hashed(chosen)
    try:
        with asking.write() as record:
            change_password(record, asking.caller, email, chosen, hashed, is_known=is_known)
            asking.new_cookie = begin_session(record.access, asking.caller, email=email)
            record.commit()
    except BadInput as error:
        return asking.form_again("account.html", error.faults, **_facts(asking))
    return redirect(url_for("account.account", done="password"))


def _knows_password(asking: Asked) -> bool:
    """Say whether the present password was given with the form, and count a failure."""
    email = _owner(asking)
    with asking.read() as record:
        kept: Account | None = record.access.account(email)
        slowed = is_slowed(record.access, asking.caller, email)
    given = request.form.get("present", "")
    fits = asking.caller.hasher.fits(kept.password_hash if kept else "", given)
    if not fits and not slowed:
        with asking.write() as record:
            note_failure(record.access, asking.caller, email)
            record.commit()
    return fits and not slowed


@PAGES.get("/account/second-factor", who=ACCOUNTS)
def factor_page() -> ResponseReturnValue:
    """Show a new key for an authenticator, as text and as a code to read with a phone."""
    asking = asked()
    return asking.page("factor.html", **_factor_facts(asking, new_key()))


def _factor_facts(asking: Asked, key: str) -> dict[str, object]:
    import segno

    address = address_of_key(key, _owner(asking))
    picture = segno.make(address, error="m").svg_inline(scale=4, border=2, light="#fff")
    return {"key": key, "picture": picture}


@PAGES.post("/account/second-factor", who=ACCOUNTS)
def factor() -> ResponseReturnValue:
    """Set the second factor up, once one code of it was typed."""
    asking = asked()
    key = asking.field("key")
    try:
        with asking.write() as record:
            email, typed = _owner(asking), asking.field("code")
            set_up_second_factor(record, asking.caller, email, key, typed)
            record.commit()
    except BadInput as error:
        facts = _factor_facts(asking, key if is_key(key) else new_key())
        return asking.form_again("factor.html", error.faults, **facts)
    return redirect(url_for("account.account", done="factor"))


@PAGES.post("/account/second-factor/end", who=ACCOUNTS)
def end_factor() -> ResponseReturnValue:
    """Ask for no code any more; the password is asked for it."""
    asking = asked()
    if not _knows_password(asking):
        return redirect(url_for("account.account", done="wrong-password"))
    with asking.write() as record:
        email = _owner(asking)
        end_second_factor(record, asking.caller, email, email)
        asking.new_cookie = begin_session(record.access, asking.caller, email=email)
        record.commit()
    return redirect(url_for("account.account", done="factor-ended"))


@PAGES.post("/account/sign-out-others", who=ACCOUNTS)
def sign_out_others() -> ResponseReturnValue:
    """End every session of the account but this one."""
    asking, email = asked(), _owner(asked())
    with asking.write() as record:
        record.access.end_sessions(email=email)
        asking.new_cookie = begin_session(record.access, asking.caller, email=email)
        record.commit()
    return redirect(url_for("account.account", done="others"))
