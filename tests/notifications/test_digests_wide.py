"""What consultants and program managers are told, in which order and words."""

from __future__ import annotations

import datetime as dt
import re

import pytest

from notifications import digests
from notifications.facts import Duty, Place, SilentUnit, Standing
from notifications.messages import Message
from notifications.rendering import render
from tests.notifications.digest_parts import sections, subject, text
from tests.notifications.facts_made import (
    ON,
    PLACE,
    ROOT,
    a_chart,
    a_duty,
    days,
    program_facts,
    region_facts,
)


def test_a_consultant_sees_who_owes_service_the_longest_overdue_first() -> None:
    sioux = Place(site="elm", name="Elm Hollow", county="Sioux", region="Platte")
    made = digests.consultant(
        region_facts(
            a_duty(-20),
            a_duty(-60, place=sioux, property_number="NE-2"),
            a_duty(4, property_number="NE-3"),
        )
    )

    said = text(made)
    assert subject(made) == "Platte: 2 annual services overdue, 1 due"
    assert said.index("* Sioux County") < said.index("* Adams County")
    assert said.index("* NE-2 - Overdue by 60 days") < said.index("* NE-1 - Overdue by 20 days")
    assert said.index("* NE-1 - Overdue") < said.index("* NE-3 - Due by Fri 20 Nov 2026")
    flat = re.sub(r"\s+", " ", said)
    assert (
        "Start with Elm Hollow, Sioux County: annual service of NE-2 (Bench microscope),"
        " overdue by 60 days, the longest of all." in flat
    )
    assert "* Sioux County - annual service: 1 overdue (longest 60 days) * Adams" in flat
    assert "* Adams County - annual service: 1 overdue (longest 20 days), 1 due ANNUAL" in flat


def test_a_consultant_is_told_of_other_work_only_when_it_is_overdue() -> None:
    def spore_test(due_in: int, property_number: str) -> Duty:
        return a_duty(
            due_in,
            property_number=property_number,
            is_annual_service=False,
            task="spore-test",
            title="Run an indicator",
        )

    made = digests.consultant(region_facts(spore_test(-30, "NE-1"), spore_test(3, "NE-2")))

    assert sections(made) == ["OTHER WORK OVERDUE"]
    assert "NE-2" not in text(made)


def test_a_silent_unit_is_told_once_and_not_again_among_the_charts() -> None:
    gaps = days(dt.date(2026, 11, 12))
    silent = SilentUnit(
        place=PLACE, property_number="NE-1", kind="Bench microscope", gaps=20, last_done_on=None
    )
    made = digests.consultant(
        region_facts(
            charts=(
                a_chart(gaps=gaps, missed=1),
                a_chart(property_number="NE-2", gaps=gaps, missed=1),
            ),
            silent=(silent,),
        )
    )

    said = text(made)
    assert subject(made) == "Platte: 1 silent unit, 1 other chart with gaps"
    assert sections(made) == ["SILENT UNITS", "OTHER CHARTS WITH GAPS"]
    assert "* Adams County - 1 silent unit, 1 other chart with gaps\n" in said
    assert said.count("NE-1") == 1
    assert "* NE-1 - 20 marks missing (never done on record)" in said
    assert "* Alder Creek - 1 mark missing (on NE-2)" in said
    assert (
        "Call Alder Creek, Adams County: 1 silent unit, without a mark for three weeks or more."
        in re.sub(r"\s+", " ", said)
    )


def a_place(county: str) -> Place:
    return Place(site=county.casefold(), name=f"{county} Hall", county=county, region="Platte")


def test_counties_at_a_glance_are_those_with_something_and_the_rest_are_counted() -> None:
    made = digests.consultant(
        region_facts(
            a_duty(-30, place=a_place("Adams"), is_annual_service=False, title="Check"),
            a_duty(3, place=a_place("Boone")),
            a_duty(200, place=a_place("Cherry")),
            charts=(a_chart(place=a_place("Dawes")), a_chart(place=a_place("Adams"))),
        )
    )

    glance = text(made).partition("COUNTIES AT A GLANCE\n")[2].partition("\n\nANNUAL")[0]
    assert glance == (
        "The one that waits longest first.\n"
        "\n"
        "* Boone County - annual service: 1 due\n"
        "* Adams County - 1 other task overdue\n"
        "\n"
        "All well in 2 other counties."
    )


def test_a_consultant_s_subject_tells_what_there_is_and_no_zeros() -> None:
    def told(*duties: Duty) -> str:
        return subject(digests.consultant(region_facts(*duties)))

    other = a_duty(-30, is_annual_service=False, title="Check")
    assert told(a_duty(-30)) == "Platte: 1 annual service overdue"
    assert told(a_duty(3), a_duty(4)) == "Platte: 2 annual services due"
    assert told(a_duty(-30), a_duty(3), other) == "Platte: 1 annual service overdue, 1 due"
    assert told(other) == "Platte: 1 task overdue"


def test_a_manager_s_subject_tells_what_there_is_and_no_zeros() -> None:
    def told(*duties: Duty) -> str:
        return subject(digests.manager(program_facts(*duties)))

    whose = "Annual services, all regions"
    assert told(a_duty(-40), a_duty(3)) == f"{whose}: 1 overdue, 1 to plan, $170.00"
    assert told(a_duty(3)) == f"{whose}: 1 to plan, $85.00"
    assert told(a_duty(200, standing=Standing.DUE)) == f"{whose}: 1 can be booked now"


def test_a_manager_sees_months_and_regions_with_fees_to_the_cent() -> None:
    hills = Place(site="fox", name="Fox Meadow", county="Cherry", region="Sandhills")
    made = digests.manager(
        program_facts(
            a_duty(-40, fee_cents=14550),
            a_duty(3),
            a_duty(10, place=hills),
            a_duty(40, place=hills, fee_cents=None),
            a_duty(180, fee_cents=5),
            a_duty(181, fee_cents=999),
        )
    )

    said = re.sub(r"\s+", " ", text(made))
    assert "Overdue already: 1 service, $145.50 * Platte: 1 service, $145.50" in said
    assert (
        "November 2026: 2 services, $170.00"
        " * Platte: 1 service, $85.00 * Sandhills: 1 service, $85.00" in said
    )
    assert "December 2026: 1 service, 1 without a fee on record" in said
    assert "May 2027: 1 service, $0.05" in said
    assert "All of it: 5 services, $315.55 and 1 without a fee on record" in said
    assert "$9.99" not in said


def test_what_is_past_due_within_its_grace_counts_for_this_month() -> None:
    made = digests.manager(
        program_facts(a_duty(-10, on=dt.date(2026, 12, 7)), on=dt.date(2026, 12, 7))
    )

    assert "December 2026: 1 service" in text(made)
    assert "November 2026" not in text(made).replace("27 Nov 2026", "")


@pytest.mark.parametrize("week", range(5))
def test_a_manager_s_digest_comes_every_week_even_with_nothing_to_plan(week: int) -> None:
    on = ON + dt.timedelta(days=7 * week)

    made = digests.manager(program_facts(a_duty(300), on=on))

    assert isinstance(made, Message)
    assert (made.period, made.is_all_clear) == (f"2026-W{47 + week}", True)
    assert "This mail comes for the record's root below." in re.sub(r"\s+", " ", text(made))


def test_a_manager_s_digest_ends_with_the_record_s_root_in_groups() -> None:
    """The groups, put together, are the root; both parts say what the mail is kept for."""
    for services in ((), (a_duty(3),)):
        made = digests.manager(program_facts(*services))
        assert isinstance(made, Message)
        page = re.sub(r"<[^>]+>", "", render(made).html)
        for said in (text(made), page):
            flat = re.sub(r"\s+", " ", said)
            told = re.search(r"Record root on Mon 16 Nov 2026: ((?:[0-9a-f]{16} ){4})", flat)
            assert told is not None
            assert told[1].replace(" ", "") == ROOT
            command = f"dueward verify --root {ROOT[:16]}"
            kept = f"Keep this mail: {command} checks a later record against it."
            assert kept in flat


def test_a_manager_s_mail_says_when_it_comes() -> None:
    said = re.sub(r"\s+", " ", text(digests.manager(program_facts(a_duty(3)))))

    assert (
        "It comes once a week at 07:00, your time. It comes even when there is nothing to plan:"
        " it carries the record's root, and silence means a fault." in said
    )
