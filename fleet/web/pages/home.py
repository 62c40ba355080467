"""Where does somebody who opens the first page want to be? At what they answer for."""

from __future__ import annotations

from flask import redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.web.asked import Asked, asked
from fleet.web.routes import ANYBODY, Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES", "first_page"]

PAGES = Pages()


@PAGES.get("/", who=ANYBODY)
def home() -> ResponseReturnValue:
    """Lead on to the visitor's own page."""
    return redirect(first_page(asked()))


def first_page(asking: Asked) -> str:
    """The path of the page a visitor comes for."""
    visitor = asking.visitor
    if visitor.device or (asking.device is not None and not visitor.is_known):
        return url_for("bench.bench")
    if not visitor.is_known:
        return url_for("sign_in.sign_in_page")
    if Role.MANAGER in visitor.roles:
        return url_for("program.program")
    if visitor.roles.keys() & OVERSEERS:
        return url_for("region.region")
    sites = sorted(visitor.sites(Role.SITE_LEAD))
    if sites:
        return url_for("sites.site", site=sites[0])
    return url_for("bench.bench" if visitor.sites(Role.BENCH) else "account.account")
