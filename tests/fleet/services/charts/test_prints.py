"""Which print is a chart, what is frozen with it, and which print does it replace?"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
import re

import pytest
from hypothesis import given

from fleet.domain.prints import Print
from fleet.services.charts.facts import OPEN, ChartRow, Face, RowRole
from fleet.services.charts.frozen import (
    cells_of,
    frozen_cells,
    frozen_row,
    frozen_rows,
    rows_of,
)
from fleet.services.charts.prints import current_prints, prints_of
from fleet.services.charts.rows import row_plans
from fleet.services.columns import book_of
from schedules.rulebook import shipped_book
from tests.fleet.services.charts.print_fleet import BOOK, NOW, OnePage, PrintFleet, rule
from tests.reference.bridge import register_of
from tests.reference.records import RefFleet
from tests.strategies import fleets

KEY = ("A-1", "alder", 2026)


def test_a_print_says_what_was_printed_where_and_when() -> None:
    fleet = PrintFleet()

    (printed,) = fleet.print()

    chart, made = printed.chart, printed.print
    assert fleet.prints() == [made]
    assert made == Print(
        number="PRINT000",
        property_number="A-1",
        site="alder",
        year=2026,
        printed_on=dt.date(2026, 7, 1),
        paper="letter",
        layout="1",
        pages=1,
        geometry="{}",
        days=chart.days,
        rows=frozen_rows(chart.rows),
        cells=frozen_cells(chart.rows),
    )
    assert made.days.count(OPEN) == 261  # weekdays of 2026, a common year that begins on Thursday
    assert cells_of(made) == tuple("".join(face.sign for face in r.faces) for r in chart.rows)


def test_a_print_bears_the_civil_date_of_its_site() -> None:
    fleet = PrintFleet()
    fleet.unit("E-1", site="elm")
    half_past_midnight_in_chicago = dt.datetime(2026, 7, 1, 5, 30, tzinfo=dt.UTC)

    made = fleet.print(fleet.chart(), fleet.chart("E-1", "elm"), now=half_past_midnight_in_chicago)

    assert [one.print.printed_on.day for one in made] == [1, 30]


def test_a_number_that_is_taken_is_drawn_again() -> None:
    fleet = PrintFleet()
    fleet.unit("A-2")
    fleet.print()
    drawn = iter(("PRINT000", "PRINT000", "NEW00001", "NEW00001", "NEW00002"))
    charts = [fleet.chart(), fleet.chart("A-2")]

    made = prints_of(charts, fleet.prints(), OnePage(), drawn.__next__, "a4", None, NOW)

    assert [one.print.number for one in made] == ["NEW00001", "NEW00002"]


def test_a_chart_that_is_printed_again_replaces_the_print_before_and_tells_the_difference() -> None:
    fleet = PrintFleet()
    fleet.print()
    fleet.closed(dt.date(2026, 8, 3), dt.date(2026, 8, 7), "flood")

    (second,) = fleet.print()
    (third,) = fleet.print()

    assert (second.print.replaces, third.print.replaces) == ("PRINT000", "PRINT001")
    assert second.differs == ["days now closed: 3 to 7 Aug (closure: flood)"]
    assert third.differs == []
    assert current_prints(fleet.prints()) == {KEY: third.print}


def test_charts_of_other_sites_and_years_replace_nothing() -> None:
    fleet = PrintFleet()
    fleet.moves("birch", dt.date(2026, 10, 1))
    charts = [fleet.chart(), fleet.chart(site="birch"), fleet.chart(site="birch", year=2027)]

    made = fleet.print(*charts)

    assert [one.print.replaces for one in made] == ["", "", ""]
    assert len(current_prints(fleet.prints())) == 3


def test_a_copy_as_known_at_an_instant_neither_replaces_nor_is_replaced() -> None:
    fleet = PrintFleet()
    fleet.print()
    chicago = dt.timezone(dt.timedelta(hours=-5))

    (copy,) = fleet.print(known_at=dt.datetime(2026, 6, 1, 12, tzinfo=chicago))
    (again,) = fleet.print()

    assert copy.print.known_at == "2026-06-01T17:00:00+00:00"
    assert (copy.print.replaces, copy.differs) == ("", ())
    assert again.print.replaces == "PRINT000"


def test_a_replaced_print_is_not_current_whatever_its_number() -> None:
    fleet = PrintFleet()
    fleet.drawn = iter(("Z", "A"))
    fleet.print()

    (second,) = fleet.print()

    assert second.print.replaces == "Z"
    assert current_prints(fleet.prints()) == {KEY: second.print}


def test_of_prints_that_do_not_know_of_each_other_the_latest_is_current() -> None:
    (printed,) = PrintFleet().print()
    early = dataclasses.replace(printed.print, number="Z", printed_on=dt.date(2026, 1, 2))

    assert current_prints([printed.print, early]) == {KEY: printed.print}


# --- what is frozen


@given(fleets())
def test_rows_that_are_read_back_are_those_that_were_frozen(drawn: RefFleet) -> None:
    register = register_of(drawn)
    (printed,) = PrintFleet().print()
    for unit in register.units.values():
        for year in (2025, 2026, 2027):
            plans = row_plans(book_of(register).kinds[unit.kind], unit.model, year).rows
            text = frozen_rows(plans)
            told = dataclasses.replace(printed.print, rows=text)
            assert rows_of(told) == tuple(frozen_row(plan) for plan in plans)
            assert json.dumps(
                json.loads(text), sort_keys=True, separators=(",", ":"), ensure_ascii=False
            ) == text  # fmt: skip


def test_every_field_of_a_version_is_frozen_and_read_back() -> None:
    fleet = PrintFleet()
    limits, warned = '{ low = 2.0, high = 8.5, unit = "C" }', '["Unplug first."]'
    fleet.book(
        rule("optics", 'each = "open-day"\nfrom = 2026-03-02', range=limits, times="2"),
        rule("oil", 'every = "P2W"', early="3", grace="2", keep_anchor="1", cautions=warned),
        rule("belt", 'every = "P1M"\nanchor = 2026-01-31', roll='"preceding"'),
        rule("dust", 'every = "P1M"', first='"at-start"', due_after='["repaired", "moved"]'),
    )
    (printed,) = fleet.print()

    first, second, oil, belt, dust, initials = rows_of(printed.print)
    version = first.versions[0]
    assert (first.role, first.task, first.turn, first.times) == (RowRole.DAY, "optics", 1, 2)
    assert (second.turn, second.versions) == (2, first.versions)
    assert (version.from_on, version.until_on, version.times) == (dt.date(2026, 3, 2), None, 2)
    assert version.range == ("2.0", "8.5", "C")
    assert (oil.role, oil.versions[0].every) == (RowRole.ON_DAY, "P2W")
    assert (oil.versions[0].early, oil.versions[0].grace, oil.versions[0].keep_anchor) == (3, 2, 1)
    assert re.fullmatch("[0-9a-f]{64}", oil.versions[0].cautions)
    assert (belt.versions[0].anchor_on, belt.versions[0].roll) == (
        dt.date(2026, 1, 31),
        "preceding",
    )
    assert (dust.versions[0].first, dust.versions[0].due_after) == (
        "at-start",
        ("moved", "repaired"),
    )
    assert (initials.role, initials.task, initials.versions) == (RowRole.INITIALS, "", ())


def test_what_is_frozen_is_the_same_on_every_machine() -> None:
    """The form is kept for as long as paper is: this line is not to change."""
    plan = row_plans(book_of(PrintFleet().record.register()).kinds["microscope"], "M1", 2026).rows[
        -1
    ]

    assert frozen_rows([plan]) == (
        '[{"each":"month","role":"box","task":"stand-check","title":"Do stand-check",'
        '"versions":[{"each":"month","title":"Do stand-check"}]}]'
    )


@pytest.mark.parametrize(
    ("faces", "told"), [((), ()), (("..d", "W"), ("..d", "W")), (("", "."), ("", "."))]
)
def test_cells_are_read_back_row_by_row(faces: tuple[str, ...], told: tuple[str, ...]) -> None:
    plan = row_plans(shipped_book().kinds["microscope"], "M1", 2026).rows[0]
    fields = {field.name: getattr(plan, field.name) for field in dataclasses.fields(plan)}
    rows = [ChartRow(**fields, faces=tuple(map(Face, signs))) for signs in faces]
    (printed,) = PrintFleet().print()

    made = dataclasses.replace(printed.print, rows=frozen_rows(rows), cells=frozen_cells(rows))

    assert cells_of(made) == told


# --- the rows of a chart


def test_rows_stand_in_the_order_of_their_roles_and_long_duties_in_the_header() -> None:
    fleet = PrintFleet()
    fleet.book(
        rule("year-check", 'each = "year"'),
        rule("service", 'every = "P1Y"'),
        rule("month-check", 'each = "month"'),
        rule("oil", 'every = "P89D"'),
        rule("wash", 'each = "week"'),
        rule("belt", 'every = "P3M"'),
        rule("optics", 'each = "open-day"', times="2"),
        rule("lamp", 'every = "P90D"'),
        rule("stage", 'every = "P2Y"'),
    )
    plans = row_plans(book_of(fleet.record.register()).kinds["microscope"], "M1", 2026)

    assert [(row.role.value, row.task, row.turn) for row in plans.rows] == [
        ("day", "optics", 1),
        ("day", "optics", 2),
        ("week", "wash", 1),
        ("on the day", "oil", 1),
        ("on the day", "stage", 1),
        ("initials", "", 1),
        ("box", "month-check", 1),
        ("box", "year-check", 1),
        ("dated", "service", 1),
        ("dated", "belt", 1),
        ("dated", "lamp", 1),
    ]
    assert [versions[0].task for versions in plans.dated] == ["service", "belt", "lamp"]


@pytest.mark.parametrize(
    ("book", "is_chart"),
    [
        ((rule("optics", 'each = "year"'),), True),
        ((rule("oil", 'every = "P2M"'),), True),
        ((rule("oil", 'every = "P3M"'),), False),
        (tuple(rule(f"duty-{n}", 'every = "P1Y"') for n in range(5)), False),
        ((rule("optics", 'each = "month"\nuntil = 2025-12-31'),), False),
        ((rule("optics", 'each = "year"\nfrom = 2026-02-01'),), False),
    ],
)
def test_a_kind_has_a_chart_where_something_is_marked_or_due_within_three_months(
    book: tuple[str, ...], is_chart: bool
) -> None:
    fleet = PrintFleet()
    fleet.book(*book)
    kind = book_of(fleet.record.register()).kinds["microscope"]

    assert row_plans(kind, "M1", 2026).is_chart is is_chart


def test_a_rule_whose_period_changes_has_a_row_for_each_of_the_year_s_periods() -> None:
    fleet = PrintFleet()
    weekly = rule("optics", 'each = "week"\nfrom = 2026-12-31')
    fleet.book(*BOOK, weekly)
    kind = book_of(fleet.record.register()).kinds["microscope"]

    def roles(year: int) -> list[str]:
        rows = row_plans(kind, "M1", year).rows
        return [row.role.value for row in rows if row.task == "optics"]

    # The last ISO week of 2026 begins on Monday 28 December, before the weekly version speaks.
    assert (roles(2026), roles(2027)) == (["day"], ["week"])


def test_the_week_of_a_thursday_on_1_january_is_of_its_monday_s_version() -> None:
    """2026 begins on a Thursday, so ISO week 1 begins on 29 December 2025 (ISO 8601)."""
    fleet = PrintFleet()
    daily = rule("optics", 'each = "open-day"\nfrom = 2026-01-01')
    fleet.book(rule("optics", 'each = "week"\nuntil = 2025-12-31'), daily)
    kind = book_of(fleet.record.register()).kinds["microscope"]

    rows = row_plans(kind, "M1", 2026).rows

    assert [row.role for row in rows] == [RowRole.DAY, RowRole.WEEK, RowRole.INITIALS]
