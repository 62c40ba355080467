"""Templates: their folders, what they refuse, what they escape, and who can read them."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Callable, Mapping
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import jinja2
import pytest

import notifications
from notifications import digests
from notifications.facts import Place
from notifications.messages import Kind, Message, Skipped
from notifications.rendering import COLUMNS, render
from tests.notifications.facts_made import (
    FIRST_MONDAY,
    PLACE,
    READER,
    a_chart,
    a_duty,
    a_report,
    an_arrival,
    days,
    gaps_facts,
    lead_facts,
    new_charts_facts,
    news_facts,
    program_facts,
    region_facts,
    visit_facts,
)
from tests.notifications.facts_made import ON as MONDAY

TEMPLATES = Path(next(iter(notifications.__path__))) / "templates"
DIGESTS = (Kind.SITE_LEAD, Kind.CONSULTANT, Kind.MANAGER)
WITH_UNITS = tuple(kind for kind in Kind if kind is not Kind.NEW_PASSWORD)
_HOW_TO_CHANGE = {
    **dict.fromkeys(DIGESTS, "To change how often it comes"),
    Kind.NEW_PASSWORD: "It comes only when somebody asks",
}
GAP = a_chart(gaps=days(MONDAY.replace(day=12)), missed=1)


def message(kind: Kind, place: Place = PLACE, property_number: str = "NE-1") -> Message:
    """One message of a kind with something in every part of it."""
    cautions = ("Unplug first.", "Gloves & goggles on.", "Never wipe dry.")
    late = a_duty(-40, place=place, property_number=property_number, cautions=cautions)
    soon = a_duty(3, property_number="NE-2")
    writers: Mapping[Kind, Callable[[], Message | Skipped]] = {
        Kind.SITE_LEAD: lambda: digests.site_lead(lead_facts(late, soon, charts=(GAP,))),
        Kind.CONSULTANT: lambda: digests.consultant(region_facts(late, soon, charts=(GAP,))),
        Kind.MANAGER: lambda: digests.manager(program_facts(late, soon)),
        Kind.GAPS: lambda: digests.gaps(
            gaps_facts(dataclasses.replace(GAP, property_number=property_number), place=place)
        ),
        Kind.NEW_CHARTS: lambda: digests.new_charts(
            new_charts_facts(property_number, "NE-2", place=place)
        ),
        Kind.NEWS: lambda: digests.news(
            news_facts(an_arrival(property_number, place), a_report(place=place))
        ),
        Kind.VISIT: lambda: digests.visit(
            visit_facts(number=property_number, place=place, cautions=cautions)
        ),
        Kind.NEW_PASSWORD: lambda: digests.new_password(
            dataclasses.replace(READER, name=place.name), property_number, "https://a.example/l/x"
        ),
    }
    made = writers[kind]()
    assert isinstance(made, Message)
    return made


class _Page(HTMLParser):
    """Every start tag with its attributes, and the text outside the head."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words: list[str] = []
        self._hidden = ""
        self.feed(html)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        self._hidden = tag if tag in ("style", "title") else self._hidden

    def handle_endtag(self, tag: str) -> None:
        self._hidden = "" if tag == self._hidden else self._hidden

    def handle_data(self, data: str) -> None:
        if not self._hidden and data.strip():
            self.words.append(data.strip())


def test_every_kind_has_its_folder_and_every_folder_its_kind() -> None:
    folders = {path.name for path in TEMPLATES.iterdir() if path.is_dir()}

    assert folders == {kind.value for kind in Kind} | {"_base"}


@pytest.mark.parametrize("kind", Kind)
def test_every_kind_has_its_three_files(kind: Kind) -> None:
    files = {path.name for path in (TEMPLATES / kind.value).iterdir()}

    assert files == {"subject.txt", "body.txt", "body.html"}


@pytest.mark.parametrize("kind", Kind)
def test_a_fact_a_template_does_not_find_is_an_error(kind: Kind) -> None:
    whole = message(kind)
    shared = {"first", "title", "reasons", "all_clear", "subject"}
    for name in shared & whole.context.keys():
        fewer = {key: value for key, value in whole.context.items() if key != name}
        with pytest.raises(jinja2.UndefinedError, match=f"'{name}' is undefined"):
            render(dataclasses.replace(whole, context=fewer))


@pytest.mark.parametrize("kind", WITH_UNITS)
def test_html_escapes_names_and_text_does_not(kind: Kind) -> None:
    place = Place(site="x", name='<b>R&D</b> "O\'Hara"', county="Adams", region="Platte")
    made = render(message(kind, place=place, property_number="<i>NE&1</i>"))

    assert "<b>" not in made.html
    assert "<i>" not in made.html
    assert "&lt;i&gt;NE&amp;1&lt;/i&gt;" in made.html
    assert "<i>NE&1</i>" in made.text
    assert "&amp;" not in made.text


@pytest.mark.parametrize("kind", Kind)
def test_a_name_with_line_breaks_forges_no_line(kind: Kind) -> None:
    forged = "NE-1\r\n\r\nOVERDUE (99)\r\n* NE-666 - Overdue by 9 days\0"
    made = render(message(kind, property_number=forged))

    assert "\r" not in made.text
    assert "\0" not in made.text + made.html
    assert not [
        line for line in made.text.splitlines() if line.startswith(("OVERDUE (99)", "* NE-666"))
    ]


def test_nothing_is_loaded_for_a_mail_and_no_template_code_runs_in_a_name() -> None:
    name = '<link rel="stylesheet" href="missing.css"><style>@import "x"</style>{{ 7 * 7 }}'
    made = render(message(Kind.SITE_LEAD, property_number=name))

    assert "49" not in made.html
    assert "<link" not in made.html


@pytest.mark.parametrize("kind", Kind)
def test_a_page_can_be_read_aloud_and_without_pictures(kind: Kind) -> None:
    """Language, title, headings in order, captions and scopes: WCAG 2.2 3.1.1, 2.4.2, 1.3.1."""
    page = _Page(render(message(kind)).html)
    names = [tag for tag, _ in page.tags]

    assert ("html", {"lang": "en"}) in page.tags
    assert names.count("title") == names.count("h1") == 1
    assert "img" not in names
    assert "script" not in names
    assert names.count("caption") == names.count("table")
    assert ("table" in names) is (kind in WITH_UNITS)
    assert {attributes.get("scope") for tag, attributes in page.tags if tag == "th"} <= {
        "col",
        "row",
        "rowgroup",
    }
    levels = [int(tag[1]) for tag in names if re.fullmatch(r"h[1-6]", tag)]
    assert levels[0] == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))


@pytest.mark.parametrize("kind", DIGESTS)
def test_state_is_told_in_words_and_the_styles_survive_inlining(kind: Kind) -> None:
    html = render(message(kind)).html

    assert "Overdue by 40 days" in html
    assert "Due by Thu 19 Nov 2026" in html
    assert 'class="late" style="color: #a1260d' in html
    assert "@media (prefers-color-scheme: dark)" in html
    # HTML 4.2.5.4: the encoding is declared within the first 1024 bytes.
    assert b'<meta charset="utf-8">' in html.encode()[:1024]


@pytest.mark.parametrize("kind", Kind)
def test_text_is_readable_at_72_columns_and_says_what_the_html_says(kind: Kind) -> None:
    made = render(message(kind))
    said = re.sub(r"\W+", " ", made.text).casefold()

    assert max(map(len, made.text.splitlines())) <= COLUMNS == 72
    page = _Page(made.html)
    headings = {"unit and task", "unit and site", "how it stands", "site", "county"}
    headings |= {
        "annual service",
        "charts and other work",
        "month and region",
        "services",
        "fees",
        "unit",
        "its chart",
        "what to do",
        "task",
    }
    for words in page.words:
        plain = re.sub(r"\W+", " ", words).strip().casefold()
        if plain and plain not in headings:
            assert plain in said, words


@pytest.mark.parametrize("kind", Kind)
def test_it_says_why_it_comes_and_how_to_change_that(kind: Kind) -> None:
    made = render(message(kind))

    for part in (made.text, re.sub(r"<[^>]+>", "", made.html)):
        assert "You get this because you " in part
        assert _HOW_TO_CHANGE.get(kind, "To change who gets it") in part


def test_a_site_lead_s_digest_defers_to_manual_officer_and_local_rules() -> None:
    made = render(message(Kind.SITE_LEAD))

    told = "Read all cautions of a task before the work; dueward why shows them."
    last = "manual, your safety officer and local rules come first."
    said = re.sub(r"\s+", " ", made.text)
    assert f"{told} The manufacturer's {last}" in said
    assert f"{told} The manufacturer’s {last}" in re.sub(r"<[^>]+>", "", made.html)
    assert "chart" not in said.partition(told)[2]


def test_a_caution_stands_in_text_and_html_beside_its_task() -> None:
    made = render(message(Kind.SITE_LEAD))
    row = re.search(r"<tr><td [^>]*colspan=.2.[^>]*>(.*?)</td></tr>", made.html)

    assert row is not None
    told = "Caution: Unplug first. Gloves & goggles on. More: dueward why NE-1 annual-service"
    assert re.sub(r"<[^>]+>", "", row[1]).replace("&amp;", "&") == told
    assert told in re.sub(r"\s+", " ", made.text)


@pytest.mark.parametrize("kind", DIGESTS)
def test_all_clear_says_so_in_subject_text_and_html(kind: Kind) -> None:
    clear = {
        Kind.SITE_LEAD: lambda: digests.site_lead(lead_facts(on=FIRST_MONDAY)),
        Kind.CONSULTANT: lambda: digests.consultant(region_facts(on=FIRST_MONDAY)),
        Kind.MANAGER: lambda: digests.manager(program_facts(on=FIRST_MONDAY)),
    }[kind]()
    assert isinstance(clear, Message)
    made = render(clear)

    assert made.is_all_clear
    assert made.subject.startswith("All clear: ")
    assert "All clear. N" in made.text
    assert "<strong>All clear.</strong>" in made.html


def _luminance(colour: str) -> float:
    """Relative luminance (WCAG 2.2, definition of the term)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


@pytest.mark.parametrize("is_dark", [False, True])
def test_every_text_colour_stands_out_from_every_ground(is_dark: bool) -> None:
    """WCAG 2.2 1.4.3: a contrast of 4.5 to 1 at least."""
    light, dark = (TEMPLATES / "_base" / "style.css").read_text().split("@media", 1)
    style = dark if is_dark else light
    inks = re.findall(r"(?<![-\w])color: (#\w{6})", style)
    grounds = re.findall(r"background: (#\w{6})", style)

    assert len(inks) >= 5
    assert len(grounds) == 4
    for ink in inks:
        for ground in grounds:
            low, high = sorted((_luminance(ink), _luminance(ground)))
            assert (high + 0.05) / (low + 0.05) >= 4.5, (ink, ground)


def test_a_property_number_is_never_cut_in_two() -> None:
    long = "NE-" + "0123456789-" * 9

    assert long in render(message(Kind.SITE_LEAD, property_number=long)).text
