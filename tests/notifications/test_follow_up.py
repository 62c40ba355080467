"""What digests say of corrective actions, units out of service and months to review."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import pytest

from notifications import digests
from notifications.facts import (
    OpenAction,
    OpenOutage,
    Place,
    SiteFacts,
    SiteLeadFacts,
    WaitingMonth,
)
from notifications.messages import Message, Skipped
from notifications.rendering import COLUMNS, render
from tests.notifications.digest_parts import sections, subject, text
from tests.notifications.facts_made import (
    FIRST_MONDAY,
    ON,
    PLACE,
    READER,
    a_chart,
    a_duty,
    days,
    region_facts,
)

ELM = Place(site="elm", name="Elm Hollow", county="Sioux", region="Platte")


def an_action(**changes: object) -> OpenAction:
    given: dict[str, object] = {
        "place": PLACE,
        "number": "NE-1/2026-10-05/1",
        "property_number": "NE-1",
        "problem": "The stage drifts.",
        "action": "",
        "responsible": "",
        "opened_on": dt.date(2026, 10, 5),
        "review_on": None,
    }
    return OpenAction(**{**given, **changes})  # type: ignore[arg-type]


def out(days_ago: int, **changes: object) -> OpenOutage:
    given: dict[str, object] = {
        "place": PLACE,
        "property_number": "NE-7",
        "kind": "Centrifuge",
        "from_on": ON - dt.timedelta(days=days_ago),
        "reason": "The lid lock is broken.",
    }
    return OpenOutage(**{**given, **changes})  # type: ignore[arg-type]


def waiting(month: int, **changes: object) -> WaitingMonth:
    given: dict[str, object] = {
        "place": PLACE,
        "first_on": dt.date(2026, month, 1),
        "is_reopened": False,
        "returned_on": None,
    }
    return WaitingMonth(**{**given, **changes})  # type: ignore[arg-type]


def lead_digest(**facts: object) -> Message | Skipped:
    site = SiteFacts(place=PLACE, duties=(), charts=(), **facts)  # type: ignore[arg-type]
    return digests.site_lead(SiteLeadFacts(reader=READER, on=ON, sites=(site,)))


def flat(made: Message | Skipped) -> str:
    return re.sub(r"\s+", " ", text(made))


# --- the site lead


def test_a_lead_reads_what_was_found_and_what_to_do_about_it() -> None:
    done = an_action(action="Tighten the stage screws.", responsible="Gus Reed")

    said = flat(lead_digest(actions=(done,)))

    assert "CORRECTIVE ACTIONS OPEN (1)" in said
    assert "in full: dueward actions --site alder. " in said
    assert (
        "* NE-1 - Open since Mon 5 Oct 2026 (no day set to see whether it worked) The stage"
        " drifts. To do: Tighten the stage screws (Gus Reed). " in said
    )


@pytest.mark.parametrize(
    ("responsible", "to_do"),
    [("", "Say what is done about it."), ("Gus Reed", "Gus Reed is to say what is done about it.")],
)
def test_a_lead_is_asked_for_an_action_nobody_has_named(responsible: str, to_do: str) -> None:
    said = flat(lead_digest(actions=(an_action(responsible=responsible),)))

    assert f"The stage drifts. {to_do} " in said


def test_what_hurts_is_told_beside_a_corrective_action() -> None:
    made = lead_digest(actions=(an_action(cautions=("Unplug first.", "Gloves on", "Third.")),))

    said = flat(made)
    assert "Caution: Unplug first. Gloves on." in said
    assert "Third" not in said


@pytest.mark.parametrize(("days_ago", "is_told"), [(14, False), (15, True)])
def test_a_unit_out_of_service_for_more_than_two_weeks_is_asked_about(
    days_ago: int, is_told: bool
) -> None:
    made = lead_digest(outages=(out(days_ago),), actions=(an_action(),))

    assert ("STILL OUT OF SERVICE (1)" in text(made)) is is_told
    told = (
        "* NE-7 - Still out of service since Sun 1 Nov 2026 (15 days)"
        " Centrifuge: The lid lock is broken "
    )
    assert (told in flat(made)) is is_told


def test_actions_and_outages_alone_are_reason_enough_to_write() -> None:
    both = lead_digest(actions=(an_action(),), outages=(out(40), out(20, property_number="NE-8")))

    assert subject(both) == "Alder Creek: 1 corrective action, 2 units still out"
    assert "= Nothing is overdue or due. Carry on with the corrective actions below." in flat(both)
    assert subject(lead_digest(outages=(out(40),))) == "Alder Creek: 1 unit still out"
    assert isinstance(lead_digest(outages=(out(3),)), Skipped)


def test_a_long_story_is_cut_and_a_line_break_forges_nothing() -> None:
    story = "word " * 400 + "\r\n* NE-666 - Overdue"

    said = text(lead_digest(actions=(an_action(problem=story),)))

    assert "word …" in said
    assert "NE-666" not in said
    assert len(said) < 2_000


# --- the consultant


def test_a_consultant_reads_actions_whose_review_is_overdue_first() -> None:
    late = dt.date(2026, 11, 9)
    made = digests.consultant(
        region_facts(
            actions=(
                an_action(property_number="NE-3", opened_on=dt.date(2026, 9, 1)),
                an_action(property_number="NE-1", review_on=late),
                an_action(property_number="NE-2", review_on=late - dt.timedelta(days=7)),
                an_action(property_number="NE-4", review_on=ON),
                an_action(property_number="NE-5", review_on=dt.date(2026, 11, 20)),
            )
        )
    )

    told = re.findall(r"\* (NE-\d) - (.*?\))", flat(made))
    since = "pen since Mon 5 Oct 2026"
    assert told == [
        ("NE-2", f"Look whether it worked: overdue since Mon 2 Nov 2026 (o{since})"),
        ("NE-1", f"Look whether it worked: overdue since Mon 9 Nov 2026 (o{since})"),
        ("NE-3", "Open since Tue 1 Sep 2026 (no day set to see whether it worked)"),
        ("NE-4", f"Look today whether it worked (o{since})"),
        ("NE-5", f"O{since} (look by Fri 20 Nov 2026 whether it worked)"),
    ]
    assert subject(made) == "Platte: 5 corrective actions"
    assert (
        "no unit is silent. Look after the corrective action at Alder Creek, Adams County, whose"
        " review is overdue. " in flat(made)
    )


def test_an_action_of_a_site_names_the_site_once() -> None:
    made = digests.consultant(region_facts(actions=(an_action(property_number="", place=ELM),)))

    assert "* Elm Hollow, Sioux County - Open since Mon 5 Oct 2026 (no day set" in flat(made)
    about = " whether it worked) The stage drifts. Say what is done about it. "
    assert about in flat(made)
    assert "* Sioux County - 1 corrective action\n" in text(made)


def test_a_consultant_reads_which_months_wait_the_oldest_first() -> None:
    back = dt.date(2026, 11, 4)
    made = digests.consultant(
        region_facts(
            months=(
                waiting(10, returned_on=back),
                waiting(9, is_reopened=True),
                waiting(8, place=ELM),
                waiting(9, place=ELM),
                waiting(10, place=ELM),
            )
        )
    )

    said = flat(made)
    assert subject(made) == "Platte: 5 months to review"
    assert "Review August 2026 of Elm Hollow, Sioux County first. " in said
    assert (
        "MONTHS TO REVIEW (5) The oldest first; how each stands, and how to sign it:"
        " dueward reviews --region Platte --open."
        " * Elm Hollow - To review: August 2026, September 2026 and October 2026 Sioux County"
        " * Alder Creek - To review again: September 2026; to review: October 2026 (changed after"
        " it was signed; charts are back: October 2026) Adams County " in said
    )


def test_sites_whose_same_months_wait_share_a_line() -> None:
    back = dt.date(2026, 11, 4)
    fox = dataclasses.replace(ELM, site="fox", name="Fox Meadow")
    made = digests.consultant(
        region_facts(
            months=(
                waiting(10, returned_on=back),
                waiting(10, place=ELM, returned_on=back),
                waiting(10, place=fox),
            )
        )
    )

    said = flat(made)
    assert "* 2 sites - To review: October 2026 (charts are back) Alder Creek, Elm Hollow " in said
    assert "* Fox Meadow - To review: October 2026 Sioux County " in said
    assert "MONTHS TO REVIEW (3)" in said


def test_many_months_of_a_site_are_told_as_a_span() -> None:
    made = digests.consultant(region_facts(months=tuple(waiting(month) for month in range(2, 11))))

    assert "To review: 9 months from February 2026 to October 2026 " in flat(made)


def test_months_are_capped_and_say_where_the_rest_is() -> None:
    places = [dataclasses.replace(PLACE, site=f"s-{n}", name=f"Site {n}") for n in range(60)]
    months = tuple(
        waiting(1, place=place, first_on=dt.date(2020 + number // 12, number % 12 + 1, 1))
        for number, place in enumerate(places)
    )

    made = digests.consultant(region_facts(months=months))

    assert "MONTHS TO REVIEW (60)" in text(made)
    assert len(re.findall(r"^\* Site \d+", text(made), re.MULTILINE)) == 40
    assert "and 20 more; see all of them: dueward reviews --region Platte " in flat(made)


def test_counties_where_only_months_wait_are_well_but_for_these() -> None:
    """Most counties have a month to review on the first of each month; it would hide the others."""
    calm = a_chart(place=ELM)

    made = digests.consultant(region_facts(charts=(a_chart(), calm), months=(waiting(10),)))
    late = digests.consultant(
        region_facts(a_duty(-30), charts=(a_chart(), calm), months=(waiting(10),))
    )

    assert "All well" not in text(made)
    assert "All well in 1 other county." in flat(late)
    other = digests.consultant(
        region_facts(a_duty(-30), charts=(calm,), months=(waiting(10, place=ELM),))
    )
    assert "All well in 1 other county, but for months to review." in flat(other)


def test_what_presses_more_stands_before_what_is_begun() -> None:
    made = digests.consultant(
        region_facts(
            a_duty(-30),
            a_duty(3, property_number="NE-2"),
            charts=(a_chart(gaps=days(dt.date(2026, 11, 12))),),
            months=(waiting(10),),
            actions=(an_action(),),
        )
    )

    assert sections(made) == [
        "ANNUAL SERVICE OVERDUE",
        "CORRECTIVE ACTIONS OPEN",
        "CHARTS WITH GAPS",
        "MONTHS TO REVIEW",
        "ANNUAL SERVICE DUE",
    ]
    assert "Start with Alder Creek, Adams County: annual service of NE-1" in flat(made)


def test_with_nothing_begun_the_month_s_first_digest_still_says_all_clear() -> None:
    made = digests.consultant(region_facts(on=FIRST_MONDAY))

    assert isinstance(made, Message)
    assert made.is_all_clear


@pytest.mark.parametrize("name", ["<b>R&D</b>", "R&D\r\n* NE-666 - Overdue by 9 days"])
def test_the_parts_say_the_same_and_names_are_escaped(name: str) -> None:
    place = dataclasses.replace(PLACE, name=name)
    actions = (an_action(place=place, problem=name, responsible=name),)
    lead = lead_digest(actions=actions, outages=(out(40, place=place, reason=name),))
    region = digests.consultant(
        region_facts(actions=actions, months=(waiting(10, place=place, is_reopened=True),))
    )
    for made in (lead, region):
        assert isinstance(made, Message)
        laid = render(made)
        page = re.sub(r"<(style|title).*?</\1>", "", laid.html, flags=re.DOTALL)
        assert "<b>" not in page
        assert not re.search(r"^\* NE-666", laid.text, re.MULTILINE)
        assert max(map(len, laid.text.splitlines())) <= COLUMNS
        words = re.sub(r"\W+", " ", laid.text).casefold()
        for about in re.findall(r'class="about"[^>]*>(.*?)</span>', page):
            plain = about.replace("&lt;", "<").replace("&gt;", ">").replace("&amp;", "&")
            assert re.sub(r"\W+", " ", plain).strip().casefold() in words
