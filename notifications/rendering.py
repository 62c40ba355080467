"""How is a message laid out? Jinja folders of three files: subject.txt, body.txt, body.html.

Text and HTML have environments of their own: only the HTML one escapes. A name a template does not
find is an error. The style block is inlined into each mail for readers that drop it; what a media
query says (dark mode) stays in the head. Inlining is done per mail and not per template, because a
template is in pieces; it costs 0.3 ms of the 5 ms that a mail of 48 lines takes (measured).
"""

from __future__ import annotations

import re
import textwrap
from functools import cache, lru_cache
from pathlib import Path
from string import Formatter
from typing import Final

from css_inline import CSSInliner
from jinja2 import (
    BaseLoader,
    ChoiceLoader,
    Environment,
    FunctionLoader,
    PackageLoader,
    StrictUndefined,
)
from jinja2.exceptions import SecurityError
from jinja2.sandbox import ImmutableSandboxedEnvironment
from markupsafe import Markup, escape

from notifications.addresses import one_line
from notifications.languages import spoken, tr, trn
from notifications.messages import Message, Rendered

__all__ = ["COLUMNS", "Templates", "laid_out", "render", "templates_of"]

COLUMNS: Final = 72
"""The text part's lines are at most so long, save a single word that is longer."""


class Templates:
    """The templates: the shipped ones, and those of a state's own folder in their place.

    All run in a sandbox, so that a folder can lay out a mail and do nothing else. A folder is read
    once, so that what was checked is what is used.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder
        self.remarks: list[str] = []
        """Which own template could not be used for a mail, and why; the shipped one was."""
        loader = _loader(folder)
        self.text, self.html = _text(loader), _html(loader)


@lru_cache(maxsize=4)
def templates_of(folder: Path | None) -> Templates:
    """The templates with a folder's in front, made once."""
    return Templates(folder)


def render(message: Message, templates: Templates | None = None) -> Rendered:
    """Lay a message out; jinja2.UndefinedError if its context lacks a name of its templates.

    Where a state's own template fails the shipped one is used: a mail must not be lost over it.
    """
    one = templates or templates_of(None)
    if one.folder is None:
        return laid_out(message, one)
    try:
        return laid_out(message, one)
    except Exception as error:  # an own template may raise anything
        one.remarks.append(f"{one.folder}, {message.kind.value}: {one_line(str(error))}")
        return laid_out(message, templates_of(None))


def laid_out(message: Message, templates: Templates) -> Rendered:
    """A message by exactly these templates, whatever they raise."""
    folder, context = message.kind.value, message.context
    text = templates.text.get_template(f"{folder}/body.txt").render(context)
    html = templates.html.get_template(f"{folder}/body.html").render(context)
    return Rendered(
        kind=message.kind,
        email=message.email,
        name=message.name,
        period=message.period,
        dated_at=message.dated_at,
        is_all_clear=message.is_all_clear,
        subject=one_line(templates.text.get_template(f"{folder}/subject.txt").render(context)),
        text=re.sub(r"\n{3,}", "\n\n", text).strip() + "\n",
        html=_inliner().inline(html.strip()),
        language=message.language,
        items=message.items,
        attached=message.attached,
    )


def _text(loader: BaseLoader) -> Environment:
    """The environment of subjects and text parts: nothing is escaped there (`&` stays `&`)."""
    made = ImmutableSandboxedEnvironment(
        loader=loader,
        undefined=StrictUndefined,
        autoescape=False,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["wrap"] = _wrap
    made.globals.update(tr=_tr_text, trn=_trn, spoken=spoken)
    return made


def _html(loader: BaseLoader) -> Environment:
    made = ImmutableSandboxedEnvironment(
        loader=loader,
        undefined=StrictUndefined,
        autoescape=True,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals.update(tr=_tr_html, trn=_trn, spoken=spoken, code=_code)
    return made


def _loader(folder: Path | None) -> BaseLoader:
    """The shipped templates, behind those that a folder holds now; none from outside of it."""
    shipped = PackageLoader("notifications")
    if folder is None:
        return shipped
    root = folder.resolve()
    found = {
        path.relative_to(folder).as_posix(): (
            path.read_text(encoding="utf-8", errors="replace"),
            str(path),
            None,
        )
        for path in folder.rglob("*")
        if path.is_file() and path.resolve().is_relative_to(root)
    }
    return ChoiceLoader([FunctionLoader(found.get), shipped])


def _plain(text: str) -> None:
    """Refuse a placeholder that reaches into its value: `format` knows of no sandbox."""
    for _, field, form, _ in Formatter().parse(text):
        if field is not None and not field.isidentifier():
            raise SecurityError(f"'{{{field}}}' is not a name alone")
        _plain(form or "")


def _tr_text(text: str, **values: object) -> str:
    _plain(text)
    return tr(text, **values)


def _trn(one: str, many: str, count: int, **values: object) -> str:
    _plain(one)
    _plain(many)
    return trn(one, many, count, **values)


def _tr_html(text: str, **values: object) -> Markup:
    """Say a text in HTML: it is escaped, and so is a value that is no Markup."""
    _plain(text)
    said = Markup(escape(tr(text)))  # noqa: S704 - escaped here
    return said.format(**values) if values else said


def _code(text: str) -> Markup:
    """A command to copy."""
    return Markup("<code>{}</code>").format(text)


@cache
def _inliner() -> CSSInliner:
    """Names in a mail are not ours, so nothing is ever loaded for it."""
    return CSSInliner(keep_at_rules=True, load_remote_stylesheets=False)


def _wrap(text: str, first: str = "", later: str = "") -> str:
    """Fold a paragraph to COLUMNS; a word, such as a property number, is never cut."""
    return textwrap.fill(
        text,
        COLUMNS,
        initial_indent=first,
        subsequent_indent=later,
        break_long_words=False,
        break_on_hyphens=False,
    )
