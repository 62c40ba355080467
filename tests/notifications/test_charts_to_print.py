"""What does a consultant's digest say of charts that are to be printed?"""

from __future__ import annotations

import dataclasses
import re

import pytest

from notifications import digests
from notifications.digests.charts_to_print import missing_command, print_command
from notifications.facts import ChartToPrint, ConsultantFacts, Place, WhyPrint
from notifications.messages import Message, Skipped
from notifications.rendering import COLUMNS, render
from tests.notifications.digest_parts import sections, subject, text
from tests.notifications.facts_made import (
    FIRST_MONDAY,
    ON,
    PLACE,
    a_chart,
    a_duty,
    days,
    region_facts,
)

ELM = Place(site="elm", name="Elm Hollow", county="Sioux", region="Platte")
CALM = "No annual service is overdue or due, no chart has gaps, and no unit is silent."


def to_print(**changes: object) -> ChartToPrint:
    given: dict[str, object] = {
        "place": PLACE,
        "property_number": "NE-1",
        "kind": "Bench microscope",
        "year": 2026,
        "why": WhyPrint.NEW_UNIT,
    }
    return ChartToPrint(**{**given, **changes})  # type: ignore[arg-type]


def many(count: int, **changes: object) -> tuple[ChartToPrint, ...]:
    return tuple(to_print(property_number=f"NE-{n}", **changes) for n in range(count))


def told(*charts: ChartToPrint, **facts: object) -> Message:
    made = digests.consultant(region_facts(to_print=charts, **facts))  # type: ignore[arg-type]
    assert isinstance(made, Message)
    return made


def flat(made: Message | Skipped) -> str:
    return re.sub(r"\s+", " ", text(made))


def test_a_chart_alone_is_reason_enough_to_write() -> None:
    made = told(to_print())

    assert subject(made) == "Platte: 1 chart to print"
    assert (
        f"{CALM} Print the chart of 2026 of NE-1 (Bench microscope) for Alder Creek, Adams County."
        " CHARTS TO PRINT (1) Not printed yet, or out of date on paper."
        " * NE-1 - Print its chart of 2026 (no chart of it was ever printed)"
        " Bench microscope: Alder Creek, Adams County"
        " To copy: dueward chart NE-1 --site alder --year 2026 " in flat(made)
    )


@pytest.mark.parametrize(
    ("why", "words"),
    [
        (WhyPrint.NEW_UNIT, "no chart of it was ever printed"),
        (WhyPrint.NEW_YEAR, "charts of other years only"),
        (WhyPrint.MOVED, "printed for another site only"),
        (WhyPrint.CHANGED_RULE, "what is asked for has changed since it was printed"),
        (WhyPrint.CHANGED_DAYS, "a day ahead is crossed out and has to be marked now"),
    ],
)
def test_every_reason_has_words(why: WhyPrint, words: str) -> None:
    assert f"* NE-1 - Print its chart of 2026 ({words}) " in flat(told(to_print(why=why)))


def test_a_few_units_are_named_and_more_share_a_line_with_the_command() -> None:
    few = flat(told(*many(3)))
    assert few.count("Print its chart of 2026") == few.count("To copy: dueward chart NE-") == 3

    said = flat(told(*many(3), to_print(property_number="NE-9", place=ELM)))
    assert (
        "CHARTS TO PRINT (4) Not printed yet, or out of date on paper."
        " * 4 units - Print their charts of 2026 (no chart of it was ever printed)"
        " At Alder Creek and Elm Hollow To copy: dueward chart --missing --region Platte"
        " --out charts " in said
    )


def test_for_several_reasons_one_command_is_told_and_no_chart_is_printed_twice() -> None:
    moved = to_print(property_number="NE-9", place=ELM, why=WhyPrint.MOVED)

    said = flat(told(*many(4), moved))

    assert (
        "CHARTS TO PRINT (5) Not printed yet, or out of date on paper."
        " * All 5 charts - Print them with one command At Alder Creek and Elm Hollow To copy:"
        " dueward chart --missing --region Platte --out charts"
        " * NE-9 - Print its chart of 2026 (printed for another site only)"
        " Bench microscope: Elm Hollow, Sioux County"
        " * 4 units - Print their charts of 2026 (no chart of it was ever printed)"
        " At Alder Creek " in said
    )


def test_a_unit_that_moved_is_printed_where_it_has_no_chart() -> None:
    moved = to_print(place=ELM, why=WhyPrint.MOVED)

    assert "To copy: dueward chart NE-1 --site elm --year 2026 " in flat(told(moved))


def test_the_new_year_s_charts_of_a_state_are_one_line() -> None:
    places = [dataclasses.replace(PLACE, site=f"s-{n}", name=f"Site {n}") for n in range(93)]
    charts = tuple(
        to_print(property_number=f"NE-{n}", place=places[n % 93], year=2027, why=WhyPrint.NEW_YEAR)
        for n in range(283)
    )

    made = told(*charts)

    assert subject(made) == "Platte: 283 charts to print"
    assert (
        f"{CALM} Print 283 charts of 2027, see below. CHARTS TO PRINT (283) Not printed yet, or"
        " out of date on paper. * 283 units - Print their charts of 2027 (charts of other years"
        " only) At 93 sites To copy: dueward chart --missing --region Platte --out charts "
        in flat(made)
    )


def test_this_year_comes_before_the_next_and_what_presses_most_first() -> None:
    reasons = [(2027, WhyPrint.NEW_YEAR), *((2026, why) for why in WhyPrint)]
    charts = [
        to_print(property_number=f"NE-{n}", year=year, why=why)
        for n, (year, why) in enumerate(reasons)
    ]

    found = re.findall(r"\* (NE-\d)", flat(told(*charts)))

    order = ["changed days", "changed rule", "moved", "new unit", "new year"]
    assert [reasons[int(n[3:])][1].value for n in found] == [*order, "new year"]
    assert reasons[int(found[-1][3:])][0] == 2027


def test_what_presses_more_is_told_first_and_stands_above() -> None:
    made = told(
        to_print(),
        charts=(a_chart(gaps=days(ON)),),
        duties=(a_duty(-30),),
    )

    assert subject(made) == "Platte: 1 annual service overdue, 1 chart with gaps"
    assert "Start with Alder Creek, Adams County: annual service of NE-1" in flat(made)
    assert sections(made) == ["ANNUAL SERVICE OVERDUE", "CHARTS WITH GAPS", "CHARTS TO PRINT"]


def test_charts_to_print_never_crowd_out_other_lines() -> None:
    services = tuple(a_duty(-30, property_number=f"S-{n}") for n in range(60))
    charts = [
        to_print(property_number=f"{why.value}-{n}", year=year, why=why)
        for why in WhyPrint
        for year in (2026, 2027)
        for n in range(50)
    ]

    said = text(told(*charts, duties=services))

    assert len(re.findall(r"^\* S-\d+", said, re.MULTILINE)) == 40
    assert len(re.findall(r"^\* (?:All 500|50)", said, re.MULTILINE)) == 5
    assert "CHARTS TO PRINT (500)" in said
    assert "and 300 more; see all of them: dueward chart --status --region Platte " in flat(
        told(*charts, duties=services)
    )


def test_counties_where_only_prints_are_missing_are_well_but_for_these() -> None:
    calm = a_chart(place=ELM)

    made = told(to_print(place=ELM), charts=(calm,), duties=(a_duty(-30),))

    assert "All well in 1 other county, but for charts to print." in flat(made)


def test_without_charts_to_print_the_month_s_first_digest_says_all_clear() -> None:
    made = digests.consultant(region_facts(on=FIRST_MONDAY))

    assert isinstance(made, Message)
    assert made.is_all_clear
    assert not told(to_print(), on=FIRST_MONDAY).is_all_clear


def test_the_command_can_be_copied_whatever_the_names_are() -> None:
    odd = dataclasses.replace(PLACE, site="a b; rm")

    assert print_command(to_print(property_number="../A;1", place=odd)) == (
        "dueward chart '../A;1' --site 'a b; rm' --year 2026"
    )
    assert missing_command(("Platte Valley", "West")) == (
        "dueward chart --missing --region 'Platte Valley' --region West --out charts"
    )
    assert missing_command(()) == "dueward chart --missing --out charts"


@pytest.mark.parametrize("name", ["<b>R&D</b>", "R&D\r\n* NE-666 - Overdue by 9 days"])
@pytest.mark.parametrize("count", [1, 4])
def test_names_are_escaped_and_a_line_break_forges_nothing(name: str, count: int) -> None:
    place = dataclasses.replace(PLACE, name=name)

    laid = render(told(*many(count, place=place, kind=name)))

    assert "<b>" not in laid.html
    assert "R&amp;D" in laid.html
    assert not re.search(r"^\* NE-666", laid.text, re.MULTILINE)
    assert max(map(len, laid.text.splitlines())) <= COLUMNS


def test_a_reader_of_all_regions_is_shown_all() -> None:
    facts: ConsultantFacts = region_facts(to_print=many(20), regions=())

    said = flat(digests.consultant(facts))
    assert "To copy: dueward chart --missing --out charts " in said
