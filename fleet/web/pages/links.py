"""How does an overseer let somebody without an account see one trip, or one packet?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence

from flask import abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.domain.register import Register
from fleet.domain.visits import SiteVisit
from fleet.errors import BadInput
from fleet.services.access.given_links import (
    PACKET_DAYS,
    end_link,
    give_packet,
    give_trip,
    given_links,
)
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Record
from fleet.services.visits.kept_plan import TripKey, planned_visits, trips_of
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count, one_day
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS
from schedules.visits.model import Grade

__all__ = ["PAGES"]

PAGES = Pages()


@PAGES.get("/links", who=OVERSEERS)
def links() -> ResponseReturnValue:
    """The links that were given, and the forms that give one."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record)
    return asking.page("links.html", **facts)


def _facts(asking: Asked, record: Record) -> dict[str, object]:
    register, own = record.register(), _own_sites(asking)
    given = [
        one for one in given_links(record, asking.now) if set(one.scope["sites"].split()) <= own
    ]
    month = asking.now.date().replace(day=1)
    return {
        "given": given,
        "trips": _trips(register, own),
        "sites": sorted((register.sites[(name,)] for name in own), key=lambda s: s.name or s.site),
        "to_on": month - dt.timedelta(days=1),
        "from_on": month.replace(year=month.year - 2),
    }


def _own_sites(asking: Asked) -> frozenset[str]:
    return asking.visitor.sites(Role.CONSULTANT, Role.MANAGER)


def _trips(register: Register, own: frozenset[str]) -> Mapping[TripKey, Sequence[SiteVisit]]:
    """The trips that stand firm enough to be told, all of whose stops the visitor looks after."""
    visits = [v for v in planned_visits(register) if v.grade is not Grade.FREE]
    trips = trips_of(register, visits)
    return {key: some for key, some in trips.items() if {v.site for v in some} <= own}


@PAGES.post("/links/trip", who=OVERSEERS)
def trip_link() -> ResponseReturnValue:
    """Give a link to one trip."""
    asking = asked()
    technician, _, start = asking.field("trip").rpartition("/")
    with asking.write() as record:
        trips = _trips(record.register(), _own_sites(asking))
        key = next(
            (k for k in trips if (k.technician, str(k.start_on)) == (technician, start)), None
        )
        if key is None:
            abort(404)
        token = give_trip(record, asking.caller, trips[key], asking.visitor.email)
        record.commit()
    return _once(asking, f"/t/{token}", f"A link to the trip of {technician}")


@PAGES.post("/links/packet", who=OVERSEERS)
def packet_link() -> ResponseReturnValue:
    """Give a link to the packet of one site, which is made as of now."""
    asking = asked()
    try:
        from_on, to_on = one_day("from", asking.field("from")), one_day("to", asking.field("to"))
        days = one_count("days", asking.field("days"), 14, 1, PACKET_DAYS)
        with asking.write() as record:
            place = asking.site(record.register(), asking.field("site"), *OVERSEERS)
            number = asking.web.program.draw_token()
            span = {"site": place.site, "from": str(from_on), "to": str(to_on)}
            made_by = asking.visitor.name
            job = queue_job(record, number, "packet", {**span, "made_by": made_by}, asking.stamp())
            token = give_packet(record, asking.caller, job, span, days, asking.visitor.email)
            record.commit()
    except BadInput as error:
        with asking.read() as record:
            facts = _facts(asking, record)
        typed = {name: asking.field(name) for name in ("site", "from", "to", "days")}
        return asking.form_again("links.html", error.faults, typed=typed, **facts)
    return _once(asking, f"/p/{token}", f"A link to the packet of {place.name or place.site}")


@PAGES.post("/links/end", who=OVERSEERS)
def end() -> ResponseReturnValue:
    """Let a link open no more."""
    asking, number = asked(), asked().field("number")
    with asking.write() as record:
        own = _own_sites(asking)
        known = {
            one.number
            for one in given_links(record, asking.now)
            if set(one.scope["sites"].split()) <= own
        }
        if number not in known:
            abort(404)
        end_link(record, number, asking.now, asking.visitor.email)
        record.commit()
    return redirect(url_for("links.links", done="ended"))


def _once(asking: Asked, path: str, heading: str) -> ResponseReturnValue:
    base = asking.web.program.settings.mail.base_url or request.host_url.rstrip("/")
    lines = ["Whoever has it sees what it opens, and nothing else; no account is needed."]
    page = asking.page(
        "shown_once.html",
        heading=heading,
        secret=f"{base}{path}",
        lines=lines,
        back=url_for("links.links"),
    )
    return page, 200, {"Cache-Control": "no-store"}
