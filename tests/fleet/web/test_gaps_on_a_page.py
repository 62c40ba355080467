"""Is a site with many gaps a page that can be read, and is each explained that was ticked?"""

from __future__ import annotations

import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import Lab


def test_a_page_shows_the_first_gaps_and_says_how_many_more_there_are(
    lab: Lab, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.web.pages.sites._MOST_SHOWN", 3)
    page = lab.as_role(Role.SITE_LEAD).page("/sites/alder")
    assert "7 gaps to explain" in page
    assert page.count('name="gap"') == 1, "units are shown whole, and one at least"
    assert "6 more gaps come when these are explained." in page


def test_a_page_that_shows_all_gaps_speaks_of_no_more(lab: Lab) -> None:
    page = lab.as_role(Role.SITE_LEAD).page("/sites/alder")
    assert page.count('name="gap"') == 7
    assert "when these are explained" not in page


def test_more_gaps_than_can_be_explained_at_once_are_refused_whole(lab: Lab) -> None:
    """Some of them saved and all of them told as saved would be worse."""
    lead = lab.as_role(Role.SITE_LEAD)
    gaps = ["A-2/optics/2026-03-02"] * 401
    answer = lead.post("/sites/alder/explain", {"gap": gaps, "why": "flood"})
    assert answer.status_code == 400
    assert "More than 400 gaps are chosen; explain them in several goes" in answer.text
    assert "7 gaps to explain" in lead.page("/sites/alder")
