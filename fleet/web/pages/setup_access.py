"""What happened at the doors: who came in, who did not, and from where?"""

from __future__ import annotations

from typing import Final

from flask import request
from flask.typing import ResponseReturnValue

from fleet.services.access.visitor import account_name
from fleet.web.asked import asked
from fleet.web.routes import Pages
from fleet.web.who import MANAGERS

__all__ = ["PAGES"]

PAGES = Pages()

_SHOWN: Final = 50


@PAGES.get("/setup/access", who=MANAGERS)
def access() -> ResponseReturnValue:
    """The latest lines of the access log, of everybody or of one person."""
    asking, who = asked(), request.args.get("who", "").strip()
    named = account_name(who) if "@" in who else who
    with asking.read() as record:
        events = record.access.logged(_SHOWN, named)
    return asking.page("setup_access.html", events=events, who=who, shown=_SHOWN)
