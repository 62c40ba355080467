"""Which pages are opened to be checked for being hard to use, by whom, and what do they show?"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final
from urllib.parse import urlsplit

from flask import Flask, template_rendered
from werkzeug.routing import Map, Rule

from fleet.web.app import routes
from fleet.web.routes import Route
from tests.fleet.web.lab import Browser, Lab
from tests.fleet.web.served_lab import as_word, cookies_of
from tests.web.page_checks import everything, in_every_mode

if TYPE_CHECKING:
    from jinja2 import Template
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page, Request

__all__ = [
    "PAGES",
    "PLAN_PAGES",
    "Row",
    "Served",
    "Step",
    "endpoint_of",
    "faults_behind",
    "faults_of_row",
]


@dataclass(frozen=True)
class Row:
    """A page that is opened by its address: who asks, and what it is to be."""

    word: str
    path: str
    template: str
    status: int = 200


@dataclass(frozen=True)
class Served:
    """A lab behind a server."""

    lab: Lab
    address: str
    places: Mapping[str, str]
    """Paths that are known only once they were made, by a word for each."""

    def client(self, word: str) -> Browser:
        """A client of somebody."""
        return as_word(self.lab, word)


@dataclass(frozen=True)
class Step:
    """A page behind steps: what leads there, what it shows, and the endpoint that answers."""

    story: Callable[[Page, Served], None]
    template: str
    ends_at: str
    word: str = "nobody"


PAGES: Final = (
    Row("nobody", "/sign-in", "sign_in.html"),
    Row("nobody", "/sign-in/forgotten", "forgotten.html"),
    Row("nobody", "/bench/enrol", "enrol.html"),
    Row("nobody", "/no-such-page", "refusal.html", 404),
    Row("nobody", "/l/made-up", "refusal.html", 410),
    Row("site lead", "/region", "refusal.html", 403),
    Row("site lead", "/account", "account.html"),
    Row("site lead", "/account/second-factor", "factor.html"),
    Row("site lead", "/account/tokens", "account_tokens.html"),
    Row("site lead", "/api", "api.html"),
    Row("bench", "/bench/alder", "bench.html"),
    Row("bench", "/bench/alder/units/A-1/broken", "broken.html"),
    Row("site lead", "/sites/alder", "site.html"),
    Row("manager", "/sites/birch", "site.html"),
    Row("consultant", "/region", "region.html"),
    Row("manager", "/region?region=South", "region.html"),
    Row("consultant", "/sites/alder/months/2026-02", "month.html"),
    Row("site lead", "/scans", "scans.html"),
    Row("manager", "/people", "people.html"),
    Row("manager", "/program", "program.html"),
    Row("manager", "/program/plans/new", "plan_new.html"),
    Row("consultant", "/links", "links.html"),
    Row("consultant", "/jobs", "jobs.html"),
    Row("consultant", "/people?find=nobody", "people.html"),
    Row("manager", "/setup", "setup.html"),
    Row("consultant", "/setup/sites", "setup_sites.html"),
    Row("manager", "/setup/sites/alder", "setup_site.html"),
    Row("consultant", "/setup/sites/alder/holidays/2026", "setup_holidays.html"),
    Row("manager", "/setup/new-site", "setup_new_site.html"),
    Row("consultant", "/setup/units", "setup_units.html"),
    Row("manager", "/setup/people/lead@alder.example", "setup_person.html"),
    Row("manager", "/setup/new-person", "setup_new_person.html"),
    Row("consultant", "/setup/book", "setup_book.html"),
    Row("consultant", "/setup/book/microscope", "setup_kind.html"),
    Row("manager", "/setup/import", "setup_import.html"),
    Row("consultant", "/setup/outbox", "setup_outbox.html"),
    Row("manager", "/setup/webhooks", "setup_webhooks.html"),
    Row("manager", "/setup/access", "setup_access.html"),
    Row("consultant", "/units/A-1", "unit.html"),
    Row("consultant", "/units/A-1/why/annual-service", "why.html"),
    Row("consultant", "/units/A-1/acts", "unit_acts.html"),
    Row("consultant", "/sites/alder/issue", "issue.html"),
    Row("consultant", "/units/A-1/charts/2026", "unit_chart.html"),
)
PLAN_PAGES: Final = (
    Row("manager", "/program", "program.html"),
    Row("manager", "/program/plans/P-0001", "plan.html"),
    Row("manager", "/program/compare?before=P-0001&after=P-0001", "plan_compare.html"),
    Row("manager", "tried", "job.html"),
    Row("manager", "anew", "job.html"),
    Row("manager", "failed", "job.html"),
)
"""Pages of a fleet for which a plan was kept; those without a slash are jobs, by how they ended."""


def endpoint_of(path: str, method: str, known: Iterable[Route] | None = None) -> str | None:
    """Which page answers at an address; None where none does."""
    chosen = routes().values() if known is None else known
    rules = [Rule(one.rule, endpoint=one.name, methods=one.methods) for one in chosen]
    adapter = Map(rules).bind("pages.example")
    if not adapter.test(path.partition("?")[0], method):
        return None
    return str(adapter.match(path.partition("?")[0], method)[0])


@contextmanager
def _rendered() -> Iterator[list[str]]:
    """The templates of the pages that are rendered meanwhile by this process, in their order."""
    names: list[str] = []

    def note(_sender: Flask, template: Template, **_more: Any) -> None:
        names.append(template.name or "")

    with template_rendered.connected_to(note):
        yield names


def faults_of_row(row: Row, served: Served, chromium: Chromium) -> list[str]:
    """What is wrong with a page that is opened by its address, in every mode."""
    path = served.places.get(row.path, row.path)
    cookies = cookies_of(served.client(row.word))
    with _rendered() as names:
        faults = everything(f"{served.address}{path}", chromium, cookies=cookies, status=row.status)
    return faults + [f"it shows {name}, not {row.template}" for name in {*names} - {row.template}]


def faults_behind(step: Step, served: Served, chromium: Chromium) -> list[str]:
    """What is wrong with a page behind steps, in every mode."""

    def visit(page: Page) -> list[str]:
        methods: list[str] = []

        def note(request: Request) -> None:
            if request.is_navigation_request():
                methods.append(request.method)

        page.on("request", note)
        with _rendered() as names:
            step.story(page, served)
        ends_at = endpoint_of(urlsplit(page.url).path, methods[-1])
        faults = []
        if names[-1:] != [step.template]:
            faults.append(f"the steps lead to {names[-1:]}, not to {step.template}")
        if ends_at != step.ends_at:
            faults.append(f"the steps end at {ends_at}, not at {step.ends_at}")
        return faults

    return in_every_mode(visit, chromium, cookies=cookies_of(served.client(step.word)))
