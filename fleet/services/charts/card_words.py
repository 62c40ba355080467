"""Which words stand around a rule on a card, in English and in Spanish?

Titles and cautions are the rule book's own; here is a table a language of what is said around them.
The two say the same.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from fleet.errors import NotFound
from schedules.rules import DueAfter, Each, Roll

__all__ = ["LANGUAGES", "CardWords", "card_words"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CardWords:
    """The words of one language; names in braces are filled in."""

    # Of the card.
    card: str
    caution: str
    often: str
    reading: str
    vendor: str
    stops_use: str
    only_models: str
    not_models: str
    source: str
    no_duty: str
    on_the_chart: str
    marks: str
    wrong: str
    wrong_first: str
    defers: str
    book: str
    printed: str
    page: str
    continued: str
    # How often.
    times: tuple[str, str]
    """Two times, and more often."""
    each: Mapping[Each, str]
    every: Mapping[str, tuple[str, str]]
    """By the letter of the interval: one, and several."""
    days: tuple[str, str]
    anchored: str
    fixed: str
    window: str
    early: str
    grace: str
    by_date: str
    roll: Mapping[Roll, str]
    events: Mapping[DueAfter, str]
    after_events: str
    any_of: str
    at_start: str
    keep_anchor: str
    # The limits of a reading.
    between: str
    least: str
    most: str


_ENGLISH = CardWords(
    card="Procedure card",
    caution="CAUTION",
    often="How often",
    reading="Reading",
    vendor="The vendor does it.",
    stops_use="If it fails, the unit is not used until it passes.",
    only_models="Only for {models}.",
    not_models="Not for {models}: another rule holds there.",
    source="Source",
    no_duty="The rule book asks nothing of this kind on this day.",
    on_the_chart="On the chart",
    marks="✓ or the reading when done  ·  U when the unit was not in use that day  ·  your initials"
    "  ·  leave no open cell empty",
    wrong="Broken, or a reading out of range?",
    wrong_first="Do not use it; tell the site lead at once."
    " The caution beside the task says what to do first.",
    defers="The manufacturer's manual, the site's safety officer and local rules come first: where"
    " they differ from this card, follow them.",
    book="Rule book {sha256}, in force on {on}",
    printed="Printed {at} UTC",
    page="page {page} of {pages}",
    continued="{title} (continued)",
    times=("twice {each}", "{count} times {each}"),
    each={
        Each.OPEN_DAY: "each open day",
        Each.WEEK: "each ISO week, Monday to Sunday",
        Each.MONTH: "each month",
        Each.QUARTER: "each quarter",
        Each.HALF_YEAR: "each half-year",
        Each.YEAR: "each year",
    },
    every={
        "D": ("every day", "every {count} days"),
        "W": ("every week", "every {count} weeks"),
        "M": ("every month", "every {count} months"),
        "Y": ("every year", "every {count} years"),
    },
    days=("1 day", "{count} days"),
    anchored="{every}, counted from the last time done: {window}",
    fixed="{every} from {date} on, whenever it was last done: {window}",
    window="from {early} early until {grace} after the due date",
    early="from {early} early until the due date",
    grace="until {grace} after the due date",
    by_date="by the due date",
    roll={
        Roll.FOLLOWING: "a due date on a closed day moves to the next open day",
        Roll.PRECEDING: "a due date on a closed day moves to the open day before",
        Roll.MODIFIED_FOLLOWING: "a due date on a closed day moves to the next open day of its"
        " month, or else to the open day before",
    },
    events={DueAfter.MOVED: "a move", DueAfter.REPAIRED: "a repair"},
    after_events="also at once after {events}",
    any_of=" or ",
    at_start="the first time when the unit enters service",
    keep_anchor="the date stays where it is done within {days} of it",
    between="{low} to {high} {unit}",
    least="at least {low} {unit}",
    most="at most {high} {unit}",
)

_SPANISH = CardWords(
    card="Hoja de procedimiento",
    caution="PRECAUCIÓN",
    often="Frecuencia",
    reading="Lectura",
    vendor="Lo hace el proveedor.",
    stops_use="Si falla, la unidad no se usa hasta que pase la prueba.",
    only_models="Solo para {models}.",
    not_models="No para {models}: ahí vale otra regla.",
    source="Fuente",
    no_duty="El libro de reglas no pide nada de este tipo de equipo en este día.",
    on_the_chart="En la hoja de registro",
    marks="✓ o la lectura al hacerlo  ·  U si la unidad no se usó ese día  ·  sus iniciales"
    "  ·  no deje vacía ninguna casilla abierta",
    wrong="¿Averiada, o una lectura fuera de rango?",
    wrong_first="No la use; avise de inmediato a la persona encargada del sitio."
    " La precaución dice qué hacer primero.",
    defers="El manual del fabricante, el responsable de seguridad del sitio y las normas locales"
    " tienen prioridad: si difieren de esta hoja, sígalos.",
    book="Libro de reglas {sha256}, vigente el {on}",
    printed="Impresa {at} UTC",
    page="página {page} de {pages}",
    continued="{title} (continuación)",
    times=("dos veces {each}", "{count} veces {each}"),
    each={
        Each.OPEN_DAY: "cada día de apertura",
        Each.WEEK: "cada semana ISO, de lunes a domingo",
        Each.MONTH: "cada mes",
        Each.QUARTER: "cada trimestre",
        Each.HALF_YEAR: "cada semestre",
        Each.YEAR: "cada año",
    },
    every={
        "D": ("cada día", "cada {count} días"),
        "W": ("cada semana", "cada {count} semanas"),
        "M": ("cada mes", "cada {count} meses"),
        "Y": ("cada año", "cada {count} años"),
    },
    days=("1 día", "{count} días"),
    anchored="{every}, contado desde la última vez que se hizo: {window}",
    fixed="{every} desde el {date}, sin importar la última vez que se hizo: {window}",
    window="desde {early} antes hasta {grace} después de la fecha de vencimiento",
    early="desde {early} antes hasta la fecha de vencimiento",
    grace="hasta {grace} después de la fecha de vencimiento",
    by_date="a más tardar en la fecha de vencimiento",
    roll={
        Roll.FOLLOWING: "si vence en un día cerrado, pasa al siguiente día de apertura",
        Roll.PRECEDING: "si vence en un día cerrado, se adelanta al día de apertura anterior",
        Roll.MODIFIED_FOLLOWING: "si vence en un día cerrado, pasa al siguiente día de apertura"
        " del mismo mes o, si no lo hay, al anterior",
    },
    events={DueAfter.MOVED: "un traslado", DueAfter.REPAIRED: "una reparación"},
    after_events="también de inmediato después de {events}",
    any_of=" o de ",
    at_start="la primera vez cuando la unidad entra en servicio",
    keep_anchor="la fecha se mantiene si se hace a no más de {days} de ella",
    between="de {low} a {high} {unit}",
    least="{low} {unit} o más",
    most="{high} {unit} o menos",
)

LANGUAGES = {"en": _ENGLISH, "es": _SPANISH}


def card_words(language: str) -> CardWords:
    """The words of a language; NotFound for one that cards do not speak."""
    if language not in LANGUAGES:
        raise NotFound("language for cards", language, f"they are {' and '.join(LANGUAGES)}")
    return LANGUAGES[language]
