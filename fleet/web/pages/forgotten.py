"""What does somebody do who has forgotten the password? Asks for a link by mail."""

from __future__ import annotations

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue
from werkzeug.exceptions import TooManyRequests

from fleet.services.access.forgotten import ask_new_password, can_mail, wait_before_asking
from fleet.web.asked import asked
from fleet.web.routes import ANYBODY, Pages

__all__ = ["PAGES"]

PAGES = Pages()


@PAGES.get("/sign-in/forgotten", who=ANYBODY)
def forgotten_page() -> ResponseReturnValue:
    """The form for the address, or whom to ask where no mail can be sent."""
    asking = asked()
    is_asked = request.args.get("done") == "asked"
    can = can_mail(asking.web.program.settings.mail)
    return asking.page("forgotten.html", can_mail=can, is_asked=is_asked)


@PAGES.post("/sign-in/forgotten", who=ANYBODY)
def forgotten() -> ResponseReturnValue:
    """Mail a link if the address has an account; the answer is the same if not."""
    asking, settings = asked(), asked().web.program.settings.mail
    if not can_mail(settings):
        return redirect(url_for("forgotten.forgotten_page"))
    with asking.read() as record:
        wait = wait_before_asking(record.access, asking.caller)
    if wait:
        raise TooManyRequests(retry_after=wait)
    ask_new_password(asking.store, asking.caller, asking.field("email"), settings)
    return redirect(url_for("forgotten.forgotten_page", done="asked"))
