"""Is openapi.json about this program: its routes, its words, its page, and nothing besides?"""

from __future__ import annotations

import re
import subprocess
import sys
from collections.abc import Iterator
from enum import StrEnum

import pytest

from fleet.domain.records import Mark, Role
from fleet.domain.visits import VisitState
from fleet.services.action_rows import STATES as ACTION_STATES
from fleet.services.findings import FINDINGS
from fleet.web.api.document import document
from fleet.web.api.problems import SORTS
from fleet.web.app import routes
from schedules.rules import Basis
from schedules.units import STATES
from schedules.visits.model import Grade
from tests.fleet.web.api.asker import as_program
from tests.fleet.web.lab import HOST, Lab


def told() -> set[tuple[str, str]]:
    return {
        (method.upper(), path)
        for path, methods in document()["paths"].items()
        for method in methods
    }


def test_every_route_is_told_and_every_told_one_is_a_route() -> None:
    known = {
        (method, re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", route.rule))
        for route in routes().values()
        if route.is_api
        for method in route.methods
    }
    assert told() == known


def test_what_needs_no_token_is_told_so() -> None:
    for route in routes().values():
        if route.is_api:
            path = re.sub(r"<(?:\w+:)?(\w+)>", r"{\1}", route.rule)
            operation = document()["paths"][path][route.methods[0].lower()]
            is_open = operation.get("security") == []
            assert is_open == (route.who is None), path
            assert ("401" in operation["responses"]) != is_open, path


def enums(found: object) -> Iterator[list[object]]:
    if isinstance(found, dict):
        if isinstance(found.get("enum"), list):
            yield found["enum"]
        for one in found.values():
            yield from enums(one)
    elif isinstance(found, list):
        for one in found:
            yield from enums(one)


def values(words: type[StrEnum]) -> list[object]:
    return [word.value for word in words]


def test_the_words_are_those_of_the_program() -> None:
    """A word that is added to the program has to be told."""
    known: list[list[object]] = [
        list(STATES),
        list(FINDINGS),
        list(ACTION_STATES),
        values(VisitState),
        values(Grade),
        values(Basis),
        [*values(Mark), None],
        ["done", "unused", "explained"],
        ["to review", "signed", "reopened"],
        ["yes", "no", None],
        [f"/api#{word}" for word in SORTS],
    ]
    for words in enums(document()):
        assert any(set(words) == set(one) for one in known), words


def test_the_document_is_given_to_everybody_and_as_it_stands(lab: Lab) -> None:
    client = lab.app.test_client()
    answer = client.get("/api/openapi.json", base_url=HOST)
    assert (answer.status_code, answer.mimetype) == (200, "application/json")
    assert answer.get_json() == document()
    assert answer.get_json()["openapi"] == "3.1.0"
    assert client.get("/api/openapi.json?x=1", base_url=HOST).status_code == 400
    again = client.get(
        "/api/openapi.json", base_url=HOST, headers={"If-None-Match": answer.headers["ETag"]}
    )
    assert again.status_code == 304


@pytest.mark.parametrize("role", [Role.SITE_LEAD, Role.CONSULTANT, Role.MANAGER])
def test_the_page_tells_every_operation_and_every_sort_of_problem(lab: Lab, role: Role) -> None:
    page = lab.as_role(role).page("/api")
    for method, path in told():
        assert f"<code>{method} {path}</code>" in page
    for word, (status, title) in SORTS.items():
        assert f'id="{word}"' in page
        assert str(status) in page
        assert title in page
    assert 'href="/account/tokens"' in page
    assert 'href="/api"' in lab.as_role(role).page("/account/tokens")


def test_the_type_of_a_problem_is_a_place_on_the_page(lab: Lab) -> None:
    answer = as_program(lab, Role.SITE_LEAD).get("/api/v1/nope")
    kind = answer.get_json(force=True)["type"]
    page = lab.as_role(Role.SITE_LEAD).page(kind.partition("#")[0])
    assert f'id="{kind.partition("#")[2]}"' in page


def test_the_document_is_read_when_it_is_asked_for_and_not_before() -> None:
    words = (
        "import fleet.web.app as a; from fleet.web.api import document as d; a.routes();"
        "assert d._text.cache_info().currsize == 0; d.document();"
        "assert d._text.cache_info().currsize == 1"
    )
    subprocess.run([sys.executable, "-c", words], check=True)
