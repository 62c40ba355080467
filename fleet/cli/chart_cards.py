"""How are procedure cards printed? One PDF, a page a kind; of the record nothing changes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Final

from fleet.charts.cards import cards_pdf
from fleet.cli.chart_options import ChartOptions
from fleet.cli.grids import command, heading, printed
from fleet.cli.output import Value
from fleet.errors import BadInput, Fault
from fleet.files.staging import check_free, staged
from fleet.services.charts.cards import Card, card_facts
from fleet.services.charts.kinds import kinds_of
from fleet.services.disk import disk_told
from notifications.digests.words import counted

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["CARDS", "CARD_COLUMNS", "card_rows", "cards_table", "print_cards"]

CARDS: Final = "cards.pdf"
_INDENT: Final = 4
CARD_COLUMNS: Final = ("kind", "name", "language", "tasks", "file")


def print_cards(program: Program, options: ChartOptions) -> list[Card]:
    """Print the cards of the kinds asked for; BadInput where there is none, or no place for it."""
    language, on = options.language or "en", options.question.on or program.today()
    check_free(options.folder, [CARDS], replace=options.replace)
    with program.store.begin() as record:
        kinds = kinds_of(record, options.property_numbers, options.question.narrow, on)
        if not kinds:
            mend = "choose other units, or name a --kind"
            problem = "none of the units chosen is in service and of a kind of the rule book"
            raise BadInput([Fault("chart", None, None, problem, mend)])
        cards = card_facts(record, kinds, language, on)
    with disk_told(options.folder), staged(options.folder, ".cards-") as staging:
        staging.put(CARDS, cards_pdf(cards, options.size, program.clock(), language))
        staging.place(replace=options.replace)
    return cards


def card_rows(cards: Sequence[Card], options: ChartOptions) -> list[list[Value]]:
    """A row a card."""
    file = str(options.folder / CARDS)
    return [[card.kind, card.name, card.language, len(card.duties), file] for card in cards]


def cards_table(cards: Sequence[Card], options: ChartOptions) -> str:
    """How many there are, and what to do with them."""
    kinds = ", ".join(card.kind for card in cards)
    return printed(
        heading(f"{counted(len(cards), 'card')}: {kinds}"),
        command(str(options.folder / CARDS), _INDENT),
        "",
        "Print at 100 %; keep each card where its units are used. The manufacturer's manual, the"
        " site's safety officer and local rules come first.",
    )
