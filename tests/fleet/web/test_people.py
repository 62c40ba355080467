"""Who invites whom, and who ends whose account?"""

from __future__ import annotations

import re

import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import PASSWORD, PEOPLE, Lab

LEAD = PEOPLE[Role.SITE_LEAD]


def test_a_consultant_invites_a_lead_of_the_region_who_then_comes_in(lab: Lab) -> None:
    answer = lab.as_role(Role.CONSULTANT).post("/people/invite", {"email": LEAD})
    found = re.search(r"<code>https://pages.example(/l/[\w-]+)</code>", answer.text)
    assert found is not None
    assert answer.headers["Cache-Control"] == "no-store"
    lead = lab.browser()
    assert lead.post(found[1], {"password": PASSWORD}).status_code == 302
    assert lead.get("/").location == "/sites/alder"


@pytest.mark.parametrize(
    "email",
    ["lead@birch.example", "program@bench.example", "north@bench.example", "nobody@x.example", ""],
    ids=["another region", "the manager", "herself", "nobody", "none"],
)
def test_a_consultant_looks_after_nobody_else(lab: Lab, email: str) -> None:
    browser = lab.as_role(Role.CONSULTANT)
    assert browser.post("/people/invite", {"email": email}).status_code == 404
    fields = {"email": email, "act": "disable"}
    assert browser.post("/people/account", fields).status_code == 404
    page = browser.page("/people")
    assert LEAD in page
    assert "lead@birch.example" not in page
    assert "program@bench.example" not in page.replace("Max Mandrake", "")


def test_a_manager_disables_an_account_and_lets_it_in_again(lab: Lab) -> None:
    lead, manager = lab.signed_in(LEAD), lab.as_role(Role.MANAGER)
    assert lead.get("/sites/alder").status_code == 200
    assert manager.post("/people/account", {"email": LEAD, "act": "disable"}).status_code == 302
    assert lead.get("/sites/alder").status_code == 302
    assert "disabled" in manager.page(f"/people?find={LEAD}")
    assert manager.post("/people/account", {"email": LEAD, "act": "enable"}).status_code == 302
    signed = lab.browser().post("/sign-in", {"email": LEAD, "password": PASSWORD})
    assert signed.status_code == 302
    assert manager.post("/people/account", {"email": LEAD, "act": "promote"}).status_code == 400


def test_people_are_found_by_any_of_their_words(lab: Lab) -> None:
    manager = lab.as_role(Role.MANAGER)
    assert "Lee Alderman" in manager.page("/people?find=alder+lead")
    assert "Nobody of that name." in manager.page("/people?find=zzz")
    assert manager.get("/people?page=x").status_code == 400
