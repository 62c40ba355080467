"""Which programs may ask in somebody's name? Their owner makes, looks at and ends their tokens."""

from __future__ import annotations

from flask import abort, redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.errors import BadInput
from fleet.services.access.api_tokens import TOKEN_DAYS, end_token, live_tokens, make_token
from fleet.web.asked import Asked, asked
from fleet.web.routes import Pages
from fleet.web.who import ACCOUNTS

__all__ = ["PAGES"]

PAGES = Pages()

_TEMPLATE = "account_tokens.html"


@PAGES.get("/account/tokens", who=ACCOUNTS)
def tokens() -> ResponseReturnValue:
    """The tokens of the account, and the form that makes one."""
    return asked().page(_TEMPLATE, **_facts(asked()))


def _owner(asking: Asked) -> str:
    """The account's address; a bench has no account of its own."""
    return asking.visitor.email or abort(403)


def _facts(asking: Asked) -> dict[str, object]:
    with asking.read() as record:
        live = live_tokens(record.access, _owner(asking), asking.now)
    return {"tokens": live, "days": TOKEN_DAYS}


@PAGES.post("/account/tokens", who=ACCOUNTS)
def make() -> ResponseReturnValue:
    """Make a token, and show it the one time that it is known."""
    asking, email = asked(), _owner(asked())
    days, may_write = asking.field("days"), asking.field("may") == "write"
    try:
        with asking.write() as record:
            _, secret = make_token(
                record,
                asking.caller,
                email,
                asking.field("name"),
                int(days) if days.isascii() and days.isdigit() and len(days) < 4 else 0,
                may_write=may_write,
            )
            record.commit()
    except BadInput as error:
        typed = {name: asking.field(name) for name in ("name", "days", "may")}
        return asking.form_again(_TEMPLATE, error.faults, typed=typed, **_facts(asking))
    page = asking.page(
        "shown_once.html",
        heading="A token for another program",
        secret=secret,
        lines=[
            f"Give it to that program alone: with it, it sees{' and writes' if may_write else ''}"
            " what you may, until its time is over or you end it.",
            "Keep it where passwords are kept, not in a mail or a shared file.",
        ],
        back=url_for("account_tokens.tokens"),
    )
    return page, 200, {"Cache-Control": "no-store"}


@PAGES.post("/account/tokens/end", who=ACCOUNTS)
def end() -> ResponseReturnValue:
    """End a token; the program that holds it asks no more."""
    asking, email = asked(), _owner(asked())
    with asking.write() as record:
        if not end_token(record, asking.caller, email, asking.field("number"), email):
            abort(404)
        record.commit()
    return redirect(url_for("account_tokens.tokens", done="ended"))
