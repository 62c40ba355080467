"""Does a consultant issue a unit by a form, to her own sites alone, and see what follows?"""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.records import Role, Unit
from tests.fleet.web.lab import Browser, Lab

FIELDS = {
    "property_number": "A-9",
    "kind": "microscope",
    "manufacturer": "Ostrander Optical",
    "model": "OO 3",
    "serial": "S-77",
    "in_service_on": "2026-03-03",
    "serviced_on": "2026-02-20",
    "initials": "TF",
}


@pytest.fixture
def consultant(lab: Lab) -> Browser:
    return lab.as_role(Role.CONSULTANT)


def units(lab: Lab) -> dict[str, Unit]:
    with lab.program.store.begin() as record:
        return {unit.property_number: unit for unit in record.register().units.values()}


def test_a_unit_is_issued_with_the_service_it_had(lab: Lab, consultant: Browser) -> None:
    assert "/sites/alder/issue" in consultant.page("/sites/alder")
    answer = consultant.post("/sites/alder/issue", FIELDS)
    assert answer.location == "/units/A-9?done=issued"
    unit = units(lab)["A-9"]
    assert (unit.site, unit.serial, unit.in_service_on) == ("alder", "S-77", dt.date(2026, 3, 3))
    page = consultant.page(answer.location)
    assert "It is issued" in page
    # 20 February 2027 is a Saturday.
    assert "Mon 22 Feb 2027" in page, "the yearly service counts from the one it had"
    again = consultant.post("/sites/alder/issue", FIELDS)
    assert again.location == answer.location, "sent twice is issued once"


@pytest.mark.parametrize(
    ("field", "given", "told"),
    [
        ("property_number", "", "has no number"),
        ("property_number", "A-1", "stands already"),
        ("kind", "", "kind"),
        ("kind", "loom", "loom"),
        ("in_service_on", "", "o day is given"),
        ("in_service_on", "3/3/2026", "is not a day"),
        ("serviced_on", "2026-03-20", "is after the unit enters service"),
        ("record_from_on", "2026-03-01", "is before the unit enters service"),
    ],
)
def test_what_cannot_be_issued_is_said_at_its_field(
    lab: Lab, consultant: Browser, field: str, given: str, told: str
) -> None:
    before = units(lab)
    answer = consultant.post("/sites/alder/issue", {**FIELDS, field: given})
    page = answer.get_data(as_text=True)
    assert answer.status_code == 400
    assert told in page
    assert f'href="#f-{field}"' in page, "the list of faults leads to the field"
    assert "dueward " not in page, "advice is for a form"
    assert 'value="S-77"' in page, "what was typed stays"
    assert units(lab) == before


def test_a_serial_that_stands_twice_is_to_be_meant(lab: Lab, consultant: Browser) -> None:
    consultant.post("/sites/alder/issue", FIELDS)
    twin = {**FIELDS, "property_number": "A-10"}
    asked = consultant.post("/sites/alder/issue", twin)
    assert asked.status_code == 409
    assert "S-77" in asked.get_data(as_text=True)
    answer = consultant.post("/sites/alder/issue", {**twin, "anyway": "yes"})
    assert answer.location == "/units/A-10?done=issued"


def test_a_unit_that_enters_service_next_month_has_its_page(lab: Lab, consultant: Browser) -> None:
    answer = consultant.post("/sites/alder/issue", {**FIELDS, "in_service_on": "2026-04-01"})
    assert "It is issued" in consultant.page(answer.location)


def test_nobody_issues_to_a_site_of_another(lab: Lab, consultant: Browser) -> None:
    assert consultant.post("/sites/nowhere/issue", FIELDS).status_code == 404
    lead = lab.as_role(Role.SITE_LEAD)
    assert lead.post("/sites/alder/issue", FIELDS).status_code == 403
    assert "Issue a unit" not in lead.page("/sites/alder")
