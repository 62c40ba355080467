"""What is begun and not ended, as digests tell it: actions, outages, months to review?"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from fleet.domain.evidence import Action
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.months import first_day
from fleet.services.reviews import REOPENED, SIGNED, ReviewRow
from fleet.services.stays import moves_of, site_on
from notifications.facts import OpenAction, OpenOutage, Place, WaitingMonth
from schedules.rules import Rule, RuleBook

__all__ = ["FollowUp", "follow_up"]


@dataclass(frozen=True, slots=True)
class FollowUp:
    """What is open, by the short name of the site."""

    actions: dict[str, list[OpenAction]] = field(default_factory=lambda: defaultdict(list))
    outages: dict[str, list[OpenOutage]] = field(default_factory=lambda: defaultdict(list))
    months: dict[str, list[WaitingMonth]] = field(default_factory=lambda: defaultdict(list))


def follow_up(
    register: Register,
    book: RuleBook,
    places: Mapping[str, Place],
    months: Iterable[ReviewRow],
    on: dt.date,
) -> FollowUp:
    """Sort what is open on a day; an outage stands where its unit stands then."""
    found = FollowUp()
    for action in register.actions.values():
        if action.closed_on is None and action.opened_on <= on:
            told = _action(register, book, places[action.site], action, on)
            found.actions[action.site].append(told)
    _add_outages(found, register, book, places, on)
    for row in months:
        if row.state != SIGNED:
            waiting = WaitingMonth(
                place=places[row.site],
                first_on=first_day(row.month),
                is_reopened=row.state == REOPENED,
                returned_on=row.returned_on,
            )
            found.months[row.site].append(waiting)
    return found


def _action(
    register: Register, book: RuleBook, place: Place, action: Action, on: dt.date
) -> OpenAction:
    unit = register.units.get((action.property_number,))
    rule = _rule(book, unit, action.task, on) if unit else None
    return OpenAction(
        place=place,
        number=action.number,
        property_number=action.property_number,
        problem=action.problem,
        action=action.action,
        responsible=action.responsible,
        opened_on=action.opened_on,
        review_on=action.review_on,
        cautions=rule.cautions if rule else (),
        cautions_es=rule.cautions_es if rule else (),
    )


def _rule(book: RuleBook, unit: Unit, task: str, on: dt.date) -> Rule | None:
    """The version of a task in force on a day; None for one that the rule book does not know."""
    kind = book.kinds.get(unit.kind)
    versions = kind.tasks(unit.model).get(task, ()) if kind else ()
    return next((rule for rule in versions if rule.speaks_on(on)), None)


def _add_outages(
    found: FollowUp, register: Register, book: RuleBook, places: Mapping[str, Place], on: dt.date
) -> None:
    moves = moves_of(register)
    for outage in register.outages.values():
        unit = register.units[(outage.property_number,)]
        is_gone = unit.retired_on is not None and unit.retired_on <= on
        if outage.to_on is not None or outage.from_on > on or is_gone:
            continue
        site = site_on(unit, moves.get(unit.property_number, ()), on)
        kind = book.kinds.get(unit.kind)
        told = OpenOutage(
            place=places[site],
            property_number=unit.property_number,
            kind=kind.name if kind else unit.kind,
            from_on=outage.from_on,
            reason=outage.reason,
        )
        found.outages[site].append(told)
