"""Are units found by what they are and how they stand, and only those of own sites?"""

from __future__ import annotations

import re

import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import Browser, Lab


def shown(page: str) -> list[str]:
    return re.findall(r'<th scope="row"><a href="/units/([^"]+)">', page)


@pytest.fixture
def consultant(lab: Lab) -> Browser:
    return lab.as_role(Role.CONSULTANT)


@pytest.mark.parametrize(
    ("query", "numbers"),
    [
        ("", ["A-1", "A-2", "A-3", "B-1", "C-1"]),
        ("find=a-", ["A-1", "A-2", "A-3"]),
        ("find=exemplar+10", ["A-1", "A-2", "A-3", "B-1", "C-1"]),
        ("find=R1", ["A-3"]),
        ("kind=refrigerator", ["A-3"]),
        ("site=birch", ["B-1"]),
        ("state=retired", ["C-1"]),
        ("state=out+of+service", ["A-2"]),
        ("site=alder&state=overdue", ["A-1", "A-3"]),
        ("kind=refrigerator&site=birch", []),
    ],
)
def test_units_are_found_by_number_kind_site_and_state(
    lab: Lab, query: str, numbers: list[str]
) -> None:
    manager = lab.as_role(Role.MANAGER)
    manager.post("/units/C-1/retire", {"on": "2026-03-03", "anyway": "yes"})
    manager.post("/units/A-2/broken", {"on": "2026-03-02", "why": "smoke", "anyway": "yes"})
    assert shown(manager.page(f"/setup/units?{query}")) == numbers


def test_only_units_of_own_sites_are_listed(lab: Lab, consultant: Browser) -> None:
    assert shown(consultant.page("/setup/units")) == ["A-1", "A-2", "A-3", "C-1"]
    assert consultant.get("/setup/units?site=birch").status_code == 404
    assert consultant.get("/setup/units?state=lost").status_code == 400
    assert "Birch" not in consultant.page("/setup/units")


def test_a_list_has_fifty_units_a_page_and_keeps_its_question(
    lab: Lab, monkeypatch: pytest.MonkeyPatch, consultant: Browser
) -> None:
    monkeypatch.setattr("fleet.web.pages.setup_units._SHOWN", 2)
    first = consultant.page("/setup/units?find=a-")
    assert shown(first) == ["A-1", "A-2"]
    assert "3 units found" in first
    assert 'href="/setup/units?find=a-&amp;page=2"' in first
    assert shown(consultant.page("/setup/units?find=a-&page=2")) == ["A-3"]
