"""In which language is this said? Texts are written in English and looked up in a catalogue.

`speaking` sets the language for what is said inside it; `tr` and `trn` say it. Catalogues are
gettext files, `locales/LANGUAGE.po`; what one lacks is said in English, and a test holds that ours
lack nothing.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from functools import cache
from gettext import GNUTranslations, NullTranslations
from importlib.resources import files

__all__ = ["LANGUAGES", "speaking", "spoken", "tr", "trn"]

_CATALOGUES = files("notifications").joinpath("locales")
LANGUAGES = (
    "en",
    *sorted(
        one.name.removesuffix(".po") for one in _CATALOGUES.iterdir() if one.name.endswith(".po")
    ),
)
"""English, and every language that has a catalogue."""

_spoken: ContextVar[str] = ContextVar("spoken", default="en")


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Say what follows in a language; one without a catalogue is said in English."""
    token = _spoken.set(language if language in LANGUAGES else "en")
    try:
        yield
    finally:
        _spoken.reset(token)


def spoken() -> str:
    """The language that is spoken now, one of LANGUAGES."""
    return _spoken.get()


def tr(text: str, **values: object) -> str:
    """Say a text in the language that is spoken; `{name}` stands for a value."""
    said = _catalogue(spoken()).gettext(text)
    return said.format(**values) if values else said


def trn(one: str, many: str, count: int, **values: object) -> str:
    """Say one of two texts by a count, `{count}` in it, by the language's rules of plurals."""
    said = _catalogue(spoken()).ngettext(one, many, count)
    return said.format(count=f"{count:,}", **values)


@cache
def _catalogue(language: str) -> NullTranslations:
    """A language's texts, read once; English is what the texts are written in."""
    if language == "en":
        return NullTranslations()
    from babel.messages.mofile import write_mo
    from babel.messages.pofile import read_po

    with _CATALOGUES.joinpath(f"{language}.po").open("rb") as source:
        catalogue = read_po(source)
    compiled = io.BytesIO()
    write_mo(compiled, catalogue)
    compiled.seek(0)
    return GNUTranslations(compiled)
