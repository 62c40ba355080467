"""Does a mail lead to the page where the rest is, and only where pages are served?"""

from __future__ import annotations

import dataclasses
import re

import pytest

from notifications import digests
from notifications.facts import SiteFacts, SiteLeadFacts
from notifications.messages import Message
from notifications.rendering import render
from tests.notifications.digest_parts import text
from tests.notifications.facts_made import ON, PLACE, READER, a_duty, lead_facts


@pytest.mark.parametrize(
    ("base_url", "where"),
    [
        ("", "dueward due --site alder --on 2026-11-16"),
        ("https://lab.example/dueward", "https://lab.example/dueward/sites/alder#duties"),
    ],
)
def test_a_long_list_is_cut_and_says_where_the_rest_is(base_url: str, where: str) -> None:
    late = tuple(a_duty(-30 - n, property_number=f"NE-{n}") for n in range(50))

    made = digests.site_lead(lead_facts(*late), base_url)

    assert f"and 10 more; see all of them: {where}" in re.sub(r"\s+", " ", text(made))
    assert "OVERDUE (50)" in text(made)
    assert len(re.findall(r"^\* NE-", text(made), re.MULTILINE)) == 40


@pytest.mark.parametrize(
    ("site", "address"),
    [("alder", "/sites/alder#duties"), ("a/b c", "/sites/a%2Fb%20c#duties")],
)
def test_a_section_leads_to_its_page_where_pages_are_served(site: str, address: str) -> None:
    place = dataclasses.replace(PLACE, site=site)
    facts = SiteFacts(place=place, duties=(a_duty(-30, place=place),), charts=())
    lead = SiteLeadFacts(reader=READER, on=ON, sites=(facts,))

    made = digests.site_lead(lead, "https://lab.example")

    assert isinstance(made, Message)
    assert f"Its page: https://lab.example{address}" in re.sub(r"\s+", " ", text(made))
    link = re.search(r'<a [^>]*href="([^"]*)"[^>]*>Open its page</a>', render(made).html)
    assert link is not None
    assert link[1] == f"https://lab.example{address}"
    assert "Its page" not in text(digests.site_lead(lead)), "nothing is served"
