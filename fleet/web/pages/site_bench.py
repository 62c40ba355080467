"""How does a site's lead say who marks at its bench, and on which browsers?"""

from __future__ import annotations

from flask import abort, redirect, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.services.access.benches import bench_code, end_bench, end_bench_person, give_pin
from fleet.web.asked import Asked, asked
from fleet.web.routes import Pages

__all__ = ["PAGES"]

PAGES = Pages()

_MAY = frozenset({Role.SITE_LEAD, Role.CONSULTANT})


@PAGES.post("/sites/<site>/bench/code", who=_MAY)
def code(site: str) -> ResponseReturnValue:
    """Make a code, and show it once."""
    asking = asked()
    with asking.write() as record:
        place = asking.site(record.register(), site, *_MAY)
        made = bench_code(record, asking.caller, place.site, asking.visitor.email)
        record.commit()
    lines = [
        "Open the page of the bench on the browser that is to be it, and type this code.",
        "It fits once, for a quarter of an hour, and for this site alone.",
    ]
    return _once(asking, site, "A code for the bench", made, lines)


@PAGES.post("/sites/<site>/bench/people", who=_MAY)
def people(site: str) -> ResponseReturnValue:
    """Give somebody a PIN, or let them mark no more."""
    asking = asked()
    initials, name = asking.field("initials"), asking.field("name")
    is_given = asking.field("act") == "give"
    pin = ""
    with asking.write() as record:
        place = asking.site(record.register(), site, *_MAY)
        by = asking.visitor.email
        if is_given:
            _, pin = give_pin(record, asking.caller, place.site, initials, name, by)
        elif asking.field("act") == "end":
            end_bench_person(record, asking.caller, place.site, initials, by)
        else:
            abort(400)
        record.commit()
    if not is_given:
        return redirect(url_for("sites.site", site=site, done="ended") + "#bench")
    lines = [f"Tell it to {name or initials} alone; at the bench it goes with {initials}."]
    return _once(asking, site, f"The PIN of {initials}", pin, lines)


@PAGES.post("/sites/<site>/bench/end", who=_MAY)
def end(site: str) -> ResponseReturnValue:
    """Let a browser be the bench no more."""
    asking = asked()
    with asking.write() as record:
        place = asking.site(record.register(), site, *_MAY)
        end_bench(record, asking.caller, place.site, asking.field("number"), asking.visitor.email)
        record.commit()
    return redirect(url_for("sites.site", site=site, done="ended") + "#bench")


def _once(
    asking: Asked, site: str, heading: str, secret: str, lines: list[str]
) -> ResponseReturnValue:
    """Show a secret the one time that it is known; the page is not kept anywhere."""
    back = url_for("sites.site", site=site) + "#bench"
    page = asking.page("shown_once.html", heading=heading, secret=secret, lines=lines, back=back)
    return page, 200, {"Cache-Control": "no-store"}
