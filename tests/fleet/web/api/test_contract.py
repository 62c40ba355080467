"""Do the answers hold what openapi.json promises, also to what nobody would think of sending?

schemathesis makes the requests out of the document, good ones and bad ones, with a fixed seed, and
runs each of its checks on each answer. Names and days are narrowed to those of the lab, so that
its good requests reach what is there, and its spans are none that are too long.
"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass, field, replace
from typing import Any, Final

import pytest
from flask import Flask
from hypothesis import strategies as st
from schemathesis import openapi
from schemathesis.config import SchemathesisConfig
from schemathesis.engine import from_schema
from schemathesis.engine.events import FatalError, NonFatalError, ScenarioFinished
from schemathesis.python import wsgi
from werkzeug import Client

from fleet.domain.records import Person, Role
from fleet.services.access.meter import Meter
from fleet.services.setup.people import give_role
from fleet.web.api.document import document
from fleet.web.app import make_app
from tests.fleet.web.api.asker import Asker, as_program
from tests.fleet.web.api.test_door import MARK
from tests.fleet.web.lab import PEOPLE, Lab

_EXAMPLES: Final = 4
_UNITS, _TASKS = ["A-1", "A-3", "B-1", "none"], ["optics", "temperature", "annual-service", "none"]
_KNOWN: Final = {"site": "alder", "number": "A-1", "key": MARK["key"]}
_DAYS: Final = ["2026-03-02", "2026-03-03", "2026-03-09"]
_FIRST, _LAST = ["2026-02-01", "2026-02-20"], ["2026-03-03", "2026-03-20"]
_FIRST_MONTH, _LAST_MONTH = ["2025-11", "2026-01"], ["2026-01", "2026-02"]


_OF_NETWORKS: Final = frozenset({"max_redirects", "verify", "cert", "proxies"})


class _TolerantClient(Client):
    """The check of tokens that are left out sends on what a call over the network takes."""

    def open(self, *args: Any, **kwargs: Any) -> Any:
        known = {name: value for name, value in kwargs.items() if name not in _OF_NETWORKS}
        return super().open(*args, **known)


@dataclass
class Run:
    """What came of all the requests."""

    checks: Counter[str] = field(default_factory=Counter)
    operations: Counter[str] = field(default_factory=Counter)
    statuses: Counter[int] = field(default_factory=Counter)
    done: set[str] = field(default_factory=set)
    """The operations that answered a request with what it asked for."""
    faults: list[str] = field(default_factory=list)


def narrowed(found: dict[str, Any]) -> dict[str, Any]:
    """The document with names and days that the lab knows, and some that it does not."""
    parts = found["components"]
    for name in ("Mark", "Report"):
        fields = parts["schemas"][name]["properties"]
        fields["property_number"]["enum"], fields["task"]["enum"] = _UNITS, _TASKS
        fields["on"]["enum"] = _DAYS
    parts["parameters"]["site"]["schema"]["enum"] = ["alder", "birch", "none"]
    for path, methods in found["paths"].items():
        is_month = path.endswith("/reviews")
        for parameter in (p for told in methods.values() for p in told.get("parameters", ())):
            if parameter.get("in") == "path":
                parameter["schema"]["enum"] = [_KNOWN[parameter["name"]], "none"]
        spans = {
            "from": _FIRST_MONTH if is_month else _FIRST,
            "to": _LAST_MONTH if is_month else _LAST,
        }
        for parameter in methods.get("get", {}).get("parameters", ()):
            if parameter.get("name") in spans:
                parameter["schema"]["enum"] = spans[parameter["name"]]
    return found


def run(app: Flask, found: dict[str, Any], token: str, examples: int = _EXAMPLES) -> Run:
    """Every phase but the one that needs links between operations."""
    days = st.dates(dt.date(1950, 1, 1), dt.date(2099, 12, 31))
    openapi.format("date", days.map(str))
    openapi.format("year-month", days.map(lambda day: f"{day:%Y-%m}"))
    openapi.format("certificate", st.just(""))
    config = SchemathesisConfig.from_dict(
        {
            "seed": 7,
            "workers": 1,
            "continue-on-failure": True,
            "headers": {"Authorization": f"Bearer {token}", "Accept-Encoding": "identity"},
            "generation": {
                "deterministic": True,
                "max-examples": examples,
                "no-shrink": True,
                "database": "none",
            },
            "phases": {"stateful": {"enabled": False}},
        }
    )
    schema = openapi.from_dict(found, config=config)
    schema.app = app
    made = Run()
    for event in from_schema(schema).execute():
        if isinstance(event, NonFatalError):
            made.faults.append(f"{event.label}: {event.value!r}")
        elif isinstance(event, FatalError):
            raise event.exception
        elif isinstance(event, ScenarioFinished):
            _count(made, event)
    return made


def _count(made: Run, event: ScenarioFinished) -> None:
    for some in event.recorder.checks.values():
        for check in some:
            made.checks[check.name] += 1
            if check.failure_info is not None:
                told = f"{check.name}: {check.failure_info.failure}"
                made.faults.append(f"{event.label}: {told}\n{check.failure_info.code_sample}")
    for interaction in event.recorder.interactions.values():
        made.operations[event.label or ""] += 1
        if interaction.response is not None:
            made.statuses[interaction.response.status_code] += 1
            if interaction.response.status_code < 300:
                made.done.add(event.label or "")


@pytest.fixture
def app(lab: Lab, monkeypatch: pytest.MonkeyPatch) -> Flask:
    """The pages, to which a program may send as much as it likes."""
    monkeypatch.setattr(wsgi, "get_client", _TolerantClient)
    names = lab.web.names | {"localhost"}  # under which schemathesis asks
    return make_app(replace(lab.web, meter=Meter(10**9), names=names))


def token_for_everything(lab: Lab) -> str:
    """Of a consultant who is a manager too, so that no operation is kept from it."""
    manager = Person(email=PEOPLE[Role.CONSULTANT], name="", role=Role.MANAGER)
    with lab.program.store.begin(write=True) as record:
        give_role(record, lab.program.public_holidays, manager, lab.program.stamp("command"))
        record.commit()
    return as_program(lab, Role.CONSULTANT).token


def test_every_answer_is_as_the_document_says(lab: Lab, app: Flask) -> None:
    token = token_for_everything(lab)
    Asker(app.test_client(), token).post("/api/v1/marks", MARK)
    made = run(app, narrowed(document()), token)

    assert not made.faults, f"{len(made.faults)} faults; the first:\n" + "\n".join(made.faults[:3])
    told = {f"{m.upper()} {p}" for p, some in document()["paths"].items() for m in some}
    assert made.operations.keys() == told
    assert made.done == told
    assert {200, 201, 400, 401, 404, 405, 409, 415} <= made.statuses.keys()
    assert {
        "content_type_conformance",
        "ignored_auth",
        "negative_data_rejection",
        "not_a_server_error",
        "positive_data_acceptance",
        "response_headers_conformance",
        "response_schema_conformance",
        "status_code_conformance",
        "unsupported_method",
    } <= made.checks.keys()
    assert sum(made.operations.values()) > 500


def test_a_bound_that_is_told_wrongly_is_found(lab: Lab, app: Flask) -> None:
    """What the first test is worth: a document that promises more rows than are given."""
    found = narrowed(document())
    found["components"]["parameters"]["limit"]["schema"]["maximum"] = 501
    found["paths"] = {"/api/v1/sites": found["paths"]["/api/v1/sites"]}
    made = run(app, found, as_program(lab, Role.CONSULTANT).token, 1)
    assert any("positive_data_acceptance" in fault and "501" in fault for fault in made.faults)


def test_a_field_that_is_told_and_not_given_is_found(lab: Lab, app: Flask) -> None:
    found = narrowed(document())
    found["components"]["schemas"]["Site"]["required"].append("colour")
    found["paths"] = {"/api/v1/sites": found["paths"]["/api/v1/sites"]}
    made = run(app, found, as_program(lab, Role.CONSULTANT).token, 1)
    assert any("response_schema_conformance" in fault for fault in made.faults)
