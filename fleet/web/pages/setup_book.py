"""What does the rule book ask of each kind, how often, by which source, with which cautions?"""

from __future__ import annotations

from collections import Counter

from flask import abort
from flask.typing import ResponseReturnValue

from fleet.domain.records import Role
from fleet.services.charts.card_words import LANGUAGES
from fleet.services.charts.often import how_often, reading_words
from fleet.services.columns import book_of
from fleet.web.asked import asked
from fleet.web.routes import Pages
from fleet.web.who import OVERSEERS

__all__ = ["PAGES"]

PAGES = Pages()

_WORDS = LANGUAGES["en"]


@PAGES.get("/setup/book", who=OVERSEERS)
def book() -> ResponseReturnValue:
    """The kinds of the book in force."""
    asking = asked()
    with asking.read() as record:
        register = record.register()
        units = Counter(unit.kind for unit in register.units.values() if unit.retired_on is None)
        facts = {"book": book_of(register), "loaded": register.book, "units": units}
    return asking.page("setup_book.html", is_manager=Role.MANAGER in asking.visitor.roles, **facts)


@PAGES.get("/setup/book/<kind>", who=OVERSEERS)
def kind(kind: str) -> ResponseReturnValue:
    """What is asked of one kind."""
    asking = asked()
    with asking.read() as record:
        found = book_of(record.register()).kinds.get(kind)
    if found is None:
        abort(404)
    return asking.page(
        "setup_kind.html",
        kind=found,
        often={rule: how_often(rule, _WORDS) for rule in found.rules},
        limits={rule: reading_words(rule.range, _WORDS) for rule in found.rules if rule.range},
    )
