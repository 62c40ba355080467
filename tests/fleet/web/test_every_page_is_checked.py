"""Is there a page that no test opens to see whether it is hard to use? It is named here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from importlib import resources

from fleet.web.api.door import is_for_programs
from fleet.web.app import routes
from fleet.web.routes import Route
from tests.fleet.web import (
    test_scans_in_a_browser,
    test_setup_in_a_browser,
    test_steps_in_a_browser,
)
from tests.fleet.web.page_rows import PAGES, PLAN_PAGES, endpoint_of

STEPS = (
    *test_scans_in_a_browser.STEPS,
    *test_setup_in_a_browser.STEPS,
    *test_steps_in_a_browser.STEPS,
)
NO_PAGE = {
    "home.home": "leads on to somebody's own page",
    "bench.bench": "leads on to a site's bench",
    "units.certificate": "a file",
    "jobs.made": "a file",
    "scan_sheet.pictures": "a picture",
    "scan_sheet.picture": "a picture",
    "packet_page.packet_file": "a file",
    "calendars.calendar": "a calendar for other programs",
}
"""What is asked for by GET and answers no page."""


def unchecked(known: Iterable[Route]) -> set[str]:
    """Pages that no row and no step opens."""
    pages = {
        route.name: route
        for route in known
        if route.methods == ("GET",) and not is_for_programs(route.rule)
    }
    rows = (row for row in (*PAGES, *PLAN_PAGES) if row.path.startswith("/"))
    opened = {endpoint_of(row.path, "GET", pages.values()) for row in rows}
    return pages.keys() - opened - {step.ends_at for step in STEPS} - NO_PAGE.keys()


def test_every_page_is_opened_and_checked_in_every_mode() -> None:
    """The tables say what the browser's tests open, and those hold each line of them."""
    assert unchecked(routes().values()) == set()


def test_a_page_that_is_new_is_missed() -> None:
    new = replace(routes()["region.region"], rule="/news", name="news.news")
    assert unchecked([*routes().values(), new]) == {"news.news"}


def test_what_is_said_to_be_no_page_is_asked_for() -> None:
    assert NO_PAGE.keys() <= routes().keys()


def test_every_template_of_a_page_is_seen() -> None:
    folder = resources.files("fleet.web") / "templates"
    texts = {file.name: file.read_text(encoding="utf-8") for file in folder.iterdir()}
    pages = {name for name, text in texts.items() if "{% extends 'base.html' %}" in text}
    seen = {one.template for one in (*PAGES, *PLAN_PAGES, *STEPS)}
    assert pages - seen == set()
