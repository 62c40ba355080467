"""What follows from an entry: a corrective action, an outage, the end of one?

An entry is followed up in the unit of work that writes it, so that no reading out of range stands
without its action.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from fleet.domain.evidence import Action
from fleet.domain.records import Entry, Outage
from fleet.domain.register import Register
from fleet.services.actions import write_action
from fleet.services.columns import book_of
from fleet.services.failed_checks import (
    failed_check,
    outage_of,
    settle,
    stopped_numbers,
    unpassed,
)
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.readings import (
    action_of,
    corrected_keys,
    is_pass,
    reading_action,
    rule_on,
    trespass,
)
from schedules.rules import Rule

__all__ = ["Effects", "effects", "follow", "rule_of"]


@dataclass(frozen=True, slots=True)
class Effects:
    """What followed from an entry: each None where nothing did."""

    action: Action | None = None
    began: Outage | None = None
    """The outage of the failed check."""
    ended: Outage | None = None
    """The outage that the pass ended, with the day of return; that may be its first day."""
    withdrawn: Outage | None = None
    """The outage of a failure that was struck, where no other failure keeps it."""
    still: tuple[Action, ...] = ()
    """The failed checks without a pass that keep the unit out of use, the earliest first."""
    cautions: tuple[str, ...] = ()
    """What the rule of a reading out of range, or of a failed check, warns of."""


def rule_of(register: Register, entry: Entry) -> Rule | None:
    """The rule in force for an entry on its day; its unit must be on the register."""
    unit = register.units[(entry.property_number,)]
    kind = book_of(register).kinds.get(unit.kind)
    return rule_on(kind.tasks(unit.model).get(entry.task, ()), entry.on) if kind else None


def follow(record: Record, public_holidays: PublicHolidays, entry: Entry, stamp: Stamp) -> None:
    """Open the action of a reading out of range, stop the use of a unit whose check failed, and
    end that with a pass. What stands already is left as it is. The caller commits.
    """
    register = record.register()
    unit, rule = register.units[(entry.property_number,)], rule_of(register, entry)
    limits = trespass(entry, rule)
    since, is_moved = {unit.property_number: entry.on}, False
    if rule is not None and limits is not None:
        action = action_of(register.actions.values(), corrected_keys(record, entry))
        if action is None:
            action = reading_action(register, unit, rule, entry, limits, stamp)
            action = write_action(record, register, action, stamp)
        is_moved = rule.stops_use
    elif is_pass(entry, rule):
        is_moved = bool(stopped_numbers(register, since))
    is_moved = is_moved or bool(entry.strikes)
    if is_moved:
        settle(record, public_holidays, "mark", since, stamp, fresh=entry.key)


def effects(record: Record, entry: Entry, before: Register) -> Effects:
    """What followed from an entry that was written since `before`, or what stands of it."""
    now = record.register()
    unit, rule = now.units[(entry.property_number,)], rule_of(now, entry)
    if rule is not None and trespass(entry, rule) is not None:
        action = action_of(now.actions.values(), corrected_keys(record, entry))
        began = outage_of(now, unit, action) if action else None
        still = tuple(unpassed(record, unit)) if rule.stops_use and began is None else ()
        return Effects(action, began=began, still=still, cautions=rule.cautions)
    failed = failed_check(before, unit, entry.task, entry.on)
    out = unpassed(record, unit) if failed or entry.strikes else []
    still = tuple(out)
    if failed is None or not is_pass(entry, rule):
        return Effects(withdrawn=_withdrawn(record, entry, before, now), still=still)
    standing = now.outages.get(failed.outage.key)
    if standing is None:
        ended = replace(failed.outage, to_on=entry.on)
        return Effects(failed.action, ended=ended, still=still)
    return Effects(failed.action, ended=standing if standing.to_on else None, still=still)


def _withdrawn(record: Record, entry: Entry, before: Register, now: Register) -> Outage | None:
    """The outage that stood for an entry which is struck now, and that is no more."""
    if not entry.strikes:
        return None
    action = action_of(before.actions.values(), corrected_keys(record, entry)[1:])
    unit = before.units[(entry.property_number,)]
    outage = outage_of(before, unit, action) if action else None
    return outage if outage is not None and outage.key not in now.outages else None
