"""What site leads are told, in which order and words, and when nothing is sent."""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import pytest

from notifications import digests
from notifications.digests.frame import subject as cut_subject
from notifications.digests.words import dollars, gap_words, stands
from notifications.facts import (
    Chart,
    Duty,
    Period,
    Place,
    SiteFacts,
    SiteLeadFacts,
    Standing,
    Visit,
)
from notifications.messages import Kind, Message, Skipped
from schedules.rules import Each
from tests.notifications.digest_parts import sections, subject, text
from tests.notifications.facts_made import (
    FIRST_MONDAY,
    ON,
    PLACE,
    READER,
    a_chart,
    a_duty,
    days,
    lead_facts,
    region_facts,
)


@pytest.mark.parametrize(
    ("due_in", "words"),
    [
        (-27, "Overdue by 27 days (due Tue 20 Oct 2026)"),
        (-16, "Overdue by 16 days (due Sat 31 Oct 2026)"),
        (-15, "Was due Sun 1 Nov 2026"),  # today is the last day that is not overdue
        (-3, "Was due Fri 13 Nov 2026 (overdue after Sat 28 Nov 2026)"),
        (0, "Due today, Mon 16 Nov 2026 (overdue after Tue 1 Dec 2026)"),
        (18, "Due by Fri 4 Dec 2026"),
    ],
)
def test_a_duty_is_told_in_plain_words(due_in: int, words: str) -> None:
    assert stands(a_duty(due_in), ON) == words


def test_one_day_is_one_day() -> None:
    assert (
        stands(a_duty(-1, standing=Standing.OVERDUE), ON)
        == "Overdue by 1 day (due Sun 15 Nov 2026)"
    )


def test_gaps_are_told_by_their_periods() -> None:
    def told(each: Each, *gaps: tuple[dt.date, dt.date], missed: int = 1) -> str:
        periods = tuple(Period(from_on=first, to_on=last) for first, last in gaps)
        return gap_words(a_chart(each=each, gaps=periods, missed=missed))

    week = (dt.date(2026, 11, 9), dt.date(2026, 11, 15))
    october = (dt.date(2026, 10, 1), dt.date(2026, 10, 31))
    quarter = (dt.date(2026, 7, 1), dt.date(2026, 9, 30))
    assert told(Each.WEEK, week) == "Not marked: the week of Mon 9 Nov 2026"
    assert told(Each.MONTH, october) == "Not marked: October 2026"
    assert told(Each.QUARTER, quarter) == "Not marked: July to September 2026"
    assert told(Each.MONTH, missed=3) == "Not marked: the last 3 months"
    assert told(Each.YEAR) == "Not marked: the last year"
    two = days(dt.date(2026, 11, 12), dt.date(2026, 11, 13))
    assert gap_words(a_chart(gaps=two)) == "Not marked: Thu 12 Nov 2026 and Fri 13 Nov 2026"
    many = days(*(dt.date(2026, 11, day) for day in (2, 3, 4, 5, 13)))
    assert gap_words(a_chart(gaps=many)) == (
        "Not marked: 5 open days from Mon 2 Nov 2026 to Fri 13 Nov 2026"
    )


@pytest.mark.parametrize(
    ("cents", "shown"), [(0, "$0.00"), (5, "$0.05"), (8500, "$85.00"), (123456789, "$1,234,567.89")]
)
def test_cents_become_dollars_exactly(cents: int, shown: str) -> None:
    assert dollars(cents) == shown


def test_a_lead_reads_what_is_late_then_what_is_next_then_what_is_missing() -> None:
    charts = (
        a_chart(gaps=days(dt.date(2026, 11, 12)), missed=0, standing=Standing.DUE),
        a_chart(property_number="NE-9", each=Each.MONTH, closes_on=dt.date(2026, 11, 27)),
    )
    made = digests.site_lead(
        lead_facts(a_duty(40), a_duty(-30), a_duty(10), a_duty(-50), a_duty(60), charts=charts)
    )

    assert sections(made) == [
        "OVERDUE",
        "DUE THIS WEEK AND NEXT",
        "CHARTS WITH GAPS",
        "CAN BE BOOKED OR DONE NOW",
        "CHARTS TO MARK AS USUAL",
    ]
    assert subject(made) == "Alder Creek: 2 overdue, 2 due soon, 1 chart with gaps"
    said = text(made)
    assert said.index("Overdue by 50 days") < said.index("Overdue by 30 days")
    assert said.index("Due by Thu 26 Nov 2026") < said.index("Mark by Fri 27 Nov 2026")


@pytest.mark.parametrize(
    ("duties", "charts", "told"),
    [
        ((), (a_chart(gaps=days(dt.date(2026, 11, 12))),), "1 chart with gaps"),
        ((a_duty(-30),), (), "1 overdue"),
        ((a_duty(3), a_duty(4)), (), "2 due soon"),
        ((a_duty(40),), (), "1 can be booked or done now"),
        ((a_duty(40), a_duty(3)), (), "1 due soon"),
    ],
)
def test_a_subject_tells_what_there_is_and_no_zeros(
    duties: tuple[Duty, ...], charts: tuple[Chart, ...], told: str
) -> None:
    assert subject(digests.site_lead(lead_facts(*duties, charts=charts))) == f"Alder Creek: {told}"


@pytest.mark.parametrize(
    ("whose", "news", "told"),
    [
        ("A" * 52, ("1 overdue", "2 due"), f"{'A' * 52}: 1 overdue, 2 due"),
        ("A" * 53, ("1 overdue", "2 due"), "2 sites: 1 overdue, 2 due"),
        ("A" * 50, ("1 overdue", "x" * 60), f"{'A' * 50}: 1 overdue and more"),
        ("A" * 51, ("1 overdue", "x" * 60), "2 sites: 1 overdue and more"),
        ("A" * 9, ("x" * 70, "2 due"), f"2 sites: {'x' * 70} and more"),
    ],
)
def test_a_subject_is_short_enough_not_to_be_folded(
    whose: str, news: tuple[str, ...], told: str
) -> None:
    assert cut_subject(whose, "2 sites", news) == told


@pytest.mark.parametrize(
    ("duties", "charts", "first"),
    [
        (
            (a_duty(-30), a_duty(-50, property_number="NE-2"), a_duty(1)),
            (),
            "Start with NE-2 (Bench microscope): Service by the vendor. Overdue by 50 days"
            " (due Sun 27 Sep 2026).",
        ),
        (
            (a_duty(9, property_number="NE-2"), a_duty(3)),
            (),
            "Nothing is overdue. Start with NE-1 (Bench microscope): Service by the vendor."
            " Due by Thu 19 Nov 2026.",
        ),
        (
            (),
            (a_chart(gaps=days(dt.date(2026, 11, 12)), missed=1),),
            "No service or check is late. Settle the gaps, first those of"
            " NE-1 (Bench microscope): Clean the optics.",
        ),
        ((a_duty(40),), (), "Nothing is overdue, and nothing is due this week or next."),
    ],
)
def test_a_lead_s_digest_opens_with_what_to_do_first(
    duties: tuple[Duty, ...], charts: tuple[Chart, ...], first: str
) -> None:
    said = re.sub(r"\s+", " ", text(digests.site_lead(lead_facts(*duties, charts=charts))))

    assert f"= {first} " in said


def test_this_week_and_next_end_on_the_second_sunday() -> None:
    on_sunday, on_monday = a_duty(13), a_duty(14, property_number="NE-2")

    made = digests.site_lead(lead_facts(on_sunday, on_monday))

    said = text(made)
    assert said.index("NE-1 - Due by Sun 29 Nov") < said.index("CAN BE BOOKED OR DONE NOW")
    assert said.index("NE-2 - Due by Mon 30 Nov") > said.index("CAN BE BOOKED OR DONE NOW")


def test_what_became_overdue_since_the_last_digest_is_marked_new() -> None:
    """The grace is 15 days: due 22 days ago was overdue for the first time 6 days ago."""
    made = digests.site_lead(
        lead_facts(
            a_duty(-22), a_duty(-23, property_number="NE-2"), a_duty(-16, property_number="NE-3")
        )
    )

    new = re.findall(r"^\* (\S+) .*\n?.*New this week", text(made), re.MULTILINE)
    assert new == ["NE-1", "NE-3"]


CAUTIONS = (
    "Switch off and unplug first.",
    "Gloves on",
    "Never wipe dry.",
    "The manufacturer's manual comes first.",
)


def test_what_hurts_is_told_beside_each_task_that_is_due_or_overdue() -> None:
    """Design 8; two cautions at most, and where the others stand."""
    charts = (
        a_chart(property_number="NE-4", cautions=CAUTIONS[:1]),
        a_chart(property_number="NE-5", gaps=days(dt.date(2026, 11, 12)), cautions=CAUTIONS[:2]),
    )
    made = digests.site_lead(
        lead_facts(
            a_duty(-30, cautions=CAUTIONS),
            a_duty(3, property_number="NE 2", cautions=CAUTIONS[:2]),
            a_duty(5, property_number="NE-3"),
            charts=charts,
        )
    )

    said = re.sub(r"\s+", " ", text(made))
    service = "Bench microscope: Service by the vendor"
    optics = "Bench microscope: Clean the optics"
    two = "Caution: Switch off and unplug first. Gloves on."
    assert f"{service} {two} More: dueward why NE-1 annual-service DUE" in said
    assert f"* NE 2 - Due by Thu 19 Nov 2026 {service} {two} * NE-3" in said
    assert f"* NE-3 - Due by Sat 21 Nov 2026 {service} CHARTS WITH GAPS" in said
    assert f"{optics} {two} CHARTS TO MARK AS USUAL" in said
    assert f"* NE-4 - Mark today {optics} Caution: Switch off and unplug first. " in said


def test_a_caution_is_told_once_in_a_section_and_then_pointed_to() -> None:
    """Forty lines of the same words would push a mail over what mailboxes show."""
    late = [a_duty(-30 - n, property_number=f"NE-{n}", cautions=CAUTIONS) for n in range(3)]

    said = re.sub(
        r"\s+", " ", text(digests.site_lead(lead_facts(*late, a_duty(2, cautions=CAUTIONS))))
    )

    assert said.count("Caution: Switch off and unplug first. Gloves on. More: dueward why ") == 2
    assert said.count("Service by the vendor. Caution: as above for the same task. ") == 2


def test_where_more_cautions_stand_is_a_command_that_a_shell_reads_as_meant() -> None:
    late = a_duty(-30, property_number="$(halt)", cautions=CAUTIONS)

    said = re.sub(r"\s+", " ", text(digests.site_lead(lead_facts(late))))

    assert "More: dueward why '$(halt)' annual-service " in said


def test_units_whose_cautions_differ_do_not_share_a_line() -> None:
    charts = (a_chart(cautions=CAUTIONS[:1]), a_chart(property_number="NE-2"))

    said = text(digests.site_lead(lead_facts(a_duty(-30), charts=charts)))

    assert "* NE-1 - Mark today" in said
    assert "* NE-2 - Mark today" in said


def test_units_with_the_same_cell_to_mark_share_a_line() -> None:
    charts = tuple(a_chart(property_number=f"NE-{n}") for n in (1, 2, 3))

    said = text(digests.site_lead(lead_facts(a_duty(-30), charts=charts)))

    assert "CHARTS TO MARK AS USUAL (3)" in said
    assert "* 3 units: NE-1, NE-2, NE-3 - Mark today" in said


def test_a_lead_of_two_sites_gets_one_mail_with_a_part_for_each() -> None:
    other = Place(site="blue", name="Bluestem", county="Adams", region="Platte")
    made = digests.site_lead(
        SiteLeadFacts(
            reader=READER,
            on=ON,
            sites=(
                SiteFacts(place=PLACE, duties=(a_duty(5),), charts=()),
                SiteFacts(place=other, duties=(a_duty(-30, place=other),), charts=()),
            ),
        )
    )

    said = text(made)
    assert (
        said.index("Alder Creek\n---") < said.index("Due by Sat 21") < said.index("Bluestem\n---")
    )
    assert said.index("Bluestem\n---") < said.index("* NE-1 - Overdue by 30 days")
    flat = re.sub(r"\s+", " ", said)
    assert "Start with NE-1 (Bench microscope): Service by the vendor, at Bluestem." in flat


def test_overdue_work_of_the_last_site_is_not_pushed_out_by_the_first() -> None:
    other = Place(site="blue", name="Bluestem", county="Adams", region="Platte")
    many = tuple(a_duty(5, property_number=f"A-{n}") for n in range(60))
    made = digests.site_lead(
        SiteLeadFacts(
            reader=READER,
            on=ON,
            sites=(
                SiteFacts(place=PLACE, duties=many, charts=()),
                SiteFacts(
                    place=other,
                    duties=tuple(
                        a_duty(-30, place=other, property_number=f"B-{n}") for n in range(9)
                    ),
                    charts=(),
                ),
            ),
        )
    )

    said = text(made)
    assert len(re.findall(r"^\* B-\d", said, re.MULTILINE)) == 9
    assert len(re.findall(r"^\* A-\d", said, re.MULTILINE)) == 31


def test_a_visit_is_told_when_it_is_known() -> None:
    visit = Visit(
        on=dt.date(2026, 11, 24), vendor="Platte Calibration", property_numbers=("NE-1", "NE-2")
    )
    site = SiteFacts(place=PLACE, duties=(), charts=(), visit=visit)

    said = text(digests.site_lead(SiteLeadFacts(reader=READER, on=ON, sites=(site,))))

    assert "Next visit: Tue 24 Nov 2026, Platte Calibration, for 2 units: NE-1, NE-2." in re.sub(
        r"\s+", " ", said
    )


def test_a_command_to_copy_quotes_what_a_shell_would_run() -> None:
    place = dataclasses.replace(PLACE, site="$(halt); x")
    late = tuple(a_duty(-30, place=place, property_number=f"NE-{n}") for n in range(41))
    site = SiteFacts(place=place, duties=late, charts=())

    said = text(digests.site_lead(SiteLeadFacts(reader=READER, on=ON, sites=(site,))))

    assert "--site '$(halt); x' --on" in said


def test_marks_of_every_day_and_week_alone_are_no_reason_to_write() -> None:
    weekly = a_chart(each=Each.WEEK, closes_on=dt.date(2026, 11, 20))

    made = digests.site_lead(lead_facts(a_duty(90), charts=(a_chart(), weekly)))

    reason = "nothing to do; all clear is told once a month"
    assert made == Skipped(Kind.SITE_LEAD, "ana@lab.example", "2026-W47", reason)


@pytest.mark.parametrize("day", range(1, 8))
def test_the_first_monday_of_a_month_says_all_clear(day: int) -> None:
    monday = next(
        dt.date(2026, month, day)
        for month in range(1, 13)
        if dt.date(2026, month, day).weekday() == 0
    )

    for made in (
        digests.site_lead(lead_facts(on=monday)),
        digests.consultant(region_facts(on=monday)),
    ):
        assert isinstance(made, Message)
        assert made.is_all_clear
    assert isinstance(digests.consultant(region_facts(on=monday + dt.timedelta(days=7))), Skipped)


def test_a_day_within_the_week_asks_for_the_digest_of_that_week() -> None:
    thursday = FIRST_MONDAY + dt.timedelta(days=3)

    made = digests.site_lead(lead_facts(on=thursday))

    assert isinstance(made, Message)
    assert (made.period, made.is_all_clear) == ("2026-W50", True)
