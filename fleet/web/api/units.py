"""Which units stand at a program's sites, and what is the life of one?"""

from __future__ import annotations

import datetime as dt
from operator import attrgetter

from flask import Response

from fleet.domain.numbers import formers_of
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.charts.card_words import LANGUAGES
from fleet.services.charts.often import how_often
from fleet.services.columns import book_of
from fleet.services.outages import outages_of
from fleet.services.readings import limits_words, rule_on
from fleet.services.standing import moves_of_unit, stand_now, today_of
from fleet.web.api.given import query
from fleet.web.api.told import PART, json_answer, own_unit, part, sites_asked
from fleet.web.asked import asked
from fleet.web.routes import Operations
from fleet.web.who import AT_SITES, LEADS
from schedules.rules import Rule

__all__ = ["OPERATIONS"]

OPERATIONS = Operations()


@OPERATIONS.get("/api/v1/units", who=AT_SITES)
def units() -> Response:
    """The units that stand at the visitor's sites today, retired ones too, by their numbers."""
    asking, given = asked(), query("site", "kind", *PART)
    kind = given.text("kind", 64)
    sites = sites_asked(asking, given, *AT_SITES)
    with asking.read() as record:
        register = record.register()
    stands = stand_now(register, asking.now)
    found = [
        unit
        for unit in sorted(register.units.values(), key=attrgetter("property_number"))
        if stands[unit.property_number] in sites and kind in ("", unit.kind)
    ]
    return part(found, given, lambda unit: _unit(unit, stands[unit.property_number]))


def _unit(unit: Unit, site: str) -> dict[str, object]:
    return {
        "property_number": unit.property_number,
        "kind": unit.kind,
        "manufacturer": unit.manufacturer,
        "model": unit.model,
        "serial": unit.serial,
        "site": site,
        "in_service_on": unit.in_service_on,
        "retired_on": unit.retired_on,
        "record_from": unit.record_from_on or unit.in_service_on,
    }


@OPERATIONS.get("/api/v1/units/<path:number>", who=LEADS)
def unit(number: str) -> Response:
    """One unit with its moves, outages, services and rules; a former number finds it too."""
    asking = asked()
    query().check()
    with asking.read() as record:
        register = record.register()
    found = own_unit(asking, register, number, *LEADS)
    today = today_of(register, found, asking.now)
    told = _unit(found, stand_now(register, asking.now)[found.property_number])
    return json_answer({**told, **_life(register, found), "rules": _rules(register, found, today)})


def _life(register: Register, unit: Unit) -> dict[str, object]:
    """Where it stood, when it was out, who serviced it."""
    name = unit.property_number
    reports = [one for one in register.reports.values() if one.property_number == name]
    return {
        "former_numbers": formers_of(register.renumberings.values(), name),
        "placements": [
            {"site": move.site, "from": move.from_on} for move in moves_of_unit(register, unit)
        ],
        "outages": [
            {"from": one.from_on, "to": one.to_on, "reason": one.reason}
            for one in outages_of(register, unit)
        ],
        "services": [
            {
                "task": one.task,
                "on": one.on,
                "vendor": one.vendor or None,
                "technician": one.technician or None,
                "findings": one.findings or None,
                "certificate_name": one.certificate_name or None,
                "entry": one.entry or None,
            }
            for one in sorted(reports, key=attrgetter("on"), reverse=True)
        ],
    }


def _rules(register: Register, unit: Unit, on: dt.date) -> list[dict[str, object]]:
    """The rules in force on a day, in the order of the book."""
    kind = book_of(register).kinds.get(unit.kind)
    versions = kind.tasks(unit.model).values() if kind else ()
    return [_rule(rule) for some in versions if (rule := rule_on(some, on)) is not None]


def _rule(rule: Rule) -> dict[str, object]:
    return {
        "task": rule.task,
        "title": rule.title,
        "basis": rule.basis.value,
        "often": how_often(rule, LANGUAGES["en"]),
        "reading": limits_words(rule.range) if rule.range else None,
        "vendor": rule.vendor,
        "stops_use": rule.stops_use,
        "cautions": list(rule.cautions),
        "source": rule.source,
    }
