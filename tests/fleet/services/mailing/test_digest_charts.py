"""Who is told in a digest which charts are to be printed?"""

from __future__ import annotations

import datetime as dt
from typing import cast

from fleet.domain.records import Person, Role
from fleet.services.mailing.digest import DigestRun, digests
from fleet.services.mailing.digest_run import digest_run
from fleet.services.ports import Record
from fleet.services.questions import Question
from notifications.messages import Kind
from notifications.settings import Settings
from tests.fleet.services.charts.print_fleet import JULY_1, NOW, PrintFleet
from tests.fleet.services.mailing.digest_scenario import BOOK, ROOT, a_state
from tests.reference.bridge import NoPublicHolidays


def subjects(run: DigestRun) -> dict[str, str]:
    return {message.email: message.subject for message in run.messages}


def a_fleet_with_readers() -> PrintFleet:
    """The print fleet with a consultant for each region and a lead."""
    fleet = PrintFleet()
    for email, role, where in (
        ("north@lab.example", Role.CONSULTANT, {"region": "North"}),
        ("west@lab.example", Role.CONSULTANT, {"region": "West"}),
        ("lee@lab.example", Role.SITE_LEAD, {"site": "alder"}),
    ):
        fleet.write(Person(email=email, name="", role=role, **where))
    # Without a record of the months before, nothing but the chart is to be told.
    fleet.unit("A-1", record_from_on=JULY_1)
    return fleet


def asked(fleet: PrintFleet, on: dt.date = JULY_1) -> DigestRun:
    record = cast("Record", fleet.record)
    run, failures = digest_run(record, NoPublicHolidays(), Question(now=NOW, on=on), on, Settings())
    assert failures == []
    return run


def test_the_consultant_of_the_region_is_told_of_a_chart_and_nobody_else() -> None:
    fleet = a_fleet_with_readers()

    told = asked(fleet)

    assert subjects(told) == {"north@lab.example": "North: 1 chart to print"}
    assert [one.email for one in told.skipped] == ["west@lab.example", "lee@lab.example"]


def test_a_chart_that_is_printed_is_told_no_more() -> None:
    fleet = a_fleet_with_readers()
    fleet.print()

    assert subjects(asked(fleet)) == {}


def test_charts_stand_under_the_kind_s_name_and_the_site_s() -> None:
    state = a_state()
    (row,) = PrintFleet().missing()
    unit = next(unit for unit in state.units.values() if unit.site == "fox-meadow")
    missing = row._replace(
        site="fox-meadow", property_number=unit.property_number, kind=unit.kind, reason="moved"
    )

    run = digests(
        state.register, BOOK, [], [], state.on, Settings(), ROOT,
        unprinted=[missing],
    )  # fmt: skip

    texts = {one.email: one.text for one in run.messages if one.kind is Kind.CONSULTANT}
    told = (
        f"* {unit.property_number} - Print its chart of 2026 (printed for another site only)\n"
        "  Bench microscope: Fox Meadow Laboratory, Cherry County\n"
        "  To copy: dueward chart NE-1036 --site fox-meadow --year 2026\n"
    )
    assert told in texts["ivy@lab.example"]
    assert "con@lab.example" not in texts
