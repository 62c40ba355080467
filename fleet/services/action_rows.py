"""Which corrective actions are there, how does each stand on a day, and what moves it on?

The words of a state are our own; 42 CFR 493.1239 (read in a reprint) asks for the review of whether
an action worked, so that one without a review stays listed.
"""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from fleet.domain.evidence import Action, Effect
from fleet.domain.records import StoredEntry
from fleet.domain.register import Register
from fleet.services.ports import Record
from fleet.services.questions import Narrow, Question
from fleet.services.standing import day_at

__all__ = [
    "CLOSED",
    "OVERDUE",
    "STATES",
    "TO_ACT",
    "TO_CLOSE",
    "TO_REVIEW",
    "ActionRow",
    "action_row",
    "action_rows",
    "carry_on_command",
    "state_of",
]

OVERDUE, TO_ACT, TO_REVIEW, TO_CLOSE, CLOSED = STATES = (
    "review overdue",
    "to act on",
    "to review",
    "to close",
    "closed",
)
"""The states, the most pressing first. `to close`: a review found that it worked, which a file may
say without the day it was closed."""


@dataclass(frozen=True, slots=True)
class ActionRow:
    """One corrective action; the fields, in order, are the columns of `actions`."""

    number: str
    site: str
    county: str
    region: str
    property_number: str | None
    kind: str | None
    task: str | None
    opened_on: dt.date
    problem: str
    action: str | None
    responsible: str | None
    review_on: dt.date | None
    effective: str | None
    reviewed_by: str | None
    closed_on: dt.date | None
    state: str
    entry: str | None
    struck_by: str | None
    """The entry that strikes the reading which opened it."""
    next: str | None
    """One sentence, with the command, that moves it on; None where it is closed."""


def action_rows(record: Record, question: Question, *, everything: bool = False) -> list[ActionRow]:
    """The actions that were opened by the day asked for and are open on it, the pressing first.

    everything: also those that are closed by then. Without a day: today at each site.
    """
    register = record.register(question.known_at)
    narrow = _Narrowed(register, question.narrow)
    found = []
    for action in register.actions.values():
        on = question.on or day_at(register.sites[(action.site,)], question.now)
        is_asked = everything or state_of(action, on) != CLOSED
        if is_asked and action.opened_on <= on and narrow.holds(action):
            found.append((action, on))
    strikes = _strikes(record, question.known_at, [action for action, _ in found])
    rows = [action_row(register, action, on, strikes.get(action.entry)) for action, on in found]
    return sorted(rows, key=_urgency)


class _Narrowed:
    """Which actions a question is narrowed to; names are compared without case."""

    def __init__(self, register: Register, narrow: Narrow) -> None:
        self._register = register
        self._sites, self._counties, self._regions, self._kinds = (
            {name.casefold() for name in names}
            for names in (narrow.sites, narrow.counties, narrow.regions, narrow.kinds)
        )

    def holds(self, action: Action) -> bool:
        site = self._register.sites[(action.site,)]
        unit = self._register.units.get((action.property_number,))
        asked = (
            (self._sites, site.site),
            (self._counties, site.county),
            (self._regions, site.region),
            (self._kinds, unit.kind if unit else ""),
        )
        return all(not names or name.casefold() in names for names, name in asked)


def _strikes(
    record: Record, known_at: dt.datetime | None, actions: Iterable[Action]
) -> dict[str, StoredEntry]:
    """By the key of an entry that opened one of the actions, the entry that strikes it."""
    keys = {action.entry: action.property_number for action in actions if action.entry}
    ids = record.unit_ids()
    wanted = sorted({ids[number] for number in keys.values() if number in ids})
    found: Iterator[StoredEntry] = record.entries(wanted) if wanted else iter(())
    return {
        stored.entry.strikes: stored
        for stored in found
        if stored.entry.strikes in keys and (known_at is None or stored.known_at <= known_at)
    }


def action_row(
    register: Register, action: Action, on: dt.date, struck_by: StoredEntry | None = None
) -> ActionRow:
    """One action as it stands on a day."""
    site = register.sites[(action.site,)]
    unit = register.units.get((action.property_number,))
    state = state_of(action, on)
    return ActionRow(
        number=action.number,
        site=site.site,
        county=site.county,
        region=site.region,
        property_number=action.property_number or None,
        kind=unit.kind if unit else None,
        task=action.task or None,
        opened_on=action.opened_on,
        problem=action.problem,
        action=action.action or None,
        responsible=action.responsible or None,
        review_on=action.review_on,
        effective=action.effective and action.effective.value,
        reviewed_by=action.reviewed_by or None,
        closed_on=action.closed_on,
        state=state,
        entry=action.entry or None,
        struck_by=struck_by.entry.key if struck_by else None,
        next=_next(action, state, struck_by),
    )


def state_of(action: Action, on: dt.date) -> str:
    """How an action stands on a day: the day of its review itself is not overdue."""
    if action.closed_on is not None and action.closed_on <= on:
        return CLOSED
    if action.effective is Effect.NO or not action.action or not action.responsible:
        return TO_ACT
    if action.effective is Effect.YES and action.closed_on is None:
        return TO_CLOSE
    is_late = action.review_on is not None and action.review_on < on
    return OVERDUE if is_late else TO_REVIEW


def carry_on_command(number: str) -> str:
    """The command that says what is done about an action."""
    options = "--action '...' --by NAME --review-on DATE"
    return f"dueward action carry-on {shlex.quote(number)} {options}"


def _next(action: Action, state: str, struck_by: StoredEntry | None) -> str | None:
    number = shlex.quote(action.number)
    review = f"dueward action review {number} --effective yes --by NAME"
    when = f"on {action.review_on}" if action.review_on else "now"
    if state == CLOSED:
        return None
    told = ""
    if struck_by is not None:
        by = struck_by.entry
        read = f" and now reads {by.reading}" if by.reading else ""
        told = f"The reading was struck by {by.key}{read}; say so if nothing else was wrong. "
    if state == TO_ACT and action.effective is Effect.NO:
        told += "Say what is done instead, by whom, and when it is reviewed"
        return f"{told}: {carry_on_command(action.number)}"
    if state == TO_ACT:
        told += "Say what is done, by whom, and when it is reviewed"
        return f"{told}: {carry_on_command(action.number)}"
    if state == TO_CLOSE:
        return f"{told}It worked; close it: dueward action close {number}"
    if state == OVERDUE:
        return f"{told}Its review was due {when}; say whether it worked: {review}"
    return f"{told}Review {when} whether it worked: {review}"


def _urgency(row: ActionRow) -> tuple[object, ...]:
    """Review overdue first, the longest; then by the day opened; what is closed latest first."""
    day = row.review_on if row.state in (OVERDUE, TO_REVIEW) else row.opened_on
    place = (day or dt.date.max).toordinal()
    closed = -row.closed_on.toordinal() if row.state == CLOSED and row.closed_on else place
    return STATES.index(row.state), closed, row.site, row.number
