"""How is a problem opened as a corrective action, carried on, reviewed and closed?

42 CFR 493.1282 asks that corrective actions be documented where equipment performs outside its
operating parameters, and 493.1239 that it be reviewed whether they worked (both read in a reprint).
Every step is a change line: who, when, what was there before.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import replace

from fleet.domain.evidence import Action, Effect
from fleet.domain.records import Site
from fleet.domain.register import Change, Register
from fleet.domain.texts import NAME_LENGTH, PROSE_LENGTH, Wrong, check_prose, check_text
from fleet.errors import BadInput, Fault, NotFound
from fleet.services.columns import book_of
from fleet.services.ports import Record, Stamp
from fleet.services.standing import day_at, site_of, today_of

__all__ = ["carry_on", "close", "free_number", "open_action", "review", "the_action"]


def open_action(
    record: Record,
    about: str,
    problem: str,
    *,
    stamp: Stamp,
    task: str = "",
    on: dt.date | None = None,
) -> Action:
    """Open an action about a unit (its property number) or a site (its short name).

    on: the day the problem was seen, None for today there. The same again, while it is open,
    answers with the action that stands. Raises NotFound and BadInput. The caller commits.
    """
    register = record.register()
    unit, site = register.units.get((about,)), register.sites.get((about,))
    problem = _words("--problem", problem, prose=True)
    if unit is not None:
        today = today_of(register, unit, stamp.at)
        kind = book_of(register).kinds.get(unit.kind)
        tasks = kind.tasks(unit.model) if kind else {}
        if task and task not in tasks:
            raise NotFound("task", task, f"a {unit.kind} has: {', '.join(sorted(tasks))}")
    elif site is None:
        mend = "write its property number or short name as in the units or sites file"
        raise NotFound("unit or site", about, mend)
    else:
        today = day_at(site, stamp.at)
        if task:
            raise _refused("open", "--task", f"{about} is a site and has no tasks", "leave it out")
    opened_on = today if on is None else on
    if opened_on > today:
        raise _future("open", "--on", opened_on, today)
    action = Action(
        number="",
        site=about if unit is None else site_of(register, unit, opened_on),
        property_number="" if unit is None else about,
        task=task,
        opened_on=opened_on,
        problem=problem,
    )
    return _standing(register, action) or write_action(record, register, action, stamp)


def _standing(register: Register, action: Action) -> Action | None:
    """The open action that says the same; None where there is none."""
    for other in register.actions.values():
        same = replace(action, number=other.number, action=other.action,
                       responsible=other.responsible, review_on=other.review_on,
                       effective=other.effective, reviewed_by=other.reviewed_by)  # fmt: skip
        if other == same:
            return other
    return None


def write_action(record: Record, register: Register, action: Action, stamp: Stamp) -> Action:
    """Write a new action under the next free number. The caller commits."""
    numbered = replace(action, number=free_number(register.actions, action))
    record.change([Change(old=None, new=numbered, initial=False)], stamp)
    return numbered


def free_number(taken: Collection[tuple[str, ...]], action: Action) -> str:
    """The next free name of an action: property number (or site), the day it was opened, n."""
    about, number = f"{action.property_number or action.site}/{action.opened_on}", 1
    while (f"{about}/{number}",) in taken:
        number += 1
    return f"{about}/{number}"


def carry_on(
    record: Record, number: str, action: str, responsible: str, review_on: dt.date, *, stamp: Stamp
) -> Action:
    """Say what is done about it, by whom, and when it is to be reviewed.

    After a review that found no effect it asks for another action, which is then to be reviewed
    anew. Raises NotFound and BadInput. The caller commits.
    """
    old = the_action(record.register(), number)
    action = _words("--action", action, prose=True)
    responsible = _words("--by", responsible)
    if review_on < old.opened_on:
        problem = f"{review_on} is before the action was opened on {old.opened_on}"
        raise _refused(number, "--review-on", problem, "give a later day")
    new = replace(old, action=action, responsible=responsible, review_on=review_on)
    if old.effective is not Effect.NO:
        return _changed(record, old, new, stamp)
    if action == old.action:
        problem = "a review found that this did not work"
        raise _refused(number, "--action", problem, "say what is done instead")
    return _changed(record, old, replace(new, effective=None, reviewed_by=""), stamp)


def review(
    record: Record,
    number: str,
    effective: Effect,
    reviewed_by: str,
    *,
    stamp: Stamp,
    on: dt.date | None = None,
) -> Action:
    """Say whether the action worked: if it did, it is closed with that; if not, it stays open.

    on: the day of the review, None for today at the site. Raises NotFound and BadInput where
    nothing was done yet, or the day is before it was opened or to come. The caller commits.
    """
    register = record.register()
    old = the_action(register, number)
    reviewed_by = _words("--by", reviewed_by)
    day = _day(register, old, on, stamp, "reviewed")
    missing = [name for name in ("action", "responsible") if not getattr(old, name)]
    if missing:
        problem = f"there is nothing to review: it has no {' and no '.join(missing)}"
        raise _refused(number, None, problem, "say first what is done (dueward action carry-on)")
    worked = effective is Effect.YES
    new = replace(
        old, effective=effective, reviewed_by=reviewed_by, closed_on=day if worked else None
    )
    return _changed(record, old, new, stamp)


def close(record: Record, number: str, *, stamp: Stamp, on: dt.date | None = None) -> Action:
    """Close an action that a review found to have worked; the same day again changes nothing.

    on: None for today at the site. Raises NotFound, and BadInput that names all that is missing.
    The caller commits.
    """
    register = record.register()
    old = the_action(register, number)
    day = _day(register, old, on, stamp, "closed")
    lacks = [
        words
        for is_there, words in (
            (old.action, "what was done"),
            (old.responsible, "who did it"),
            (old.reviewed_by and old.effective is Effect.YES, "a review that found that it worked"),
        )
        if not is_there
    ]
    if lacks:
        step = "carry-on" if not old.action or not old.responsible else "review"
        mend = f"see dueward action {step} --help (a review that says yes closes it)"
        raise _refused(number, None, f"it lacks {', '.join(lacks)}", mend)
    return _changed(record, old, replace(old, closed_on=day), stamp)


def the_action(register: Register, number: str) -> Action:
    """The action of that number; NotFound otherwise."""
    action = register.actions.get((number,))
    if action is None:
        raise NotFound("action", number, "numbers stand in dueward actions --all")
    return action


def _changed(record: Record, old: Action, new: Action, stamp: Stamp) -> Action:
    """Write the change; one that says the same again writes nothing."""
    if new == old:
        return old
    if old.closed_on is not None:
        problem = f"it was closed on {old.closed_on}"
        mend = "open another one if the problem is back (dueward action open)"
        raise _refused(old.number, None, problem, mend)
    record.change([Change(old=old, new=new, initial=False)], stamp)
    return new


def _day(
    register: Register, action: Action, on: dt.date | None, stamp: Stamp, step: str
) -> dt.date:
    """The day of a step: given, or today at the site; for a closed action the day it closed."""
    site: Site = register.sites[(action.site,)]
    today = day_at(site, stamp.at)
    day = on or action.closed_on or today
    if day > today:
        raise _future(action.number, "--on", day, today)
    if day < action.opened_on:
        problem = f"it cannot be {step} on {day}, before it was opened on {action.opened_on}"
        raise _refused(action.number, "--on", problem, "give a later day")
    return day


def _words(option: str, value: str, *, prose: bool = False) -> str:
    """A text as it is kept; BadInput for an empty one, or one that no file could hold."""
    value = value.strip()
    wrong = check_prose(value, PROSE_LENGTH) if prose else check_text(value, NAME_LENGTH)
    if not value:
        wrong = Wrong("it is empty", "write a few words")
    if wrong is not None:
        raise BadInput([Fault("action", None, option, wrong.problem, wrong.mend)])
    return value


def _future(number: str, option: str, day: dt.date, today: dt.date) -> BadInput:
    problem = f"{day} lies in the future (today is {today})"
    return _refused(number, option, problem, "give the day it was seen or done")


def _refused(number: str, option: str | None, problem: str, mend: str) -> BadInput:
    return BadInput([Fault(f"action {number}", None, option, problem, mend)])
