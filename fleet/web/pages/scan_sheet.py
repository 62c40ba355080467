"""What was read of one scanned page, what must a person say of it, and how does it enter?"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import Final

from flask import Response, abort, redirect, request, url_for
from flask.typing import ResponseReturnValue

from fleet.charts.crops import Crop, crop_of, strip_of, strip_picture
from fleet.domain.prints import Print
from fleet.domain.scan_sheets import Answer, ScanSheet, SheetState
from fleet.errors import BadInput, Fault
from fleet.services.ports import Record
from fleet.services.scans.accepting import accept as accept_sheet
from fleet.services.scans.accepting import effect
from fleet.services.scans.answering import answer as keep_answer
from fleet.services.scans.answering import answer_blanks
from fleet.services.scans.keeping import set_aside, take_up
from fleet.services.scans.proposals import Proposals, Question, Why, proposals
from fleet.web.asked import Asked, asked
from fleet.web.fields import at_a_form, one_count, one_of
from fleet.web.pages.scans import name_of, scope_of
from fleet.web.routes import Pages
from fleet.web.scan_words import choices, days_words, why_words
from fleet.web.who import LEADS

__all__ = ["PAGES"]

PAGES = Pages()

_SHOWN: Final = 12
"""Questions a page: their pictures are one file of 16 kB."""
_MOST: Final = 100_000


@PAGES.get("/scans/<sheet>", who=LEADS)
def sheet(sheet: str) -> ResponseReturnValue:
    """What was found, the questions, and what accepting the page would write."""
    asking = asked()
    with asking.read() as record:
        one = _own(asking, record, sheet)
        facts = _facts(asking, record, one, _first(request.args.get("from", "")))
    return asking.page("scan_sheet.html", **facts)


def _own(asking: Asked, record: Record, number: str) -> ScanSheet:
    found = record.scans.sheet(number, scope_of(asking))
    if found is None:
        abort(404)
    return found


def _first(text: str) -> int:
    return one_count("from", text, 0, 0, _MOST) // _SHOWN * _SHOWN


def _facts(asking: Asked, record: Record, one: ScanSheet, first: int) -> dict[str, object]:
    print_ = record.register().prints.get((one.print,))
    facts: dict[str, object] = {
        "sheet": one,
        "print": print_,
        "site": record.register().sites.get((one.site,)),
        "name": name_of(record, one, print_),
        "file": record.scans.file(one.file),
        "copies": record.scans.copies(one),
        "has_picture": bool(record.scans.flat(one.number)),
        "found": None,
    }
    if one.problem or print_ is None or one.state is not SheetState.WAITING:
        return facts
    found = proposals(record, asking.public_holidays, one, asking.now)
    shown = found.questions[first : first + _SHOWN]
    blank = [q for q in found.questions if q.why is Why.BLANK and q.answer is None]
    return facts | {
        "found": found,
        "effect": effect(one, found),
        "rows": _rows(found),
        "asks": _asks(print_, shown),
        "strip": strip_of([_crop(print_, question) for question in shown]),
        "first": first,
        "pages": range(0, len(found.questions), _SHOWN),
        "blank_cells": sum(len(q.slots) for q in blank),
        "blank_questions": len(blank),
        "days_words": days_words,
    }


def _rows(found: Proposals) -> list[tuple[str, int, str]]:
    """What is proposed, a row of the chart each: its title, how many cells, from when to when."""
    rows = []
    for _, cells in groupby(found.proposed, key=lambda cell: cell.read.row):
        own = list(cells)
        words = days_words(own[0].today.from_on, own[-1].today.to_on)
        rows.append((own[0].row.title, len(own), words))
    return rows


def _asks(print_: Print, shown: Sequence[Question]) -> list[dict[str, object]]:
    """What the page says of each question."""
    return [
        {
            "name": question.name,
            "question": question,
            "title": question.cells[0].row.title,
            "days": days_words(*question.span),
            "words": why_words(question),
            "choices": choices(question),
            "cells": [
                (c.read.slot, days_words(c.today.from_on, c.today.to_on)) for c in question.cells
            ],
        }
        for question in shown
    ]


def _crop(print_: Print, question: Question) -> Crop:
    return crop_of(print_.geometry, print_.year, question.row, question.slots)


@PAGES.get("/scans/<sheet>/questions.webp", who=LEADS)
def pictures(sheet: str) -> ResponseReturnValue:
    """The parts of the page that its questions are of, one below the other."""
    asking, first = asked(), _first(request.args.get("from", ""))
    with asking.read() as record:
        one = _own(asking, record, sheet)
        flat = record.scans.flat(one.number)
        print_ = record.register().prints.get((one.print,))
        if not flat or print_ is None or one.problem or one.state is not SheetState.WAITING:
            abort(404)
        found = proposals(record, asking.public_holidays, one, asking.now)
    crops = [_crop(print_, question) for question in found.questions[first : first + _SHOWN]]
    if not crops:
        abort(404)
    return Response(strip_picture(flat, crops), mimetype="image/webp")


@PAGES.get("/scans/<sheet>/page.jpg", who=LEADS)
def picture(sheet: str) -> ResponseReturnValue:
    """The whole page, laid flat."""
    asking = asked()
    with asking.read() as record:
        flat = record.scans.flat(_own(asking, record, sheet).number)
    if not flat:
        abort(404)
    return Response(flat, mimetype="image/jpeg")


@PAGES.post("/scans/<sheet>/answer", who=LEADS)
def answer(sheet: str) -> ResponseReturnValue:
    """Keep what somebody says of a question, or of some of its cells; then go on with the next."""
    asking = asked()
    first = _first(asking.field("from"))
    with asking.write() as record:
        one = _own(asking, record, sheet)
        try:
            if asking.field("all") == "blank":
                answer_blanks(record, asking.public_holidays, one, asking.stamp())
            else:
                _answer_one(asking, record, one)
        except BadInput as error:
            faults = [at_a_form(fault) for fault in error.faults]
            return _again(asking, record, one, first, faults)
        found = proposals(record, asking.public_holidays, one, asking.now)
        record.commit()
    return redirect(_next(one, found, asking.field("at"), first))


def _answer_one(asking: Asked, record: Record, one: ScanSheet) -> None:
    said = one_of(Answer, "answer", asking.field("answer"))
    row = one_count("row", asking.field("row"), 0, 0, _MOST)
    slots = asking.fields("only") or asking.field("slots").split(",")
    cells = [(row, one_count("slots", slot, 0, 0, _MOST)) for slot in slots]
    words, stamp = asking.field("words"), asking.stamp()
    keep_answer(record, asking.public_holidays, one, cells, said, words, stamp)


def _again(
    asking: Asked, record: Record, one: ScanSheet, first: int, faults: Sequence[Fault]
) -> ResponseReturnValue:
    """The page with what was wrong with an answer, at its question."""
    facts = _facts(asking, record, one, first)
    if facts["found"] is None:
        raise BadInput(faults)
    return asking.form_again("scan_sheet.html", faults, wrong=asking.field("at"), **facts)


def _next(one: ScanSheet, found: Proposals, at: str, first: int) -> str:
    """Where the next open question stands: after the one just answered, else the first of all."""
    places = {question.name: place for place, question in enumerate(found.questions)}
    here = places.get(at, first)
    following = [p for p, q in enumerate(found.questions) if q.is_open and q.answer is None]
    place = next((p for p in following if p > here), following[0] if following else None)
    if place is None:
        return url_for("scan_sheet.sheet", sheet=one.number) + "#accept"
    shown, name = place // _SHOWN * _SHOWN, found.questions[place].name
    path = url_for("scan_sheet.sheet", sheet=one.number)
    return f"{path}{f'?from={shown}' if shown else ''}#q-{name}"


@PAGES.post("/scans/<sheet>/accept", who=LEADS)
def accept(sheet: str) -> ResponseReturnValue:
    """Let what was read and answered enter the record."""
    asking = asked()
    with asking.write() as record:
        one = _own(asking, record, sheet)
        done = accept_sheet(
            record,
            asking.public_holidays,
            one,
            asking.field("seen"),
            asking.stamp(),
            initials=_initials(asking),
        )
        record.commit()
    if done.sheet.state is SheetState.SETTLED:
        return redirect(url_for("scans.scans", done=f"accepted-{done.entries}"))
    return redirect(url_for("scan_sheet.sheet", sheet=one.number, done=f"accepted-{done.entries}"))


def _initials(asking: Asked) -> str:
    return "".join(word[0] for word in asking.visitor.name.split()[:3]).upper()


@PAGES.post("/scans/<sheet>/aside", who=LEADS)
def aside(sheet: str) -> ResponseReturnValue:
    """Take nothing from a page, or take it up again."""
    asking = asked()
    with asking.write() as record:
        one = _own(asking, record, sheet)
        if asking.field("act") == "take up":
            take_up(record, one)
        else:
            set_aside(record, one, asking.stamp())
        record.commit()
    if asking.field("act") == "take up":
        return redirect(url_for("scan_sheet.sheet", sheet=one.number))
    return redirect(url_for("scans.scans", done="aside"))
