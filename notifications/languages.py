"""In which language is this said? Texts are written in English and looked up in a catalogue.

`speaking` sets the language for what is said inside it; `tr` and `trn` say it. Catalogues are
gettext files, `locales/LANGUAGE.po`; what one lacks is said in English, and a test holds that ours
lack nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["LANGUAGES", "speaking", "spoken", "tr", "trn"]

LANGUAGES = ("en", "es")
"""The languages that are complete."""

_spoken: ContextVar[str] = ContextVar("spoken", default="en")


@contextmanager
def speaking(language: str) -> Iterator[None]:
    """Say what follows in a language; one without a catalogue is said in English."""
    token = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(token)


def spoken() -> str:
    """The language that is spoken now."""
    return _spoken.get()


def tr(text: str, **values: object) -> str:
    """Say a text in the language that is spoken; `{name}` stands for a value."""
    return text.format(**values) if values else text


def trn(one: str, many: str, count: int, **values: object) -> str:
    """Say one of two texts by a count, `{count}` in it, by the language's rules of plurals."""
    return (one if count == 1 else many).format(count=f"{count:,}", **values)
