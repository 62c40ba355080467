"""How does a program mark a cell, or take a mark back? By the acts of the bench and of the lead."""

from __future__ import annotations

from dataclasses import asdict
from enum import StrEnum
from typing import Final

from flask import Response, abort

from fleet.domain.records import Entry, Mark, StoredEntry
from fleet.domain.texts import (
    INITIALS_LENGTH,
    KEY_LENGTH,
    PROSE_LENGTH,
    WORD_LENGTH,
    Wrong,
    check_reading,
    check_text,
)
from fleet.errors import NotFound, Unanswered
from fleet.services.bench.marking import Asked as AskedMark
from fleet.services.bench.marking import Saved, save_mark, take_back
from fleet.services.entry_effects import Effects, effects
from fleet.services.mark import mark as write_mark
from fleet.services.ports import Record
from fleet.services.questions import Question
from fleet.services.standing import site_of
from fleet.services.why import explain_row, unit_of
from fleet.web.api.given import Given, body
from fleet.web.api.problems import Refusal
from fleet.web.api.told import json_answer
from fleet.web.asked import Asked, asked
from fleet.web.routes import Operations
from fleet.web.who import AT_BENCH, AT_SITES, LEADS

__all__ = ["OPERATIONS", "told_entry"]

OPERATIONS = Operations()


class _Mark(StrEnum):
    """What a program may say of a cell; ink on paper is for those who read it in."""

    DONE = "done"
    UNUSED = "unused"
    EXPLAINED = "explained"


_FIELDS: Final = (
    "key",
    "property_number",
    "task",
    "on",
    "mark",
    "initials",
    "reading",
    "note",
    "anyway",
)

_NO_LEAD: Final = "What was not marked is explained by a site's lead, and who looks after it."


@OPERATIONS.post("/api/v1/marks", who=AT_SITES)
def mark() -> Response:
    """Write one mark; the same one sent twice is one entry."""
    asking, given = asked(), body(*_FIELDS)
    wanted, anyway = _wanted(given), given.flag("anyway")
    given.check()
    with asking.write() as record:
        saved = _saved(asking, record, wanted, anyway=anyway)
        told = told_entry(asking, record, saved.stored, saved.effects)
        record.commit()
    return json_answer(told, 201 if saved.is_new else 200)


def _wanted(given: Given) -> AskedMark:
    """The mark that a body asks for; its faults are in `given`."""
    said, reading = given.word(_Mark, "mark", is_needed=True), given.text("reading", KEY_LENGTH)
    if reading and (wrong := check_reading(reading)) is not None:
        given.fault("reading", wrong)
    note = given.text("note", PROSE_LENGTH, is_prose=True)
    if said is _Mark.EXPLAINED and not note.strip():
        given.fault("note", Wrong("an explained mark needs its reason", "say what happened"))
    return AskedMark(
        property_number=given.text("property_number", WORD_LENGTH, is_needed=True),
        task=given.text("task", WORD_LENGTH, is_needed=True),
        on=given.day("on"),
        mark=Mark(said or _Mark.DONE),
        initials=given.text("initials", INITIALS_LENGTH),
        key=given.key("key", is_needed=True),
        reading=reading,
        note=note,
    )


def _saved(asking: Asked, record: Record, wanted: AskedMark, *, anyway: bool) -> Saved:
    """What stands now: a lead explains what was not marked, a bench marks its last days."""
    is_told = wanted.mark is Mark.EXPLAINED
    site = _own_site(asking, record, wanted, is_told=is_told)
    if not is_told:
        stamp = asking.stamp()
        return save_mark(record, asking.public_holidays, site, wanted, stamp, anyway=anyway)
    before = record.register()
    entry = Entry(
        key=wanted.key,
        property_number=unit_of(before, wanted.property_number).property_number,
        task=wanted.task,
        on=wanted.on,
        mark=wanted.mark,
        initials=wanted.initials,
        reading=wanted.reading,
        note=wanted.note,
    )
    stored, is_new = write_mark(
        record, asking.public_holidays, entry, anyway=anyway, stamp=asking.stamp()
    )
    return Saved(stored, is_new, effects(record, stored.entry, before))


def _own_site(asking: Asked, record: Record, wanted: AskedMark, *, is_told: bool) -> str:
    """The site where the unit stands on the day; 404 where the visitor may not mark there."""
    register, roles = record.register(), LEADS if is_told else AT_BENCH
    if not asking.visitor.sites(*roles):
        raise Refusal("not-yours", "Its owner marks at no bench." if not is_told else _NO_LEAD)
    try:
        unit = unit_of(register, wanted.property_number)
    except NotFound:
        abort(404)
    return asking.site(register, site_of(register, unit, wanted.on), *roles).site


@OPERATIONS.post("/api/v1/marks/<path:key>/strike", who=AT_BENCH)
def strike(key: str) -> Response:
    """Take back a mark of the last day; it stays readable, with who took it back and why."""
    asking, given = asked(), body("why", "initials")
    why = given.text("why", PROSE_LENGTH, is_needed=True, is_prose=True)
    if why and not why.strip():
        given.fault("why", Wrong("no reason is given", "say what was wrong"))
    initials = given.text("initials", INITIALS_LENGTH)
    given.check()
    with asking.write() as record:
        before = record.register()
        site = _site_of_mark(asking, record, key)
        holidays, stamp = asking.public_holidays, asking.stamp()
        stored = take_back(record, holidays, site, key, initials, stamp, why=why)
        told = told_entry(asking, record, stored, effects(record, stored.entry, before))
        record.commit()
    return json_answer(told)


def _site_of_mark(asking: Asked, record: Record, key: str) -> str:
    """The site a mark was made at; 404 where there is none, or the visitor may not mark there."""
    stored = None if check_text(key, KEY_LENGTH) else record.stored([key]).get(key)
    if stored is None:
        abort(404)
    register = record.register()
    unit = register.units[(stored.entry.property_number,)]
    return asking.site(register, site_of(register, unit, stored.entry.on), *AT_BENCH).site


def told_entry(
    asking: Asked, record: Record, stored: StoredEntry, followed: Effects
) -> dict[str, object]:
    """An entry as it stands, what followed from it, and how its unit and task stand today."""
    entry = stored.entry
    return {
        **{name.removesuffix("_on"): value or None for name, value in asdict(entry).items()},
        "on": entry.on,
        "stored_at": stored.stored_at,
        "by": stored.by,
        "source": stored.source,
        "effects": _effects(followed),
        "next": _next(asking, record, entry),
    }


def _effects(followed: Effects) -> dict[str, object]:
    action, began, ended = followed.action, followed.began, followed.ended
    gone = followed.withdrawn
    return {
        "action_number": action.number if action else None,
        "action_problem": action.problem if action else None,
        "out_of_service_from": began.from_on if began else None,
        "back_in_service_on": ended.to_on if ended else began.to_on if began else None,
        "outage_withdrawn_from": gone.from_on if gone else None,
        "still_failed": [one.task for one in followed.still],
        "cautions": list(followed.cautions),
    }


def _next(asking: Asked, record: Record, entry: Entry) -> dict[str, object] | None:
    """The row of `due`; None where that has no answer."""
    question = Question(now=asking.now)
    try:
        told = explain_row(
            record, asking.public_holidays, entry.property_number, entry.task, question
        )
    except (NotFound, Unanswered):
        return None
    return told.row._asdict()
