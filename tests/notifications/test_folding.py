"""What was told before is folded; what can hurt stays beside the line that is shown in full."""

from __future__ import annotations

import dataclasses
import re

from notifications import digests
from notifications.facts import MonthGaps, SiteLeadFacts
from notifications.messages import Message
from notifications.rendering import render
from tests.notifications.digest_parts import text
from tests.notifications.facts_made import ON, PLACE, a_chart, a_duty, days, lead_facts

CAUTIONS = ("Unplug first.", "Gloves on.")


def told(facts: SiteLeadFacts, *numbers: str) -> dict[str, str]:
    """The items of some units, as a mail of these facts tells them."""
    made = digests.site_lead(facts)
    assert isinstance(made, Message)
    return {k: how for k, how in made.items.items() if k.split("/")[1] in numbers}


def flat(facts: SiteLeadFacts) -> str:
    return re.sub(r"\s+", " ", text(digests.site_lead(facts)))


def test_a_caution_is_told_in_full_where_the_line_that_told_it_is_folded() -> None:
    facts = lead_facts(
        a_duty(-40, cautions=CAUTIONS), a_duty(-30, property_number="NE-2", cautions=CAUTIONS)
    )

    said = flat(dataclasses.replace(facts, told=told(facts, "NE-1")))

    assert (
        "OVERDUE (1) The longest overdue first. * NE-2 - Overdue by 30 days (due Sat 17 Oct 2026)."
        " New this week Bench microscope: Service by the vendor Caution: Unplug first. Gloves on."
        in said
    )
    assert "as above" not in said
    assert "* NE-1: Bench microscope: Service by the vendor. Overdue by 40 days dueward why" in said


def test_a_caution_told_in_full_above_is_not_told_again() -> None:
    facts = lead_facts(
        a_duty(-40, cautions=CAUTIONS), a_duty(-30, property_number="NE-2", cautions=CAUTIONS)
    )

    assert flat(facts).count("Unplug first.") == 1
    assert flat(facts).count("Caution: as above for the same task.") == 1


def test_folded_units_of_one_task_share_a_line_though_one_only_pointed_to_its_caution() -> None:
    facts = lead_facts(
        a_duty(-40, cautions=CAUTIONS), a_duty(-30, property_number="NE-2", cautions=CAUTIONS)
    )

    said = flat(dataclasses.replace(facts, told=told(facts, "NE-1", "NE-2")))

    assert (
        "AS BEFORE (2) Told before, and it still stands like this. The cautions are not told again:"
        " read them with the command beside a task before the work. * 2 units: NE-1, NE-2: Bench"
        " microscope: Service by the vendor. Overdue by 40 days; one more of them: Overdue"
        " dueward why NE-1 annual-service" in said
    )


def test_what_a_folded_and_cut_digest_shows_is_what_it_has_told() -> None:
    duties = [a_duty(-40 - n, property_number=f"NE-{n:03}", title=f"S{n}") for n in range(500)]
    facts = lead_facts(*duties)
    made = digests.site_lead(facts)
    assert isinstance(made, Message)
    shown = re.findall(r"^\* (NE-\d+)", render(made).text, re.MULTILINE)

    assert len(shown) == 40
    assert sorted(made.items) == sorted(f"duty/{number}/annual-service" for number in shown)


def test_a_site_s_name_in_a_command_is_one_word_of_it() -> None:
    place = dataclasses.replace(PLACE, site="al der; x")
    charts = tuple(
        a_chart(property_number=f"NE-{n}", title=f"T{n}", gaps=days(ON)) for n in range(50)
    )
    site = dataclasses.replace(
        lead_facts(a_duty(3)).sites[0],
        month_gaps=MonthGaps(place=place, first_on=ON.replace(day=1), charts=charts, to_return=50),
    )
    said = flat(dataclasses.replace(lead_facts(), sites=(site,)))

    assert "see all of them: dueward gaps --from 2026-11-01 --to 2026-11-16 --site 'al der; x'" in (
        said
    )


def test_where_the_month_s_mail_joins_a_digest_it_says_where_the_charts_go() -> None:
    month = MonthGaps(
        place=PLACE,
        first_on=ON.replace(day=1),
        charts=(),
        to_return=5,
        return_to="Ivo Marsh",
        return_by_on=ON.replace(day=20),
    )
    site = dataclasses.replace(lead_facts(a_duty(3)).sites[0], month_gaps=month)
    made = digests.site_lead(dataclasses.replace(lead_facts(), sites=(site,)))

    words = "Return the charts of 5 units to Ivo Marsh by Fri 20 Nov 2026."
    assert words in text(made)
    assert isinstance(made, Message)
    assert words in render(made).html
