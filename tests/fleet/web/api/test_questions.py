"""Do programs get what the pages show: the same rows, of the same sites, a part at a time?"""

from __future__ import annotations

import datetime as dt
from dataclasses import fields
from typing import Any

import pytest
from jsonschema_rs import Draft202012Validator

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.evidence import Action, ServiceReport
from fleet.domain.records import Closure, Outage, Person, Placement, Role
from fleet.domain.register import Change
from fleet.domain.visits import SiteVisit, VisitState
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.questions import Narrow, Question
from fleet.services.reviews import ReviewRow
from fleet.web.api.document import document
from schedules.visits.model import Grade
from tests.fleet.web.api.asker import Asker, as_program, token_of
from tests.fleet.web.lab import Lab

ROLES = [Role.BENCH, Role.SITE_LEAD, Role.CONSULTANT, Role.MANAGER]
ACTION = Action(
    number="A-1/2026-03-02/1",
    site="alder",
    property_number="A-1",
    task="optics",
    opened_on=dt.date(2026, 3, 2),
    problem="a scratch on the lens",
)
OUTAGE = Outage(
    property_number="A-2", from_on=dt.date(2026, 3, 2), to_on=None, reason="lamp is broken"
)
MOVE = Placement(property_number="C-1", site="alder", from_on=dt.date(2026, 3, 1))
REPORT = ServiceReport(
    property_number="A-1",
    task="annual-service",
    on=dt.date(2025, 1, 3),
    vendor="Ovandel",
    technician="Val Vendrick",
    findings="<b>clean</b>",
)
CLOSURE = Closure(
    site="alder", from_on=dt.date(2026, 3, 5), to_on=dt.date(2026, 3, 5), reason="training"
)


def visit(number: str, site: str, unit: str, grade: Grade, **more: Any) -> SiteVisit:
    day = dt.date(2026, 3, 20)
    kept = {
        "plan": "P-0001",
        "technician": "Val Vendrick",
        "vendor": "Ovandel",
        "trip_on": day,
        "on": day,
        "to_on": day,
        "from_at": "09:00",
        "to_at": "10:00",
        "needs": f'["{unit}/annual-service/2026-03-25"]',
    }
    return SiteVisit(number=number, site=site, grade=grade, **{**kept, **more})


VISITS = (
    visit("V-0001", "alder", "A-1", Grade.CONFIRMED),
    visit("V-0002", "alder", "A-2", Grade.FREE),
    visit("V-0003", "cedar", "C-1", Grade.ANNOUNCED, state=VisitState.CANCELLED, reason="snow"),
    visit("V-0004", "birch", "B-1", Grade.FREE),
)


@pytest.fixture
def full(lab: Lab) -> Lab:
    """The small state with something of everything."""
    kept = (ACTION, OUTAGE, MOVE, REPORT, CLOSURE, *VISITS)
    with lab.program.store.begin(write=True) as record:
        changes = [Change(old=None, new=one, initial=False) for one in kept]
        record.change(changes, lab.program.stamp("command"))
        record.commit()
    return lab


def lists() -> list[str]:
    """The addresses of lists."""
    return [
        path
        for path, told in document()["paths"].items()
        if {"$ref": "#/components/parameters/limit"} in told.get("get", {}).get("parameters", ())
    ]


def faults(path: str, told: object) -> list[str]:
    """What an answer has that the document does not say, or lacks."""
    found = document()
    schema = found["paths"][path]["get"]["responses"]["200"]["content"]["application/json"][
        "schema"
    ]
    judge = Draft202012Validator(
        {**schema, "components": found["components"]}, validate_formats=True
    )
    return [error.message for error in judge.iter_errors(told)]


@pytest.mark.parametrize("role", ROLES)
def test_answers_have_the_fields_that_are_told_and_no_others(full: Lab, role: Role) -> None:
    program, seen = as_program(full, role), 0
    for path in document()["paths"]:
        if "get" not in document()["paths"][path]:
            continue
        answer = program.get(path.format(site="alder", number="A-1"))
        if answer.status_code == 200:
            assert faults(path, answer.get_json()) == [], path
            seen += 1
        else:
            assert answer.status_code == 403, path
    assert seen >= 5


def test_something_of_everything_is_answered(full: Lab) -> None:
    """Else the test before would look at empty lists."""
    program = as_program(full, Role.MANAGER)
    for path in lists():
        assert program.rows(path), path


def test_a_field_that_is_not_told_is_a_fault() -> None:
    told = {"items": [], "total": 0, "limit": 1, "offset": 0}
    assert faults("/api/v1/sites", told) == []
    assert faults("/api/v1/sites", {**told, "more": 1}) != []
    assert faults("/api/v1/sites", {**told, "items": [{"site": "alder"}]}) != []


@pytest.mark.parametrize("role", ROLES)
def test_no_list_tells_of_another_site(full: Lab, role: Role) -> None:
    seen = {
        Role.BENCH: {"alder"},
        Role.SITE_LEAD: {"alder"},
        Role.CONSULTANT: {"alder", "cedar"},
        Role.MANAGER: {"alder", "birch", "cedar"},
    }[role]
    program = as_program(full, role)
    for path in lists():
        answer = program.get(path)
        if answer.status_code == 200 and path != "/api/v1/vendor-months":
            rows = answer.get_json()["items"]
            told = {name for row in rows for name in row.get("sites", [row.get("site")])}
            assert told <= seen, path


@pytest.mark.parametrize("word", ["birch", "no-such", "ALDER"])
@pytest.mark.parametrize("path", ["units", "duties", "gaps", "reviews", "visits", "actions"])
def test_a_list_of_another_site_is_not_there(lab: Lab, path: str, word: str) -> None:
    """The same answer, whether there is such a site or not."""
    program = as_program(lab, Role.CONSULTANT)
    answer, other = (program.get(f"/api/v1/{path}?site={name}") for name in (word, "nothing"))
    assert answer.status_code == 404
    assert answer.get_json(force=True) == other.get_json(force=True)
    assert program.get(f"/api/v1/{path}?site=cedar").status_code == 200


@pytest.mark.parametrize("number", ["B-1", "no-such", "B-1/x"])
def test_a_unit_of_another_site_is_not_there_in_the_same_words(lab: Lab, number: str) -> None:
    program = as_program(lab, Role.CONSULTANT)
    answer, other = (program.get(f"/api/v1/units/{name}") for name in (number, "nothing"))
    assert answer.status_code == 404
    assert answer.get_json(force=True) == other.get_json(force=True)


def test_who_has_a_role_and_no_site_sees_nothing(full: Lab) -> None:
    """To be narrowed to no site must not be to be not narrowed at all."""
    email = "empty@bench.example"
    nobody = Person(email=email, name="", role=Role.CONSULTANT, region="Nowhere")
    with full.program.store.begin(write=True) as record:
        change = Change(old=None, new=nobody, initial=False)
        record.change([change], full.program.stamp("command"))
        record.commit()
    program = Asker(full.app.test_client(), token_of(full, email))
    for path in lists():
        if path != "/api/v1/vendor-months":
            assert program.rows(path) == [], path


def test_duties_are_the_rows_of_due(full: Lab) -> None:
    rows = as_program(full, Role.CONSULTANT).rows("/api/v1/duties")
    narrow = Narrow(sites=("alder", "cedar"))
    with full.program.store.begin() as record:
        asked = Question(now=full.now[0], narrow=narrow)
        wanted = due_rows(record, full.program.public_holidays, asked).rows
    assert rows == [plain(row._asdict()) for row in wanted]
    assert list(rows[0]) == list(StatusRow._fields), "the columns of design 6"


def test_gaps_are_the_rows_of_gaps(full: Lab) -> None:
    program = as_program(full, Role.CONSULTANT)
    span = dt.date(2026, 2, 23), dt.date(2026, 3, 3)
    for finding in ("gap", "impossible"):
        path = f"/api/v1/gaps?from={span[0]}&to={span[1]}&finding={finding}"
        asked = Question(now=full.now[0], narrow=Narrow(sites=("alder", "cedar")))
        with full.program.store.begin() as record:
            wanted = finding_rows(record, full.program.public_holidays, *span, asked, finding)
        names = [field.name for field in fields(FindingRow)]
        told = [plain({name: getattr(row, name) for name in names}) for row in wanted]
        assert program.rows(path) == told
    assert program.rows("/api/v1/gaps?task=temperature&kind=refrigerator")
    assert program.rows("/api/v1/gaps?task=temperature&kind=microscope") == []


def plain(row: dict[str, object]) -> dict[str, object]:
    return {k: v.isoformat() if isinstance(v, dt.date) else v for k, v in row.items()}


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("state=out of service", {"A-2"}),
        ("kind=refrigerator", {"A-3"}),
        ("task=annual-service&site=alder", {"A-1", "A-2", "C-1"}),
        ("task=annual-service&state=overdue", {"C-1", "A-1"}),
        ("task=nothing", set()),
    ],
)
def test_duties_are_narrowed(full: Lab, query: str, numbers: set[str]) -> None:
    rows = as_program(full, Role.CONSULTANT).rows(f"/api/v1/duties?{query}")
    assert {row["property_number"] for row in rows} == numbers


def test_a_unit_is_told_with_its_life(full: Lab) -> None:
    program = as_program(full, Role.CONSULTANT)
    moved = program.get("/api/v1/units/C-1").get_json()
    assert moved["site"] == "alder"
    assert moved["placements"] == [{"site": "alder", "from": "2026-03-01"}]
    out = program.get("/api/v1/units/A-2").get_json()
    assert out["outages"] == [{"from": "2026-03-02", "to": None, "reason": "lamp is broken"}]
    told = program.get("/api/v1/units/A-1").get_json()
    assert told["services"][0]["findings"] == "<b>clean</b>"
    (optics, service) = told["rules"]
    assert (optics["often"], optics["cautions"]) == (
        "each open day",
        ["Unplug before any liquid comes near."],
    )
    assert "every year" in service["often"].lower()
    cold = program.get("/api/v1/units/A-3").get_json()
    assert cold["rules"][0]["reading"] == "2.0 to 8.0 C"


def test_open_days_are_those_of_the_calendar_with_the_reason(full: Lab) -> None:
    program = as_program(full, Role.SITE_LEAD)
    told = program.get("/api/v1/sites/alder/days?from=2026-03-05&to=2026-03-08").get_json()
    assert told["days"] == [
        {"on": "2026-03-05", "open": False, "reason": "training"},
        {"on": "2026-03-06", "open": True, "reason": None},
        {"on": "2026-03-07", "open": False, "reason": "Saturday"},
        {"on": "2026-03-08", "open": False, "reason": "Sunday"},
    ]
    usual = program.get("/api/v1/sites/alder/days").get_json()["days"]
    assert (usual[0]["on"], len(usual)) == ("2026-03-03", 31)


def test_a_lead_is_told_of_visits_that_stand_and_not_who_comes(full: Lab) -> None:
    (lead,) = as_program(full, Role.SITE_LEAD).rows("/api/v1/visits")
    assert (lead["number"], lead["plan"], lead["technician"]) == ("V-0001", None, None)
    rows = as_program(full, Role.CONSULTANT).rows("/api/v1/visits")
    assert [row["number"] for row in rows] == ["V-0001", "V-0002", "V-0003"]
    assert rows[0]["technician"] == "Val Vendrick"
    assert rows[0]["services"] == [
        {
            "property_number": "A-1",
            "task": "annual-service",
            "due": "2026-03-25",
            "not_done": None,
        }
    ]
    program = as_program(full, Role.CONSULTANT)
    (off,) = program.rows("/api/v1/visits?state=cancelled")
    assert off["reason"] == "snow"
    assert program.rows("/api/v1/visits?from=2026-03-21") == []
    assert program.rows("/api/v1/visits?to=2026-03-19") == []


def test_months_counties_and_the_vendors_year_are_those_of_the_pages(full: Lab) -> None:
    program = as_program(full, Role.MANAGER)
    rows = program.rows("/api/v1/reviews?from=2026-02&to=2026-02")
    assert [(row["site"], row["month"], row["state"]) for row in rows] == [
        ("alder", "2026-02", "to review"),
        ("birch", "2026-02", "to review"),
        ("cedar", "2026-02", "to review"),
    ]
    assert list(rows[0]) == [field.name for field in fields(ReviewRow)]
    counties = program.rows("/api/v1/counties")
    assert {row["county"] for row in counties} == {"Adams", "Boone", "Cass"}
    page = full.as_role(Role.MANAGER).page("/region")
    assert [row["county"] for row in counties] == sorted(
        (str(row["county"]) for row in counties), key=page.index
    )
    assert program.get("/api/v1/counties?region=West").status_code == 404
    months = program.rows("/api/v1/vendor-months")
    assert (months[0]["month"], months[1]["month"], len(months)) == (None, "2026-03", 13)
    assert sum(int(str(row["services"])) for row in months) == 3, "A-2 is out of service"


@pytest.mark.parametrize(
    ("query", "field", "problem"),
    [
        ("limit=0", "limit", "'0' cannot be used"),
        ("limit=501", "limit", "'501' cannot be used"),
        ("limit=", "limit", "it is empty"),
        ("limit=1.0", "limit", "'1.0' cannot be used"),
        ("limit=-1", "limit", "'-1' cannot be used"),
        ("limit=\N{ARABIC-INDIC DIGIT ONE}", "limit", "cannot be used"),
        ("limit=1&limit=2", "limit", "it is given more than once"),
        ("offset=1000001", "offset", "'1000001' cannot be used"),
        ("colour=red", "colour", "'colour' is not known here"),
        ("state=broken", "state", "'broken' is not known here"),
        ("state=", "state", "'' is not known here"),
        ("kind=%00", "kind", "holds the control character U+0000"),
        ("task=" + "x" * 65, "task", "has 65 characters"),
    ],
)
def test_what_a_list_cannot_be_asked_is_said_at_its_name(
    lab: Lab, query: str, field: str, problem: str
) -> None:
    answer = as_program(lab, Role.SITE_LEAD).get(f"/api/v1/duties?{query}")
    assert answer.status_code == 400
    (fault,) = answer.get_json(force=True)["faults"]
    assert fault["field"] == field
    assert problem in fault["problem"]
    assert fault["mend"]


@pytest.mark.parametrize(
    ("path", "field", "problem"),
    [
        ("gaps?from=2026-03-04&to=2026-03-03", "to", "2026-03-03 is before 2026-03-04"),
        ("gaps?from=2025-01-01&to=2026-03-03", "to", "that is more than 92 days"),
        ("gaps?from=2026-02-30", "from", "2026-02-30 is no day of the calendar"),
        ("gaps?from=yesterday", "from", "'yesterday' is not a day"),
        ("gaps?from=1066-01-01", "from", "1066-01-01 is out of reach"),
        ("sites/alder/days?from=2025-01-01&to=2026-03-03", "to", "that is more than 366 days"),
        ("visits?to=2029-01-01", "to", "that is more than 731 days"),
        ("reviews?from=2024-01&to=2026-01", "from", "that is no span of 1 to 12 months"),
        ("reviews?from=2026-13", "from", "2026-13-01 is no day of the calendar"),
    ],
)
def test_a_span_that_cannot_be_asked_is_said(lab: Lab, path: str, field: str, problem: str) -> None:
    answer = as_program(lab, Role.SITE_LEAD).get(f"/api/v1/{path}")
    assert answer.status_code == 400
    (fault,) = answer.get_json(force=True)["faults"]
    assert (fault["field"], fault["problem"]) == (field, problem)


def test_parts_of_a_list_make_the_whole(lab: Lab) -> None:
    program, found = as_program(lab, Role.MANAGER), list[object]()
    whole = program.rows("/api/v1/duties")
    for offset in range(0, len(whole) + 3, 3):
        told = program.get(f"/api/v1/duties?limit=3&offset={offset}").get_json()
        assert (told["total"], told["limit"], told["offset"]) == (len(whole), 3, offset)
        found += told["items"]
    assert found == whole
    assert len(whole) > 3


def test_an_unchanged_answer_is_not_sent_again(lab: Lab) -> None:
    program = as_program(lab, Role.SITE_LEAD)
    first = program.get("/api/v1/duties")
    again = program.get("/api/v1/duties", **{"If-None-Match": first.headers["ETag"]})
    assert (again.status_code, again.data) == (304, b"")
    assert first.headers["Cache-Control"] == "private, no-cache"
