"""What stands on the procedure card of a kind: its duties in words, with their cautions?

A card tells every rule that is in force on a day, for some unit of the kind. Where models have a
version of their own in force, both are told, each with the models it is for. What a rule says in
Spanish is told where the book has it, and in English otherwise.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fleet.services.charts.card_words import CardWords, card_words
from fleet.services.charts.often import how_often, reading_words
from fleet.services.columns import book_of
from fleet.services.narrow import check_names
from fleet.services.ports import Record
from fleet.services.questions import Narrow
from fleet.services.readings import rule_on
from schedules.rules import Kind, Rule

__all__ = ["Card", "CardDuty", "card_facts"]

_EVERY_OTHER_MODEL = ""
"""No rule is made for a model without a name: it has the rules that are for every model."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CardDuty:
    """One rule in force, in the words of the card's language."""

    task: str
    title: str
    often: str
    reading: str
    """The limits of its reading, or ''."""
    only_models: tuple[str, ...]
    """It holds for these models alone; empty: for every model."""
    not_models: tuple[str, ...]
    """Of a rule for every model, those that have another in its place."""
    is_vendor: bool
    stops_use: bool
    cautions: tuple[str, ...]
    """The gravest first, as the book has them."""
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """The duties of one kind on a day, in the order of the book with the given hash."""

    kind: str
    name: str
    on: dt.date
    language: str
    book_sha256: str
    duties: tuple[CardDuty, ...]


def card_facts(record: Record, kinds: Sequence[str], language: str, on: dt.date) -> list[Card]:
    """The cards of some kinds, each once, in the order asked for; of no kind: of every one.

    kinds: short names of the book in force, compared without case. language: en or es. BadInput
    for a kind that is not in the book, with the nearest that is; NotFound for another language.
    """
    words = card_words(language)
    check_names(record, Narrow(kinds=tuple(kinds)))
    book = book_of(record.register())
    by_folded = {code.casefold(): kind for code, kind in book.kinds.items()}
    asked = dict.fromkeys(code.casefold() for code in kinds) or by_folded
    return [
        Card(
            kind=kind.code,
            name=kind.name,
            on=on,
            language=language,
            book_sha256=book.sha256,
            duties=tuple(_duties(kind, on, words, is_spanish=language == "es")),
        )
        for kind in (by_folded[code] for code in asked)
    ]


def _duties(kind: Kind, on: dt.date, words: CardWords, *, is_spanish: bool) -> Iterator[CardDuty]:
    for in_force in _in_force(kind, on):
        own = {rule: models for rule, models in in_force.items() if rule.models}
        others = tuple(model for models in own.values() for model in models)
        for rule, models in in_force.items():
            yield CardDuty(
                task=rule.task,
                title=(is_spanish and rule.title_es) or rule.title,
                often=how_often(rule, words),
                reading=reading_words(rule.range, words) if rule.range else "",
                only_models=models if rule.models else (),
                not_models=() if rule.models else others,
                is_vendor=rule.vendor,
                stops_use=rule.stops_use,
                cautions=(is_spanish and rule.cautions_es) or rule.cautions,
                source=rule.source,
            )


def _in_force(kind: Kind, on: dt.date) -> Iterator[Mapping[Rule, tuple[str, ...]]]:
    """For each task the rules in force on a day, and the models that each is in force for.

    The rule for every model comes first, then the models' own, in the order of the book.
    """
    models = dict.fromkeys(model for rule in kind.rules for model in rule.models)
    tasks = dict.fromkeys(rule.task for rule in kind.rules)
    by_model = {model: kind.tasks(model) for model in (_EVERY_OTHER_MODEL, *models)}
    for task in tasks:
        found: dict[Rule, tuple[str, ...]] = {}
        for model, versions in by_model.items():
            if (rule := rule_on(versions.get(task, ()), on)) is not None:
                found[rule] = (*found.get(rule, ()), model)
        yield found
