"""Does a unit's life go on from its page, and only by who may say so?"""

from __future__ import annotations

import datetime as dt
import re

import pytest

from fleet.domain.records import Role
from fleet.domain.register import Register
from tests.fleet.web.lab import Browser, Lab

ON = dt.date(2026, 3, 3)


def register(lab: Lab) -> Register:
    with lab.program.store.begin() as record:
        return record.register()


@pytest.fixture
def lead(lab: Lab) -> Browser:
    return lab.as_role(Role.SITE_LEAD)


@pytest.fixture
def consultant(lab: Lab) -> Browser:
    return lab.as_role(Role.CONSULTANT)


def test_what_broke_comes_back_from_its_page(lab: Lab, lead: Browser) -> None:
    fields = {"on": str(ON - dt.timedelta(days=1)), "why": "smoke"}
    refused = lead.post("/units/A-2/broken", {**fields, "why": ""})
    assert refused.status_code == 400
    assert lead.post("/units/A-2/broken", fields).location == "/units/A-2?done=broken"
    assert "Bring it back" in lead.page("/units/A-2")
    assert "smoke" in lead.page("/units/A-2/acts")
    answer = lead.post("/units/A-2/back", {"on": str(ON)})
    assert answer.location == "/units/A-2?done=back"
    (outage,) = register(lab).outages.values()
    assert (outage.from_on, outage.to_on) == (ON - dt.timedelta(days=1), ON)
    assert "It is back in service" in lead.page(answer.location)


def test_a_service_is_recorded_with_its_report_and_settles_the_rule(
    lab: Lab, lead: Browser
) -> None:
    fields = {
        "task": "annual-service",
        "on": str(ON),
        "vendor": "Vendrick Service",
        "technician": "Tatum Fenwald",
        "findings": "lamp replaced",
        "initials": "GR",
    }
    assert lead.post("/units/A-1/service", fields).location == "/units/A-1?done=service"
    (report,) = register(lab).reports.values()
    assert (report.on, report.findings) == (ON, "lamp replaced")
    page = lead.page("/units/A-1")
    assert "Wed 3 Mar 2027" in page, "due a year later"
    other = lead.post("/units/A-1/service", {**fields, "findings": "nothing"})
    assert other.status_code == 409, "another report of the same day is to be meant"


def test_a_consultant_moves_lends_retires_and_numbers_a_unit(lab: Lab, consultant: Browser) -> None:
    lent = {"site": "cedar", "on": str(ON), "until": "2026-03-20"}
    assert consultant.post("/units/A-1/move", lent).location == "/units/A-1?done=moved"
    moves = sorted(register(lab).placements.values(), key=lambda one: one.from_on)
    assert [(one.site, str(one.from_on)) for one in moves] == [
        ("cedar", "2026-03-03"),
        ("alder", "2026-03-20"),
    ]
    answer = consultant.post("/units/C-1/number", {"new": "C-100"})
    assert answer.location == "/units/C-100?done=numbered"
    assert "formerly C-1" in consultant.page("/units/C-100")
    retired = consultant.post("/units/A-2/retire", {"on": str(ON)})
    if retired.status_code == 409:
        retired = consultant.post("/units/A-2/retire", {"on": str(ON), "anyway": "yes"})
    assert retired.location == "/units/A-2?done=retired"
    assert register(lab).units[("A-2",)].retired_on == ON


def test_a_unit_is_moved_to_no_site_of_another_region(lab: Lab, consultant: Browser) -> None:
    answer = consultant.post("/units/A-1/move", {"site": "birch", "on": str(ON)})
    assert answer.status_code == 404
    assert register(lab).placements == {}
    page = consultant.page("/units/A-1/acts")
    assert "Cedar Bluff" in page
    assert "Birch" not in page


def test_a_lead_sees_no_forms_that_are_not_for_leads(lead: Browser) -> None:
    page = lead.page("/units/A-1/acts")
    assert "Record a service" in page
    for word in ("Move or lend it", "Retire it", "another property number"):
        assert word not in page


def test_a_problem_is_carried_on_until_it_worked(lab: Lab, lead: Browser) -> None:
    bench = lab.at_bench()
    form = re.findall(r'name="key" value="([^"]+)"', bench.page("/bench/alder"))
    mark = {"property_number": "A-3", "task": "temperature", "on": str(ON), "mark": "done"}
    bench.post("/bench/alder/mark", {**mark, "key": form[-1], "reading": "9.5"})
    (action,) = register(lab).actions.values()
    assert action.problem in lead.page("/units/A-3/acts").replace("&#39;", "'")
    sent = {
        "action_number": action.number,
        "action": "thermostat set",
        "by": "Lee Alderman",
        "review_on": "2026-03-10",
    }
    assert lead.post("/units/A-3/problem", {**sent, "review_on": "x"}).status_code == 400
    assert lead.post("/units/A-3/problem", sent).status_code == 302
    worked = {"action_number": action.number, "effective": "yes"}
    elsewhere = lead.post("/units/A-1/problem", worked)
    assert elsewhere.status_code == 400, "it is of another unit"
    assert lead.post("/units/A-3/problem", worked).status_code == 302
    (closed,) = register(lab).actions.values()
    assert (closed.closed_on, closed.reviewed_by) == (ON, "Lee Alderman")


@pytest.mark.parametrize(
    ("act", "fields"),
    [
        ("back", {"on": str(ON)}),
        ("broken", {"on": "x", "why": "smoke"}),
        ("service", {"task": "optics", "on": str(ON)}),
        ("move", {"site": "cedar", "on": str(ON), "until": "2026-03-01"}),
        ("retire", {"on": "2020-01-01"}),
        ("number", {"new": "A-2"}),
    ],
)
def test_what_cannot_be_is_asked_again_without_a_command(
    lab: Lab, consultant: Browser, act: str, fields: dict[str, str]
) -> None:
    before = register(lab)
    answer = consultant.post(f"/units/A-1/{act}", fields)
    assert answer.status_code in (400, 404), answer.text
    if answer.status_code == 400:
        assert answer.text.count("<title>Error: ") == 1
        assert "dueward " not in answer.text
    assert register(lab) == before
