"""When is an anchored or a fixed rule due, step by step (design 4.3 and 4.4)?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from tests.reference.dates import ONE_DAY, occurrence
from tests.reference.records import RefEvery, RefRule
from tests.reference.units import UnitOfFleet

__all__ = ["RefSteps", "anchored_steps", "fixed_steps", "missed_occurrences"]


@dataclass(frozen=True, kw_only=True)
class RefSteps:
    """What each step of design 4.3 leaves: dates are None from an endless outage on.

    For a fixed rule `base` is its anchor, `k` the occurrence, and step 3 changes nothing.
    """

    base: dt.date
    k: int
    nominal_after_step_2: dt.date
    nominal_after_step_3: dt.date
    nominal_after_step_4: dt.date | None
    due: dt.date | None
    limit: dt.date | None
    opens: dt.date | None


def anchored_steps(of: UnitOfFleet, rule: RefRule, on: dt.date) -> RefSteps:
    """The five steps of 4.3 for a unit in service on the day; RefNoOpenDay from the roll."""
    base, k, nominal = _counted(of, rule, on)
    return _closing_steps(of, rule, on, base, k, nominal, _after_events(of, rule, on, nominal))


def fixed_steps(of: UnitOfFleet, rule: RefRule, on: dt.date) -> RefSteps:
    """The earliest unsettled occurrence and steps 4 and 5 of it; RefNoOpenDay from the roll."""
    assert rule.anchor_on is not None
    k = 0
    while not _is_unsettled(of, rule, on, k):
        k += 1
    nominal = occurrence(rule.anchor_on, _every(rule), k)
    return _closing_steps(of, rule, on, rule.anchor_on, k, nominal, nominal)


def missed_occurrences(of: UnitOfFleet, rule: RefRule, on: dt.date) -> int:
    """The unsettled occurrences whose own limit lies before the day (design 4.4).

    A limit is never before its nominal date, so no occurrence from the day on is rolled.
    """
    assert rule.anchor_on is not None
    missed = 0
    k = fixed_steps(of, rule, on).k
    while True:
        own = occurrence(rule.anchor_on, _every(rule), k)
        nominal = _after_outages(of, own)
        if nominal is None or nominal >= on:
            return missed
        limit = _closing_steps(of, rule, on, rule.anchor_on, k, own, own).limit
        if limit is None or limit >= on:
            return missed
        missed += 1
        k += 1


def _every(rule: RefRule) -> RefEvery:
    assert rule.every is not None
    return rule.every


def _counted(of: UnitOfFleet, rule: RefRule, on: dt.date) -> tuple[dt.date, int, dt.date]:
    """Steps 1 and 2: the base, how many intervals were kept, and the nominal date."""
    every, start_on, record_from_on = _every(rule), of.start_on, of.unit.record_from_on
    all_done = of.done_dates(rule.task, on)
    before = [day for day in all_done if day < start_on]
    at_start = rule.first == "at-start"
    base = before[-1] if before and not at_start else start_on
    k = 0
    nominal = start_on if at_start else occurrence(base, every, 1)
    if record_from_on is not None and record_from_on > start_on and not all_done:
        nominal = record_from_on
    is_first = True
    for done_on in [day for day in all_done if day >= start_on]:
        if rule.keep_anchor > 0 and abs((done_on - nominal).days) <= rule.keep_anchor:
            k = 0 if at_start and is_first else k + 1
        else:
            base, k = done_on, 0
        nominal = occurrence(base, every, k + 1)
        is_first = False
    return base, k, nominal


def _after_events(of: UnitOfFleet, rule: RefRule, on: dt.date, nominal: dt.date) -> dt.date:
    """Step 3: due at once after the latest event, unless something was done since."""
    events = []
    if "moved" in rule.due_after:
        events += [move.from_on for move in of.moves]
    if "repaired" in rule.due_after:
        events += [outage.to_on for outage in of.outages if outage.to_on is not None]
    events = [day for day in events if of.start_on <= day <= on]
    if not events:
        return nominal
    latest_on = max(events)
    if any(day >= latest_on for day in of.done_dates(rule.task, on)):
        return nominal
    return min(nominal, latest_on)


def _after_outages(of: UnitOfFleet, nominal: dt.date) -> dt.date | None:
    """Step 4: the day of return, as long as the date lies in an outage; None if it never ends."""
    day = nominal
    while True:
        outage = of.outage_on(day)
        if outage is None:
            return day
        if outage.to_on is None:
            return None
        day = outage.to_on


def _closing_steps(
    of: UnitOfFleet,
    rule: RefRule,
    on: dt.date,
    base: dt.date,
    k: int,
    after_step_2: dt.date,
    after_step_3: dt.date,
) -> RefSteps:
    """Steps 4 and 5, on the calendar of the site where the unit stands on the day."""
    nominal = _after_outages(of, after_step_3)
    due = limit = opens = None
    if nominal is not None:
        due = of.calendar_on(on).roll(nominal, rule.roll)
        limit = max(due, nominal + rule.grace * ONE_DAY)
        opens = min(nominal - rule.early * ONE_DAY, due)
    return RefSteps(
        base=base,
        k=k,
        nominal_after_step_2=after_step_2,
        nominal_after_step_3=after_step_3,
        nominal_after_step_4=nominal,
        due=due,
        limit=limit,
        opens=opens,
    )


def _is_unsettled(of: UnitOfFleet, rule: RefRule, on: dt.date, k: int) -> bool:
    """Say whether the occurrence counts for the unit and no date done settles it."""
    assert rule.anchor_on is not None
    own = occurrence(rule.anchor_on, _every(rule), k)
    if own < max(of.start_on, of.unit.record_from_on or of.start_on):
        return False
    done = [day for day in of.done_dates(rule.task, on) if day >= of.start_on]
    return not any(own - rule.early * ONE_DAY <= day for day in done)
