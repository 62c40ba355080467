"""Does the set-up's first page say what is there and what looks wrong, to each what is theirs?"""

from __future__ import annotations

import re

from fleet.domain.records import Role
from tests.fleet.web.lab import Lab


def words(page: str) -> str:
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def test_a_manager_sees_what_of_the_whole_state_looks_wrong(lab: Lab) -> None:
    text = words(lab.as_role(Role.MANAGER).page("/setup"))
    assert "1 region has no consultant. Nobody reviews their months. South" in text
    assert "lead@birch.example" in text, "has no account"
    assert "no current chart" in text
    for part in ("Sites : 3.", "Units : 5 not retired.", "Import", "Access log", "Add a site"):
        assert part in text


def test_a_consultant_sees_the_region_and_no_pages_of_the_manager_s(lab: Lab) -> None:
    page = lab.as_role(Role.CONSULTANT).page("/setup")
    text = words(page)
    assert "Sites : 2." in text
    assert "Units : 4 not retired." in text
    for part in ("birch", "B-1", "South", "/setup/import", "/setup/access", "/setup/new-site"):
        assert part not in page


def test_a_site_without_lead_or_units_and_a_kind_without_rules_are_named(lab: Lab) -> None:
    manager = lab.as_role(Role.MANAGER)
    fields = {
        "site": "dogwood",
        "name": "Dogwood",
        "county": "Dawes",
        "region": "North",
        "time_zone": "America/Denver",
        "open_days": ["Mon"],
        "land": "US-NE",
    }
    assert manager.post("/setup/new-site", fields).status_code == 302
    text = words(manager.page("/setup"))
    assert "1 site has nobody who leads it. Their gaps are told to nobody there. dogwood" in text
    assert "1 site has no unit." in text


def test_somebody_away_whom_nobody_stands_in_for_is_named(lab: Lab) -> None:
    consultant = lab.as_role(Role.CONSULTANT)
    assert "nobody stands in" not in consultant.page("/setup")
    away = {"from": "2026-03-02", "to": "2026-03-06", "deputy": ""}
    consultant.post("/setup/people/lead@alder.example/away", away)
    text = words(consultant.page("/setup"))
    assert "1 person is away and nobody stands in. Name a deputy. lead@alder.example" in text


def test_the_rule_book_says_how_often_by_which_source_with_which_cautions(lab: Lab) -> None:
    consultant = lab.as_role(Role.CONSULTANT)
    assert "Laboratory refrigerator" in consultant.page("/setup/book")
    text = words(consultant.page("/setup/book/refrigerator"))
    for part in ("Read the temperature", "2.0 to 8.0 C", "common practice", "keep the stock cold"):
        assert part in text
    assert "$120.00" in consultant.page("/setup/book/microscope")
    assert consultant.get("/setup/book/toaster").status_code == 404
