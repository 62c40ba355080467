"""Is everything a mail says in the Spanish catalogue, whole and well-formed, and said from there?

Against the outside: names of days and months, and which number takes which plural, are those of
the Unicode CLDR as Babel carries it (UTS 35; locales en, es and es_US).
"""

from __future__ import annotations

import ast
import datetime as dt
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from string import Formatter
from threading import Barrier

import pytest
from babel import Locale
from babel.dates import format_date
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import read_po

import notifications
from notifications import languages
from notifications.digests.words import counted, county, day, gap_words, joined, month
from notifications.languages import LANGUAGES, speaking, spoken, tr, trn
from notifications.messages import Kind
from tests.notifications.catalogue_texts import Text, code_files, said_in_code, said_in_templates
from tests.notifications.facts_made import a_chart, a_rendered, days
from tests.notifications.spanish_mails import english_in, spanish

_LOCALES = Path(notifications.__file__).parent / "locales"
_COMMON = {"en": "Fri 4 Dec 2026", "es": "vie 4 dic 2026"}
_YEAR = [dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365)]


def _catalogue() -> Catalog:
    with (_LOCALES / "es.po").open("rb") as source:
        return read_po(source, locale="es", abort_invalid=True)


def _said() -> set[Text]:
    return {text for text, _ in (*said_in_code(), *said_in_templates()) if text is not None}


def _entries() -> dict[Text, Message]:
    """The catalogue's entries, by their English text or the two of a plural."""
    return {
        entry.id if isinstance(entry.id, str) else (entry.id[0], entry.id[1]): entry
        for entry in _catalogue()
        if entry.id
    }


def _placeholders(text: str) -> set[str]:
    return {name for _, name, _, _ in Formatter().parse(text) if name is not None}


def test_every_text_is_in_the_catalogue_and_the_catalogue_has_no_other() -> None:
    said = _said()
    assert len(said) > 250
    assert _entries().keys() == said


def test_every_text_that_is_said_is_a_literal() -> None:
    """`counted` itself puts two texts together, of the literals that it is called with."""
    said = [*said_in_code(), *said_in_templates()]
    where = [place for text, place in said if text is None]
    assert [place.partition(":")[0] for place in where] == ["words.py"]


def test_no_text_is_said_under_another_name() -> None:
    """A text said as `languages.tr(...)` or renamed on import would not be found above."""
    renamed = [
        f"{path.name}:{node.lineno}"
        for path in code_files()
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if (isinstance(node, ast.Attribute) and node.attr in ("tr", "trn", "counted"))
        or (isinstance(node, ast.alias) and node.name in ("tr", "trn", "counted") and node.asname)
    ]
    assert renamed == []


def test_every_translation_is_there_with_all_forms_and_the_same_placeholders() -> None:
    for text, entry in _entries().items():
        forms = (entry.string,) if isinstance(entry.string, str) else tuple(entry.string or ())
        texts = (text,) if isinstance(text, str) else text
        assert len(forms) == len(texts), text
        assert all(form.strip() for form in forms), text
        assert not entry.fuzzy, text
        for form, source in zip(forms, texts, strict=True):
            assert _placeholders(form) == _placeholders(source), text
            assert form[-1] == source[-1] or source[-1] not in ".:?", text


@pytest.mark.parametrize("count", [0, 1, 2, 1204])
def test_a_count_takes_the_plural_that_cldr_says(count: int) -> None:
    one = Locale("es").plural_form(count) == "one"
    with speaking("es"):
        said = counted(count, "unit"), trn("{count} month", "{count} months", count)
    number = f"{count:,}"
    assert said == (
        f"{number} {'unidad' if one else 'unidades'}",
        f"{number} {'mes' if one else 'meses'}",
    )


@pytest.mark.parametrize(("language", "locale"), [("en", "en"), ("es", "es")])
def test_a_date_is_said_with_the_names_of_cldr(language: str, locale: str) -> None:
    with speaking(language):
        said = [day(on) for on in _YEAR]
    assert said == [format_date(on, "EEE d MMM y", locale=locale) for on in _YEAR]


@pytest.mark.parametrize(
    ("language", "pattern"), [("en", "MMMM y"), ("es", "MMMM 'de' y")], ids=LANGUAGES
)
def test_a_month_is_said_with_the_name_of_cldr(language: str, pattern: str) -> None:
    with speaking(language):
        said = [month(on) for on in _YEAR]
    assert said == [format_date(on, pattern, locale=language) for on in _YEAR]


def test_words_are_said_in_spanish() -> None:
    gaps = days(dt.date(2026, 11, 2), dt.date(2026, 11, 3))
    with speaking("es"):
        assert joined(["Alder", "Birch", "Cedar"]) == "Alder, Birch y Cedar"
        assert county("Adams") == "Condado de Adams"
        assert gap_words(a_chart(gaps=gaps)) == "Sin marcar: lun 2 nov 2026 y mar 3 nov 2026"
        assert gap_words(a_chart(missed=3)) == "Sin marcar: los últimos 3 días de apertura"


def test_a_language_without_a_catalogue_is_said_in_english() -> None:
    with speaking("../es"):
        assert (spoken(), tr("Overdue"), day(dt.date(2026, 12, 4))) == (
            "en",
            "Overdue",
            "Fri 4 Dec 2026",
        )


def test_the_language_is_as_before_after_a_fault() -> None:
    with pytest.raises(ZeroDivisionError), speaking("es"):
        raise ZeroDivisionError
    assert tr("Overdue") == "Overdue"


def test_two_threads_say_two_languages_at_once() -> None:
    both_speak = Barrier(2)

    def say(language: str) -> list[str]:
        with speaking(language):
            both_speak.wait(timeout=10)
            return [day(dt.date(2026, 12, 4)) for _ in range(500)]

    with ThreadPoolExecutor(2) as threads:
        said = dict(zip(LANGUAGES, threads.map(say, LANGUAGES), strict=True))
    assert said == {language: [words] * 500 for language, words in _COMMON.items()}


def test_a_spanish_mail_has_no_english_left() -> None:
    left = {name: english_in(made) for name, made in spanish().items()}
    assert {name: words for name, words in left.items() if words} == {}


def test_english_in_a_mail_is_found() -> None:
    assert english_in(a_rendered(subject="1 con atraso", text="Start with NE-1.\n")) == [
        "Start with NE-1. ",
        "   t  Start with NE-1.  ",
    ]


def test_a_spanish_mail_says_that_it_is_spanish() -> None:
    for made in spanish().values():
        assert made.language == "es"
        assert '<html lang="es"' in made.html


def test_every_kind_is_written_in_spanish() -> None:
    assert {made.kind for made in spanish().values()} == set(Kind)


def test_titles_and_cautions_are_the_spanish_ones_of_the_rule_book() -> None:
    text = re.sub(r"\s+", " ", spanish()["site_lead"].text)
    assert "Microscopio: Servicio del proveedor" in text
    assert "Precaución: Primero desenchufe." in text


def test_every_catalogue_is_a_language_and_a_further_one_has_dates_too() -> None:
    """Days and months of languages without a table of ours are those of CLDR (by Babel)."""
    assert LANGUAGES == ("en", "es")
    on = dt.date(2026, 12, 4)
    token = languages._spoken.set("fr")
    try:
        assert day(on) == "ven. 4 déc. 2026"
    finally:
        languages._spoken.reset(token)
