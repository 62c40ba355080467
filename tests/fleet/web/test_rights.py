"""Who may open which page, see which site, and change what: every page, every role, every id."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

from fleet.domain.records import Role
from fleet.storage import engines
from fleet.web.app import routes
from fleet.web.guard import COOKIE
from fleet.web.routes import Route
from tests.fleet.web.api.asker import Asker, as_program
from tests.fleet.web.lab import HOST, Browser, Lab

TABLE = Path(__file__).with_name("rights.csv")
IN_SCOPE = {
    "site": "alder",
    "number": "A-1",
    "month": "2026-02",
    "task": "optics",
    "year": "2026",
    "sha256": "0" * 64,
    "token": "made-up",
    "visit": "V-0001",
    "plan": "P-0001",
    "name": "packet.pdf",
    "email": "lead@alder.example",
    "kind": "microscope",
    "sheet": "made-up",
    "key": "6f1c1a54-9a43-4a53-8a0e-5b2c7d1f0d13",
}
ELSEWHERE = {
    "birch": {"site": "birch", "number": "B-1"},
    "cedar": {"site": "cedar", "number": "C-1"},
}
"""Ids of another region, and of another site of the consultant's region."""


def rights() -> dict[str, dict[str, str]]:
    lines = [line for line in TABLE.read_text(encoding="utf-8").splitlines() if line[:1] != "#"]
    return {row.pop("route"): row for row in csv.DictReader(lines)}


def path_of(route: Route, ids: dict[str, str]) -> str:
    """The address of a page, with ids in the places of its names."""
    return re.sub(r"<(?:\w+:)?(\w+)>", lambda found: ids[found[1]], route.rule)


@dataclass
class Seeker:
    """Somebody who opens pages with a browser, and asks with a program of theirs."""

    browser: Browser
    program: Asker


def asks(seeker: Seeker, route: Route, ids: dict[str, str] = IN_SCOPE) -> TestResponse:
    path, browser = path_of(route, ids), seeker.browser
    if route.is_api:
        is_question = route.methods == ("GET",)
        return seeker.program.get(path) if is_question else seeker.program.post(path, {})
    if route.methods == ("GET",):
        return browser.get(path)
    fields: dict[str, object] = {"property_number": ids["number"], "task": "optics"}
    return browser.post(path, fields)


def as_word(lab: Lab, word: str) -> Seeker:
    return Seeker(browser_of(lab, word), program_of(lab, word))


def browser_of(lab: Lab, word: str) -> Browser:
    if word == "nobody":
        return lab.browser()
    return lab.at_bench() if word == "bench" else lab.as_role(Role(word))


def program_of(lab: Lab, word: str) -> Asker:
    """A bench has no token; that of the word is of a person whose role it is."""
    if word == "nobody":
        return Asker(lab.app.test_client(), "")
    return as_program(lab, Role(word))


def verdict(answer: TestResponse) -> str:
    is_sent = answer.status_code == 302 and "/sign-in?" in answer.location
    if is_sent or answer.status_code == 401:
        return "in"
    return "no" if answer.status_code == 403 else "yes"


def test_every_page_has_a_row_and_every_row_a_page() -> None:
    assert sorted(rights()) == sorted(routes())


@pytest.mark.parametrize("word", ["nobody", "bench", *(r for r in Role if r != "bench")])
def test_each_role_opens_the_pages_of_its_row_and_no_other(lab: Lab, word: str) -> None:
    """ASVS 5.0.0, 8.1.1, 8.2.1."""
    known, program = routes(), program_of(lab, word)
    found = {}
    for name in rights():
        # An act may sign a browser out.
        found[name] = verdict(asks(Seeker(browser_of(lab, word), program), known[name]))
    assert found == {name: row[word] for name, row in rights().items()}


def scoped() -> Iterator[Route]:
    return (r for r in routes().values() if re.search(r"<(?:\w+:)?(site|number)>", r.rule))


@pytest.mark.parametrize(
    ("word", "elsewhere"),
    [("site lead", "birch"), ("site lead", "cedar"), ("consultant", "birch"), ("bench", "cedar")],
)
def test_an_id_of_another_site_is_not_there(lab: Lab, word: str, elsewhere: str) -> None:
    """ASVS 5.0.0, 8.2.2: 404 for reads and writes, and nothing is written."""
    program, before = program_of(lab, word), dump(lab)
    seen = 0
    for route in scoped():
        if rights()[route.name][word] != "yes":
            continue
        ids = IN_SCOPE | ELSEWHERE[elsewhere]
        seeker = Seeker(browser_of(lab, word), program)
        answer = asks(seeker, route, ids)
        assert answer.status_code in (400, 404), (route.name, answer.status_code)
        # What is wrong with the form itself may be told first; never that the site is there.
        own = asks(seeker, route, IN_SCOPE | {"site": "no-such", "number": "no-such"})
        assert answer.status_code == own.status_code, route.name
        seen += 1
    assert seen >= 6
    assert dump(lab) == before


def test_a_unit_of_another_site_cannot_be_marked_through_ones_own(lab: Lab) -> None:
    before = dump(lab)
    for fields in (
        {
            "property_number": "B-1",
            "task": "optics",
            "on": "2026-03-03",
            "mark": "done",
            "key": "k1",
        },
        {
            "property_number": "C-1",
            "task": "optics",
            "on": "2026-03-03",
            "mark": "done",
            "key": "k2",
        },
    ):
        answer = lab.at_bench().post("/bench/alder/mark", dict(fields))
        assert answer.status_code == 404
    lead = lab.as_role(Role.SITE_LEAD)
    answer = lead.post("/sites/alder/explain", {"gap": "B-1/optics/2026-02-26", "why": "flu"})
    assert answer.status_code == 400
    assert dump(lab) == before


def test_added_fields_change_nothing(lab: Lab) -> None:
    """ASVS 5.0.0, 8.2.3."""
    fields = {
        "property_number": "A-1",
        "task": "optics",
        "on": "2026-03-03",
        "mark": "done",
        "key": "key-1",
        "initials": "ZZ",
        "by": "account:somebody",
        "site": "birch",
        "role": "manager",
        "stored_at": "2020-01-01T00:00:00Z",
    }
    assert lab.at_bench().post("/bench/alder/mark", dict(fields)).status_code == 302
    with lab.program.store.begin() as record:
        stored = record.stored(["key-1"])["key-1"]
    assert stored.entry.initials == "GR"
    assert stored.by.startswith("device:")
    assert stored.by.endswith("/GR")
    assert stored.stored_at == lab.now[0]


def dump(lab: Lab) -> dict[str, list[str]]:
    """Every row of the database but those that say who is signed in, and what they tried."""
    engine = engines.make_engine(engines.parse_url(lab.program.settings.database))
    out = {}
    with engine.connect() as connection:
        names = connection.exec_driver_sql("SELECT name FROM sqlite_master WHERE type='table'")
        for (name,) in names.all():
            if name not in (
                "web_session",
                "bench_device",
                "bench_person",
                "account",
                "access_event",
                "api_token",
                "attempt",
            ):
                rows = connection.exec_driver_sql(f"SELECT * FROM {name}")  # noqa: S608
                out[name] = sorted(map(repr, rows.all()))
    engine.dispose()
    return out


@pytest.mark.parametrize("word", ["bench", "site lead", "consultant", "manager"])
def test_no_page_that_is_looked_at_writes(lab: Lab, word: str) -> None:
    """ASVS 5.0.0, 3.5.3."""
    seeker, before = as_word(lab, word), dump(lab)
    for route in routes().values():
        if route.methods == ("GET",):
            asks(seeker, route)
    assert dump(lab) == before


def test_every_act_needs_a_token_of_the_browser_and_a_page_of_ours(lab: Lab) -> None:
    """ASVS 5.0.0, 3.5.1."""
    other = lab.as_role(Role.MANAGER)
    stranger = other.client.get_cookie(COOKIE, domain="pages.example")
    assert stranger is not None
    pages = [route for route in routes().values() if not route.is_api]
    before, acts = dump(lab), [r for r in pages if r.methods == ("POST",)]
    assert len(acts) > 10
    for route in acts:
        browser = lab.as_role(Role.SITE_LEAD)
        path = path_of(route, IN_SCOPE)
        for fields in ({}, {"form_token": ""}, {"form_token": "made-up"}, {"form_token": "A" * 43}):
            answer = browser.client.post(path, base_url=HOST, data=fields)
            assert answer.status_code == 400, (route.name, fields)
        for headers in (
            {"Sec-Fetch-Site": "cross-site"},
            {"Sec-Fetch-Site": "same-site"},
            {"Origin": "https://evil.example"},
            {"Origin": "http://pages.example:81"},
        ):
            assert browser.post(path, {}, headers=headers).status_code == 400, (route.name, headers)
            if route.takes_json:
                sent = browser.client.post(path, base_url=HOST, json={}, headers=headers)
                assert sent.status_code == 400, (route.name, headers)
    assert dump(lab) == before


@pytest.mark.parametrize("word", ["bench", "site lead", "consultant", "manager"])
def test_no_browser_opens_what_is_for_programs(lab: Lab, word: str) -> None:
    """Whatever page of another site sends it there, with all its cookies."""
    browser, before = as_word(lab, word).browser, dump(lab)
    asked = [route for route in routes().values() if route.is_api and route.who is not None]
    assert len(asked) > 10
    for route in asked:
        path = path_of(route, IN_SCOPE)
        for headers in ({}, {"Origin": HOST}, {"Origin": "https://evil.example"}):
            if route.methods == ("GET",):
                answer = browser.get(path, headers=headers)
            else:
                answer = browser.client.post(path, base_url=HOST, json={}, headers=headers)
            assert answer.status_code == 401, (route.name, headers)
            assert answer.mimetype == "application/problem+json"
    assert dump(lab) == before


def test_no_token_opens_a_page(lab: Lab) -> None:
    program = as_program(lab, Role.MANAGER)
    pages = [r for r in routes().values() if not r.is_api and r.who and r.methods == ("GET",)]
    assert len(pages) > 10
    for route in pages:
        answer = program.get(path_of(route, IN_SCOPE))
        assert verdict(answer) == "in", route.name


def test_a_token_of_another_browser_fits_no_form(lab: Lab) -> None:
    one, other = lab.as_role(Role.SITE_LEAD), lab.as_role(Role.SITE_LEAD)
    found = re.search(r'name="form_token" value="([^"]+)"', other.page("/account"))
    assert found is not None
    sent = {"form_token": found[1]}
    assert one.client.post("/sign-out", base_url=HOST, data=sent).status_code == 400
    assert other.client.post("/sign-out", base_url=HOST, data=sent).status_code == 302


def test_headers_that_hold_a_browser_back_are_on_every_answer(lab: Lab) -> None:
    """ASVS 5.0.0, 3.4.3 to 3.4.6: errors and files too."""
    browser = lab.as_role(Role.SITE_LEAD)
    paths = [path_of(r, IN_SCOPE) for r in routes().values() if r.methods == ("GET",)]
    paths += [
        "/no-such-page",
        "/static/none.css",
        "/worker.js",
        "/sites/birch",
        "/sites/alder?x=%00",
    ]
    for path in paths:
        headers = browser.get(path).headers
        policy = headers["Content-Security-Policy"]
        assert "unsafe" not in policy, path
        for part in ("default-src 'none'", "frame-ancestors 'none'", "base-uri 'none'"):
            assert part in policy or path.endswith("0" * 64), path
        assert headers["X-Content-Type-Options"] == "nosniff", path
        assert headers["Referrer-Policy"] in ("same-origin", "no-referrer"), path
        assert "Server" not in headers
        assert "Strict-Transport-Security" not in headers, "not behind TLS"


def test_errors_tell_no_trace(lab: Lab, monkeypatch: pytest.MonkeyPatch) -> None:
    """ASVS 5.0.0, 16.5.1."""

    def breaks(*_: object) -> None:
        raise RuntimeError("SELECT secret FROM /var/lib")

    monkeypatch.setattr(type(lab.web.board), "view", breaks)
    answer = lab.as_role(Role.SITE_LEAD).get("/sites/alder")
    assert answer.status_code == 500
    assert "Something went wrong" in answer.text
    for word in ("RuntimeError", "SELECT", "/var/lib", "Traceback", ".py"):
        assert word not in answer.text
