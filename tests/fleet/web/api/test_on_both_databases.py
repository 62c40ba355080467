"""Does a program's work stand on SQLite and on PostgreSQL alike?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from fleet.domain.records import Role
from tests.fleet.web.api.asker import as_program
from tests.fleet.web.api.test_door import MARK, is_problem
from tests.fleet.web.lab import HOST, Lab, make_lab


@pytest.fixture
def a_lab(tmp_path: Path, fleet_url: str) -> Iterator[Lab]:
    """The small state on either database."""
    made = make_lab(tmp_path, fleet_url)
    with closing(made.program):
        yield made


def test_a_program_marks_takes_back_and_reports(a_lab: Lab) -> None:
    program = as_program(a_lab, Role.SITE_LEAD)
    sent = {**MARK, "note": "d\N{LATIN SMALL LETTER E WITH ACUTE}j\N{ROBOT FACE}"}
    codes = [program.post("/api/v1/marks", sent).status_code for _ in range(2)]
    assert codes == [201, 200]
    strike = f"/api/v1/marks/{MARK['key']}/strike"
    codes = [program.post(strike, {"why": "wrong"}).status_code for _ in range(2)]
    assert codes == [200, 200]
    report = {"property_number": "A-1", "task": "annual-service", "on": "2026-03-02"}
    codes = [program.post("/api/v1/service-reports", report).status_code for _ in range(2)]
    assert codes == [201, 200]
    assert program.rows("/api/v1/duties?state=upcoming&task=annual-service&site=alder")


def test_what_no_text_may_hold_is_refused_and_not_sent_to_the_database(a_lab: Lab) -> None:
    program = as_program(a_lab, Role.SITE_LEAD)
    for number in ("\x00", "\ud800"):
        answer = program.post("/api/v1/marks", {**MARK, "property_number": number})
        is_problem(answer, 400, "bad-input", "property_number")
    for path in ("units/%00", "units/%ff", "sites/%00", "sites/%00/days"):
        is_problem(program.get(f"/api/v1/{path}"), 404, "not-there", "names nothing")
    answer = program.post("/api/v1/marks/%00/strike", {"why": "wrong"})
    is_problem(answer, 404, "not-there", "names nothing")
    # Who is kept from it is logged, with what they asked for.
    bench = as_program(a_lab, Role.BENCH)
    is_problem(bench.get("/api/v1/units/%00"), 403, "not-yours", "other things")
    assert a_lab.as_role(Role.SITE_LEAD).get("/setup/people/%00").status_code == 403
    with a_lab.program.store.begin() as record:
        told = [event.about for event in record.access.logged(2)]
    assert all("%00" in about for about in told)
    wrong = program.client.get(
        "/api/v1/sites", headers={"Authorization": "Bearer \xff\x01"}, base_url=HOST
    )
    assert wrong.status_code == 401
