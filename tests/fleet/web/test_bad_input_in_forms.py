"""What if somebody writes markup, quotes or an endless word where words are asked for?

Every text field of every form is filled with what would be markup if a page repeated it as it is;
then every page is looked at. `tests/fleet/api` holds the API to the same.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from html.parser import HTMLParser
from typing import TYPE_CHECKING
from urllib.parse import urlencode

import pytest

from tests.fleet.web.lab import FILES, Browser, Lab, make_lab
from tests.fleet.web.page_rows import PAGES
from tests.fleet.web.served_lab import as_word, cookies_of, served_lab
from tests.web.chromium import a_browser, page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium

__all__ = ["a_browser"]

HOSTILE = "'\"><img src=x data-planted onerror='planted()'><script data-planted>x</script>&lt;"
ENDLESS = "W" * 90
OPENED = [row for row in PAGES if row.status == 200]
WORDS = list(dict.fromkeys(row.word for row in OPENED))


@dataclass
class Form:
    """A form of a page: where it leads, and its fields as they stand."""

    path: str
    method: str
    fields: list[tuple[str, str]] = field(default_factory=list)
    written: list[str] = field(default_factory=list)
    """The names of its fields for words."""


class Reader(HTMLParser):
    """Reads a page as a browser would: its forms, and whether something was planted."""

    def __init__(self, path: str) -> None:
        super().__init__()
        self.path = path
        self.forms: list[Form] = []
        self.is_planted = False

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        told = {name: value or "" for name, value in attrs}
        self.is_planted |= "data-planted" in told
        if tag == "form":
            self.forms.append(Form(told.get("action") or self.path, told.get("method", "get")))
        if not self.forms or not told.get("name"):
            return
        form, kind = self.forms[-1], told.get("type", "text")
        if tag == "textarea" or (tag == "input" and kind in ("text", "email")):
            form.written.append(told["name"])
        elif tag == "input" and kind in ("hidden", "checkbox", "radio"):
            form.fields.append((told["name"], told.get("value", "on")))
        elif tag == "button":
            form.fields.append((told["name"], told.get("value", "")))


def read(path: str, text: str) -> Reader:
    reader = Reader(path)
    reader.feed(text)
    return reader


def filled(form: Form, text: str) -> dict[str, object]:
    """The form with some words in every field for words; hidden ones and choices as they stand."""
    kept: dict[str, object] = dict(reversed(form.fields))
    kept.pop("form_token", None)
    return kept | dict.fromkeys(form.written, text)


def sent(browser: Browser, form: Form, text: str) -> str:
    """The page that a filled form leads to; the server has an answer to whatever is written."""
    if form.method == "post":
        answer = browser.post(form.path, filled(form, text))
    else:
        joint = "&" if "?" in form.path else "?"
        answer = browser.get(f"{form.path}{joint}{urlencode(filled(form, text))}")
    assert answer.status_code < 500, (form.path, answer.text[:500])
    if answer.status_code == 302:
        answer = browser.get(answer.location)
    return answer.text


@pytest.mark.parametrize("word", WORDS)
def test_markup_written_into_any_field_is_shown_as_it_was_written(lab: Lab, word: str) -> None:
    """OWASP ASVS 5.0.0, 1.2.1: what is repeated is escaped for the place where it stands."""
    repeated = 0
    for row in (row for row in OPENED if row.word == word):
        for form in read(row.path, as_word(lab, word).page(row.path)).forms:
            if form.path == "/sign-out" or not form.written:
                continue
            page = sent(as_word(lab, word), form, HOSTILE)
            assert not read(form.path, page).is_planted, (row.path, form.path)
            repeated += "&lt;script data-planted&gt;" in page
    for row in OPENED:
        page = as_word(lab, row.word).get(row.path).text
        assert not read(row.path, page).is_planted, row.path
    assert repeated or word == "bench", "what cannot be taken is shown again, to be mended"


def test_a_page_that_repeats_markup_would_be_found() -> None:
    assert read("/", f"<p>{HOSTILE}</p>").is_planted
    assert read("/", f'<input value="{HOSTILE}">').is_planted


@pytest.fixture(scope="module")
def hostile_lab(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Lab, str]]:
    """A lab whose every name and title is markup and an endless word."""
    with pytest.MonkeyPatch.context() as patch:
        for name, text in FILES.items():
            patch.setitem(FILES, name, made_hostile(name, text))
        lab = make_lab(tmp_path_factory.mktemp("lab"))
    with closing(lab.program), served_lab(lab) as address:
        yield lab, address


def made_hostile(name: str, text: str) -> str:
    """A file whose names are hostile."""
    words = f"{HOSTILE} {ENDLESS}"
    cell = '"' + words.replace('"', '""') + '"'
    if name == "rules.toml":
        quoted = words.replace("\\", "\\\\").replace('"', '\\"')
        return re.sub(r'(title|name|source) = ".*"', rf'\1 = "{quoted}"', text)
    for plain in ("Alder Laboratory", "Lee Alderman", "Noor Northgate", "Exemplar,M1"):
        text = text.replace(plain, cell + f",{cell}" * plain.count(","))
    return text


@pytest.mark.browser
@pytest.mark.parametrize("word", [word for word in WORDS if word != "nobody"])
def test_hostile_names_neither_run_nor_widen_a_page_on_a_phone(
    hostile_lab: tuple[Lab, str], a_browser: Chromium, word: str
) -> None:
    lab, address = hostile_lab
    cookies = cookies_of(as_word(lab, word))
    faults = []
    with page_of(a_browser, 360, 740, cookies=cookies) as page:
        for row in (row for row in OPENED if row.word == word):
            page.goto(f"{address}{row.path}")
            wide = page.evaluate("document.scrollingElement.scrollWidth")
            if wide > 360:
                faults.append(f"{row.path} is {wide} px wide")
            if page.locator("[data-planted]").count():
                faults.append(f"{row.path} has taken a name for markup")
        faults += [f"a script ran: {error}" for error in page.page_errors()]
    assert not faults, "\n".join(faults)
