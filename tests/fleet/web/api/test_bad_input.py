"""What becomes of a request that is no mark: of another form, too large, or no JSON at all?"""

from __future__ import annotations

import json

import pytest

from fleet.domain.records import Role
from tests.fleet.web.api.asker import Asker, as_program
from tests.fleet.web.api.test_door import MARK, is_problem
from tests.fleet.web.lab import Lab
from tests.fleet.web.test_rights import dump

MARKS, REPORTS = "/api/v1/marks", "/api/v1/service-reports"
KEY = MARK["key"]


def lead(lab: Lab) -> Asker:
    return as_program(lab, Role.SITE_LEAD)


@pytest.mark.parametrize(
    ("field", "value", "problem"),
    [
        ("key", "", "it is missing or empty"),
        ("key", "k1", "it is no UUID"),
        ("key", 7, "it is no text"),
        ("property_number", 7, "it is no text"),
        ("property_number", "", "it is missing or empty"),
        ("property_number", "x" * 65, "has 65 characters"),
        ("task", None, "it is no text"),
        ("on", 20260303, "it is no text"),
        ("on", "03/03/2026", "'03/03/2026' is not a day"),
        ("on", "2026-02-30", "2026-02-30 is no day of the calendar"),
        ("on", "0001-01-01", "0001-01-01 is out of reach"),
        ("on", "2026-03-03T10:00:00Z", "is not a day"),
        ("mark", "DONE", "'DONE' is not known here"),
        ("mark", "filled", "'filled' is not known here"),
        ("mark", ["done"], "it is no text"),
        ("initials", "x" * 21, "has 21 characters"),
        ("initials", "G\nR", "holds the control character U+000A"),
        ("reading", 4.5, "it is no text"),
        ("reading", "4,5", "'4,5' is not a number"),
        ("reading", "NaN", "'NaN' is not a number"),
        ("reading", "1e5", "'1e5' is not a number"),
        ("note", "x" * 2001, "has 2,001 characters"),
        ("note", "a\x00b", "holds the control character U+0000"),
        ("note", "\ud800", "is not UTF-8"),
        ("note", "\u202etxt", "holds the control character U+202E"),
        ("anyway", "true", "it is neither true nor false"),
        ("anyway", 1, "it is neither true nor false"),
        ("by", "account:somebody", "'by' is not known here"),
        ("stored_at", "2020-01-01T00:00:00Z", "'stored_at' is not known here"),
        ("source", "paper", "'source' is not known here"),
    ],
)
def test_what_cannot_be_a_mark_is_said_at_its_field(
    lab: Lab, field: str, value: object, problem: str
) -> None:
    program, before = lead(lab), dump(lab)
    answer = program.post(MARKS, {**MARK, field: value})
    is_problem(answer, 400, "bad-input", "")
    (fault,) = answer.get_json(force=True)["faults"]
    assert fault["field"] == field
    assert problem in fault["problem"]
    assert fault["mend"]
    assert dump(lab) == before


def test_all_faults_are_told_at_once(lab: Lab) -> None:
    answer = lead(lab).post(MARKS, {"mark": "explained", "colour": "red"})
    faults = answer.get_json(force=True)["faults"]
    assert [fault["field"] for fault in faults] == [
        "colour",
        "note",
        "property_number",
        "task",
        "on",
        "key",
    ]


@pytest.mark.parametrize(
    ("body", "detail"),
    [
        (b"", "no JSON that can be read"),
        (b"{", "no JSON that can be read"),
        (b"\xff\xfe", "no JSON that can be read"),
        (b"[]", "The body is no object"),
        (b"null", "The body is no object"),
        (b"[" * 60_000, "it is nested too deeply"),
        (b'{"a":' * 10_000 + b"1" + b"}" * 10_000, "it is nested too deeply"),
        (b'{"reading": NaN}', "NaN is no number"),
        (b'{"reading": -Infinity}', "-Infinity is no number"),
        (b'{"reading": ' + b"9" * 5000 + b"}", "no JSON that can be read"),
        (b'{"key": "a", "key": "b"}', "a field is given twice"),
    ],
)
def test_a_body_that_is_no_json_object_is_said(lab: Lab, body: bytes, detail: str) -> None:
    program, before = lead(lab), dump(lab)
    for path in (MARKS, REPORTS, f"{MARKS}/{KEY}/strike"):
        is_problem(program.send(path, body), 400, "bad-input", detail)
    assert dump(lab) == before


@pytest.mark.parametrize(
    "kind", ["", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data"]
)
def test_another_kind_of_body_is_refused(lab: Lab, kind: str) -> None:
    body = json.dumps(MARK).encode()
    answer = lead(lab).send(MARKS, body, kind)
    is_problem(answer, 415, "not-json", "Content-Type: application/json")
    assert lead(lab).send(MARKS, body, "application/json; charset=utf-8").status_code == 201


@pytest.mark.parametrize(
    ("path", "size"), [(MARKS, 65 * 1024), (MARKS, 13 * 2**20), (REPORTS, 13 * 2**20)]
)
def test_a_body_that_is_too_large_is_refused(lab: Lab, path: str, size: int) -> None:
    body = json.dumps({**MARK, "note": "x" * size}).encode()
    is_problem(lead(lab).send(path, body), 413, "too-large", "Send less in one request.")


def test_nothing_of_an_act_stands_in_the_address(lab: Lab) -> None:
    answer = lead(lab).post(f"{MARKS}?anyway=true", MARK)
    is_problem(answer, 400, "bad-input", "'anyway' is not known here")
