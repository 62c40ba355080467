"""How are procedure cards printed? One PDF, a page a kind; of the record nothing changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from fleet.charts.cards import cards_pdf
from fleet.cli.chart_files import check_free, staged
from fleet.cli.chart_wanted import Wanted
from fleet.cli.grids import command, heading, printed
from fleet.cli.output import Value
from fleet.errors import BadInput, Fault
from fleet.services.charts.cards import Card, card_facts
from fleet.services.charts.kinds import kinds_of
from notifications.digests.words import counted

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["CARDS", "CARD_COLUMNS", "card_rows", "cards_table", "print_cards"]

CARDS: Final = "cards.pdf"
_INDENT: Final = 4
CARD_COLUMNS: Final = ("kind", "name", "language", "tasks", "file")


def print_cards(program: Program, wanted: Wanted) -> list[Card]:
    """Print the cards of the kinds asked for; BadInput where there is none, or no place for it."""
    language, on = wanted.language or "en", wanted.question.on or program.today()
    check_free(wanted.folder, [CARDS], replace=wanted.replace)
    with program.store.begin() as record:
        kinds = kinds_of(record, wanted.property_numbers, wanted.question.narrow, on)
        if not kinds:
            mend = "choose other units, or name a --kind"
            problem = "none of the units chosen is in service and of a kind of the rule book"
            raise BadInput([Fault("chart", None, None, problem, mend)])
        cards = card_facts(record, kinds, language, on)
    with staged(wanted.folder) as staging:
        staging.put(CARDS, cards_pdf(cards, wanted.size, program.clock(), language))
        staging.place()
    return cards


def card_rows(cards: Sequence[Card], wanted: Wanted) -> list[list[Value]]:
    """A row a card."""
    file = str(wanted.folder / CARDS)
    return [[card.kind, card.name, card.language, len(card.duties), file] for card in cards]


def cards_table(cards: Sequence[Card], wanted: Wanted) -> str:
    """How many there are, and what to do with them."""
    kinds = ", ".join(card.kind for card in cards)
    return printed(
        heading(f"{counted(len(cards), 'card')}: {kinds}"),
        command(str(wanted.folder / CARDS), _INDENT),
        "",
        "Print at 100 %; keep each card where its units are used. The manufacturer's manual, the"
        " site's safety officer and local rules come first.",
    )
