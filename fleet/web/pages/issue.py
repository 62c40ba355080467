"""How does a new unit enter service at a site, by a form?"""

from __future__ import annotations

from typing import Final

from flask import redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.domain.records import Unit
from fleet.errors import BadInput
from fleet.services.columns import book_of
from fleet.services.life.issue import Serviced
from fleet.services.life.issue import issue as issue_unit
from fleet.services.ports import Record
from fleet.services.standing import day_at
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form, one_day
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES"]

PAGES = Pages()

_FIELDS: Final = {"on": "in_service_on", "record-from": "record_from_on"}
"""Fields of the form, by the name the service has for them."""


@PAGES.get("/sites/<site>/issue", who=OVERSEERS)
def issue_page(site: str) -> ResponseReturnValue:
    """The form."""
    asking = asked()
    with asking.read() as record:
        facts = _facts(asking, record, site)
    return asking.page("issue.html", **facts)


def _facts(asking: Asked, record: Record, name: str) -> dict[str, object]:
    register = record.register()
    place = asking.site(register, name, *OVERSEERS)
    kinds = book_of(register).kinds.values()
    services = {rule.task: rule.title for kind in kinds for rule in kind.rules if rule.vendor}
    return {
        "site": place,
        "kinds": sorted((kind.name, kind.code) for kind in kinds),
        "services": sorted(services.items()) if len(services) > 1 else [],
        "today": day_at(place, asking.now),
    }


@PAGES.post("/sites/<site>/issue", who=OVERSEERS)
def issue(site: str) -> ResponseReturnValue:
    """Put the unit into service, and lead to its page."""
    asking = asked()
    try:
        with asking.write() as record:
            place = asking.site(record.register(), site, *OVERSEERS)
            unit = _unit(asking, place.site)
            issue_unit(
                record,
                asking.public_holidays,
                unit,
                _serviced(asking),
                anyway=asking.is_meant,
                stamp=asking.stamp(),
            )
            record.commit()
    except BadInput as error:
        faults = [at_a_form(fault, _FIELDS) for fault in error.faults]
        with asking.read() as record:
            facts = _facts(asking, record, site)
        return asking.form_again("issue.html", faults, typed=request.form, **facts)
    return redirect(url_for("units.unit", number=unit.property_number, done="issued"))


def _unit(asking: Asked, site: str) -> Unit:
    since = asking.field("record_from_on")
    return Unit(
        property_number=asking.field("property_number"),
        kind=asking.field("kind"),
        manufacturer=asking.field("manufacturer"),
        model=asking.field("model"),
        serial=asking.field("serial"),
        site=site,
        in_service_on=one_day("in_service_on", asking.field("in_service_on")),
        record_from_on=one_day("record_from_on", since) if since else None,
    )


def _serviced(asking: Asked) -> Serviced | None:
    on = asking.field("serviced_on")
    if not on:
        return None
    task, initials = asking.field("serviced_task"), asking.field("initials")
    return Serviced(one_day("serviced_on", on), task, initials)
