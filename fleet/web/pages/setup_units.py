"""Which units are there, found by number, kind, site or state?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from flask import request
from flask.typing import ResponseReturnValue

from fleet.domain.answers import StatusRow
from fleet.domain.records import Site, Unit
from fleet.services.columns import book_of
from fleet.services.ports import Record
from fleet.services.standing import site_of, today_of
from fleet.web.asked import Asked, asked
from fleet.web.fields import one_count, one_of
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES"]

PAGES = Pages()

_SHOWN: Final = 50


class Standing(StrEnum):
    """How a unit stands, by the gravest of its duties; the states of design 4.3."""

    OVERDUE = "overdue"
    DUE = "due"
    IN_DATE = "in date"
    OUT = "out of service"
    NOT_YET = "not in service yet"
    RETIRED = "retired"


@dataclass(frozen=True, slots=True)
class UnitLine:
    """One unit on its day, where it stands."""

    unit: Unit
    site: Site
    standing: Standing
    overdue: int
    """How many of its duties are overdue."""


@PAGES.get("/setup/units", who=OVERSEERS)
def units() -> ResponseReturnValue:
    """The units at the visitor's sites."""
    asking = asked()
    page = one_count("page", request.args.get("page", ""), 1, 1, 10_000)
    wanted = {name: request.args.get(name, "").strip() for name in ("find", "kind", "site")}
    state = request.args.get("state", "")
    standing = one_of(Standing, "state", state) if state else None
    with asking.read() as record:
        register, own = record.register(), asking.visitor.sites(*OVERSEERS)
        chosen = asking.site(register, wanted["site"], *OVERSEERS) if wanted["site"] else None
        lines = [line for line in _lines(asking, record) if _fits(line, wanted)]
        kinds = {code: kind.name for code, kind in book_of(register).kinds.items()}
    found = [line for line in lines if standing is None or line.standing is standing]
    first = (page - 1) * _SHOWN
    return asking.page(
        "setup_units.html",
        lines=found[first : first + _SHOWN],
        count=len(found),
        page=page,
        has_more=len(found) > first + _SHOWN,
        wanted=wanted,
        state=state,
        chosen=chosen,
        standings=list(Standing),
        kinds=kinds,
        sites=sorted(
            (register.sites[(name,)] for name in own),
            key=lambda one: (one.name or one.site).casefold(),
        ),
        query={**{k: v for k, v in wanted.items() if v}, **({"state": state} if state else {})},
    )


def _lines(asking: Asked, record: Record) -> list[UnitLine]:
    """Every unit that stands at a site of the visitor's, by number."""
    register, own = record.register(), asking.visitor.sites(*OVERSEERS)
    rows: dict[str, list[StatusRow]] = defaultdict(list)
    for row in asking.web.board.view(record, asking.now).rows:
        rows[row.property_number].append(row)
    lines = []
    for unit in sorted(register.units.values(), key=lambda one: one.property_number):
        today = today_of(register, unit, asking.now)
        site = register.sites[(site_of(register, unit, today),)]
        if site.site in own:
            lines.append(_line(unit, site, rows.get(unit.property_number, ()), today))
    return lines


def _line(unit: Unit, site: Site, rows: Sequence[StatusRow], today: dt.date) -> UnitLine:
    states = [row.state for row in rows]
    if unit.retired_on is not None and unit.retired_on <= today:
        standing = Standing.RETIRED
    elif today < unit.in_service_on:
        standing = Standing.NOT_YET
    else:
        gravest = (Standing.OUT, Standing.OVERDUE, Standing.DUE)
        standing = next((one for one in gravest if one in states), Standing.IN_DATE)
    return UnitLine(unit, site, standing, states.count("overdue"))


def _fits(line: UnitLine, wanted: Mapping[str, str]) -> bool:
    unit = line.unit
    if wanted["kind"] not in ("", unit.kind) or wanted["site"] not in ("", line.site.site):
        return False
    text = f"{unit.property_number} {unit.manufacturer} {unit.model} {unit.serial}".casefold()
    return all(word in text for word in wanted["find"].casefold().split())
