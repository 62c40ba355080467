"""What a procedure card says is what the rule book says, in words for people."""

from __future__ import annotations

import dataclasses
import datetime as dt
from string import Formatter
from typing import Any

import pytest

from fleet.errors import BadInput, NotFound
from fleet.services.charts.card_words import LANGUAGES, CardWords, card_words
from fleet.services.charts.cards import Card, CardDuty, card_facts
from fleet.services.charts.often import how_often, reading_words
from fleet.services.ports import Stamp
from schedules.rulebook import read_book, shipped_book
from schedules.rules import DueAfter, Each, First, Interval, ReadingRange, Roll, Rule
from tests.fakes import FakeRecord

ON = dt.date(2026, 11, 25)
STAMP = Stamp(dt.datetime(2026, 11, 25, 12, tzinfo=dt.UTC), "tests", "file")

NEXT, BEFORE = Roll.FOLLOWING, Roll.PRECEDING
EVENTS = frozenset(DueAfter)
YEARLY, FOLLOWS = (
    "every year, counted from the last time done: ",
    ("; a due date on a closed day moves to the next open day"),
)
PRECEDES = "; a due date on a closed day moves to the open day before"
CADA_AÑO = "cada año, contado desde la última vez que se hizo: "
PASA = "; si vence en un día cerrado, pasa al siguiente día de apertura"
ADELANTA = "; si vence en un día cerrado, se adelanta al día de apertura anterior"

# Written by hand from rulebook.toml and design 4.2 to 4.5, not by the code under test:
# each or every, early, grace, roll, whether first at the start, whether after moves and repairs.
BY_HAND: dict[tuple[str, int, int, Roll, bool, bool], tuple[str, str]] = {
    ("open-day", 0, 0, NEXT, False, False): ("each open day", "cada día de apertura"),
    ("week", 0, 0, NEXT, False, False): (
        "each ISO week, Monday to Sunday",
        "cada semana ISO, de lunes a domingo",
    ),
    ("month", 0, 0, NEXT, False, False): ("each month", "cada mes"),
    ("half-year", 0, 0, NEXT, False, False): ("each half-year", "cada semestre"),
    ("P1Y", 45, 15, NEXT, False, False): (
        YEARLY + "from 45 days early until 15 days after the due date" + FOLLOWS,
        CADA_AÑO + "desde 45 días antes hasta 15 días después de la fecha de vencimiento" + PASA,
    ),
    ("P1Y", 30, 0, NEXT, False, False): (
        YEARLY + "from 30 days early until the due date" + FOLLOWS,
        CADA_AÑO + "desde 30 días antes hasta la fecha de vencimiento" + PASA,
    ),
    ("P1Y", 60, 0, NEXT, False, False): (
        YEARLY + "from 60 days early until the due date" + FOLLOWS,
        CADA_AÑO + "desde 60 días antes hasta la fecha de vencimiento" + PASA,
    ),
    ("P2Y", 90, 0, NEXT, False, False): (
        "every 2 years, counted from the last time done: from 90 days early until the due date"
        + FOLLOWS,
        "cada 2 años, contado desde la última vez que se hizo: desde 90 días antes hasta la fecha"
        " de vencimiento" + PASA,
    ),
    ("P1Y", 45, 0, BEFORE, False, False): (
        YEARLY + "from 45 days early until the due date" + PRECEDES,
        CADA_AÑO + "desde 45 días antes hasta la fecha de vencimiento" + ADELANTA,
    ),
    ("P6M", 30, 0, BEFORE, False, False): (
        "every 6 months, counted from the last time done: from 30 days early until the due date"
        + PRECEDES,
        "cada 6 meses, contado desde la última vez que se hizo: desde 30 días antes hasta la fecha"
        " de vencimiento" + ADELANTA,
    ),
    ("P1Y", 45, 15, NEXT, False, True): (
        YEARLY + "from 45 days early until 15 days after the due date;"
        " also at once after a move or a repair" + FOLLOWS,
        CADA_AÑO + "desde 45 días antes hasta 15 días después de la fecha de vencimiento; también"
        " de inmediato después de un traslado o de una reparación" + PASA,
    ),
    ("P1W", 0, 0, BEFORE, False, False): (
        "every week, counted from the last time done: by the due date" + PRECEDES,
        "cada semana, contado desde la última vez que se hizo: a más tardar en la fecha de"
        " vencimiento" + ADELANTA,
    ),
    ("P1Y", 45, 0, BEFORE, True, True): (
        YEARLY + "from 45 days early until the due date; the first time when the unit enters"
        " service; also at once after a move or a repair" + PRECEDES,
        CADA_AÑO + "desde 45 días antes hasta la fecha de vencimiento; la primera vez cuando la"
        " unidad entra en servicio; también de inmediato después de un traslado o de una"
        " reparación" + ADELANTA,
    ),
    ("P1Y", 30, 0, BEFORE, False, False): (
        YEARLY + "from 30 days early until the due date" + PRECEDES,
        CADA_AÑO + "desde 30 días antes hasta la fecha de vencimiento" + ADELANTA,
    ),
    ("P1M", 0, 0, BEFORE, False, False): (
        "every month, counted from the last time done: by the due date" + PRECEDES,
        "cada mes, contado desde la última vez que se hizo: a más tardar en la fecha de"
        " vencimiento" + ADELANTA,
    ),
    ("P6Y", 60, 0, BEFORE, False, False): (
        "every 6 years, counted from the last time done: from 60 days early until the due date"
        + PRECEDES,
        "cada 6 años, contado desde la última vez que se hizo: desde 60 días antes hasta la fecha"
        " de vencimiento" + ADELANTA,
    ),
}


def combination(rule: Rule) -> tuple[str, int, int, Roll, bool, bool]:
    counted = rule.every.text if rule.every else str(rule.each)
    is_first = rule.first is First.AT_START
    return counted, rule.early, rule.grace, rule.roll, is_first, rule.due_after == EVENTS


def shipped_rules() -> list[Rule]:
    return [rule for kind in shipped_book().kinds.values() for rule in kind.rules]


def rule(**fields: Any) -> Rule:
    return Rule(kind="oven", task="check", title="Check", source="common practice", **fields)


def cards(text: str = "", *kinds: str, language: str = "en", on: dt.date = ON) -> list[Card]:
    """Cards of a fleet that loaded a book, or of one that did not."""
    record = FakeRecord()
    if text:
        record.add_book(text, read_book(text).sha256, True, STAMP)
    return card_facts(record, kinds, language, on)


def told(card: Card, task: str) -> list[CardDuty]:
    return [duty for duty in card.duties if duty.task == task]


def test_every_combination_of_the_shipped_book_is_in_the_table_by_hand() -> None:
    assert {combination(rule) for rule in shipped_rules()} == set(BY_HAND)
    assert not [rule for rule in shipped_rules() if rule.anchor_on or rule.keep_anchor]


@pytest.mark.parametrize("rule", shipped_rules(), ids=lambda rule: f"{rule.kind}/{rule.task}")
def test_the_shipped_book_s_intervals_are_told_as_in_the_table(rule: Rule) -> None:
    told = tuple(how_often(rule, card_words(language)) for language in ("en", "es"))

    assert told == BY_HAND[combination(rule)]


@pytest.mark.parametrize(
    ("fields", "english", "spanish"),
    [
        ({"each": Each.OPEN_DAY, "times": 2}, "twice each open day", "dos veces cada día de"),
        (
            {"each": Each.WEEK, "times": 3},
            "3 times each ISO week, Monday to",
            "3 veces cada semana",
        ),
        ({"each": Each.QUARTER}, "each quarter", "cada trimestre"),
        ({"each": Each.YEAR}, "each year", "cada año"),
        (
            {"every": "P45D", "grace": 1, "roll": Roll.NONE},
            "every 45 days, counted from the last time done: until 1 day after the due date",
            "cada 45 días, contado desde la última vez que se hizo: hasta 1 día después de la",
        ),
        (
            {"every": "P2W", "early": 1, "keep_anchor": 3, "roll": Roll.NONE},
            "every 2 weeks, counted from the last time done: from 1 day early until the due date;"
            " the date stays where it is done within 3 days of it",
            "cada 2 semanas, contado desde la última vez que se hizo: desde 1 día antes hasta la",
        ),
        (
            {"every": "P12M", "anchor_on": dt.date(2026, 3, 1), "roll": Roll.MODIFIED_FOLLOWING},
            "every 12 months from 2026-03-01 on, whenever it was last done: by the due date;"
            " a due date on a closed day moves to the next open day of its month, or else to the"
            " open day before",
            "cada 12 meses desde el 2026-03-01, sin importar la última vez que se hizo: a más",
        ),
        (
            {"every": "P1D", "due_after": frozenset({DueAfter.REPAIRED}), "roll": Roll.NONE},
            "every day, counted from the last time done: by the due date; also at once after a"
            " repair",
            "cada día, contado desde la última vez que se hizo: a más tardar en la fecha de",
        ),
    ],
)
def test_what_other_books_may_ask_is_told_too(
    fields: dict[str, Any], english: str, spanish: str
) -> None:
    every = fields.get("every")
    asked = rule(**{**fields, "every": Interval.parse(every)} if every else fields)

    assert how_often(asked, card_words("en")).startswith(english)
    assert how_often(asked, card_words("es")).startswith(spanish)


def test_an_english_line_ends_where_the_rule_does() -> None:
    asked = rule(every=Interval.parse("P45D"), grace=1, roll=Roll.NONE)

    assert how_often(asked, card_words("en")) == (
        "every 45 days, counted from the last time done: until 1 day after the due date"
    )


@pytest.mark.parametrize(
    ("low", "high", "english", "spanish"),
    [
        ("2.0", "8.0", "2.0 to 8.0 C", "de 2.0 a 8.0 C"),
        ("2.0", None, "at least 2.0 C", "2.0 C o más"),
        (None, "8.0", "at most 8.0 C", "8.0 C o menos"),
    ],
)
def test_limits_are_told_as_far_as_there_are_any(
    low: str | None, high: str | None, english: str, spanish: str
) -> None:
    ends = {"low": low, "high": high}
    book = read_book(BOOK.format(range=", ".join(f"{k} = {v}" for k, v in ends.items() if v)))
    limits = book.kinds["oven"].rules[0].range

    assert isinstance(limits, ReadingRange)
    assert reading_words(limits, card_words("en")) == english
    assert reading_words(limits, card_words("es")) == spanish


BOOK = """
[kind.oven]
name = "Drying oven"

[[kind.oven.rule]]
task = "read"
title = "Read the temperature"
each = "open-day"
range = {{ {range}, unit = "C" }}
source = "common practice, no source"
"""

CHANGED = """
[kind.press]
name = "Cold press"

[[kind.press.rule]]
task = "wipe"
title = "Wipe it"
each = "week"
until = 2026-06-30
source = "the old guide"
cautions = ["Hands off."]
title_es = "Limpiarla"
cautions_es = ["No tocar."]

[[kind.press.rule]]
task = "wipe"
title = "Wipe it, both plates"
each = "open-day"
times = 2
from = 2026-07-01
source = "the new guide"
stops_use = true

[[kind.press.rule]]
task = "oil"
title = "Oil it"
every = "P1Y"
source = "common practice, no source"

[[kind.press.rule]]
task = "oil"
title = "Oil it, thinly"
every = "P6M"
models = ["Thrush 2", "Thrush 3"]
source = "common practice, no source"

[[kind.press.rule]]
task = "oil"
title = "Oil it, often"
every = "P1M"
models = ["Thrush 3"]
from = 2026-07-01
source = "common practice, no source"
vendor = true
"""


def test_only_the_version_in_force_on_the_day_is_told() -> None:
    (before,), (after,) = (
        told(cards(CHANGED, "press", on=on)[0], "wipe")
        for on in (dt.date(2026, 6, 30), dt.date(2026, 7, 1))
    )

    assert (before.title, before.often) == ("Wipe it", "each ISO week, Monday to Sunday")
    assert (before.cautions, before.source) == (("Hands off.",), "the old guide")
    assert (after.title, after.often) == ("Wipe it, both plates", "twice each open day")
    assert (after.stops_use, after.cautions) == (True, ())


def test_models_rules_are_told_beside_the_one_for_all_with_their_models() -> None:
    found = told(cards(CHANGED, "press")[0], "oil")

    assert [(duty.title, duty.only_models, duty.not_models, duty.is_vendor) for duty in found] == [
        ("Oil it", (), ("Thrush 2", "Thrush 3"), False),
        ("Oil it, thinly", ("Thrush 2",), (), False),
        ("Oil it, often", ("Thrush 3",), (), True),
    ]


def test_spanish_is_told_where_the_book_has_it_and_english_otherwise() -> None:
    card = cards(CHANGED, "press", language="es", on=dt.date(2026, 6, 30))[0]

    (wipe,) = told(card, "wipe")
    assert (wipe.title, wipe.cautions) == ("Limpiarla", ("No tocar.",))
    assert told(card, "oil")[0].title == "Oil it"
    assert wipe.often == "cada semana ISO, de lunes a domingo"


def test_no_kind_asked_for_is_every_kind_of_the_book() -> None:
    found = cards()

    assert [card.kind for card in found] == list(shipped_book().kinds)
    assert {card.book_sha256 for card in found} == {shipped_book().sha256}


def test_the_words_of_the_shipped_cards_are_the_book_s_own() -> None:
    for card in cards():
        book = shipped_book().kinds[card.kind].rules
        assert [(d.task, d.title, d.cautions, d.source) for d in card.duties] == [
            (r.task, r.title, r.cautions, r.source) for r in book
        ]


def test_kinds_come_once_each_in_the_order_asked_for_in_any_case() -> None:
    assert [card.kind for card in cards("", "Timer", "freezer", "TIMER")] == ["timer", "freezer"]


def test_an_unknown_kind_is_refused_with_the_nearest() -> None:
    with pytest.raises(BadInput) as refused:
        cards("", "freezer", "centrifuje")

    assert str(refused.value) == "--kind: no kind 'centrifuje'; did you mean 'centrifuge'?"


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(NotFound) as refused:
        cards("", "freezer", language="fr")

    assert str(refused.value) == "no language for cards 'fr'; they are en and es"


def texts(words: CardWords) -> dict[str, str]:
    """Every text of a language under the way to it."""
    found: dict[str, str] = {}
    for field in dataclasses.fields(words):
        value = getattr(words, field.name)
        parts = value.items() if isinstance(value, dict) else enumerate(value)
        if isinstance(value, str):
            found[field.name] = value
            continue
        for key, part in parts:
            for turn, text in enumerate((part,) if isinstance(part, str) else part):
                found[f"{field.name}/{key}/{turn}"] = text
    return found


def test_both_languages_say_all_and_fill_in_the_same_names() -> None:
    english, spanish = texts(LANGUAGES["en"]), texts(LANGUAGES["es"])

    def names(text: str) -> set[str]:
        return {name for _, name, _, _ in Formatter().parse(text) if name}

    assert english.keys() == spanish.keys()
    for key, text in english.items():
        assert names(text) == names(spanish[key]), key
        assert text != spanish[key], key
