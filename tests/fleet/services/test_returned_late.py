"""Which months' charts came back late (design 4.7)?

The fifth open day is common practice, no source; the days are counted here by hand.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from fleet.domain.answers import FindingRow
from fleet.domain.evidence import Review
from fleet.domain.records import Closure
from fleet.services.questions import Narrow
from tests.fleet.services.audit_fleet import AuditFleet, at, march
from tests.fleet.services.review_fleet import april

RETURNED = "chart returned late"


def told(
    returned_on: dt.date | None, site: str = "alder", *closures: Closure, **asked: Any
) -> list[FindingRow]:
    """The findings of March's charts that came back on a day."""
    fleet = AuditFleet.clean()
    fleet.know(Review(site=site, month="2026-03", returned_on=returned_on), *closures)
    return fleet.rows(**{"finding": RETURNED, "on": dt.date(2026, 7, 1), **asked})


@pytest.mark.parametrize(
    ("returned_on", "is_late"),
    [
        (None, False),
        (march(31), False),
        (april(7), False),  # Wed 1, Thu 2, Fri 3, Mon 6, Tue 7: the fifth open day
        (april(8), True),
    ],
)
def test_charts_are_late_after_the_fifth_open_day(
    returned_on: dt.date | None, is_late: bool
) -> None:
    assert bool(told(returned_on)) is is_late


@pytest.mark.parametrize(("day", "is_late"), [(8, False), (9, True)])
def test_a_closure_is_no_open_day(day: int, is_late: bool) -> None:
    closure = Closure(site="alder", from_on=april(3), to_on=april(3), reason="flood")

    assert bool(told(april(day), "alder", closure)) is is_late


@pytest.mark.parametrize(("day", "is_late"), [(29, False), (30, True)])
def test_a_site_open_on_wednesdays_has_five_weeks(day: int, is_late: bool) -> None:
    """Wednesdays: 1, 8, 15, 22 and 29 April."""
    assert bool(told(april(day), "birch")) is is_late


def test_five_open_days_may_run_into_the_month_after() -> None:
    """Without the 29th the fifth Wednesday is 6 May."""
    closure = Closure(site="birch", from_on=april(29), to_on=april(29), reason="flood")

    assert told(dt.date(2026, 5, 6), "birch", closure) == []
    assert len(told(dt.date(2026, 5, 7), "birch", closure)) == 1


def test_a_site_that_never_opens_again_is_never_late() -> None:
    closure = Closure(site="birch", from_on=april(1), to_on=dt.date(2030, 1, 1), reason="gone")

    assert told(dt.date(2026, 6, 30), "birch", closure) == []


def test_the_finding_speaks_of_the_site_s_month_and_of_no_unit() -> None:
    (row,) = told(april(9))

    assert dataclasses.astuple(row) == (
        *("alder", "Cherry", "West", "", "", "", RETURNED),
        *(march(1), march(31), None, None, april(9), None),
        "The charts came back on 2026-04-09, and the site's fifth open day after the month was"
        " 2026-04-07; ask why, and note it: dueward review alder 2026-03 --returned 2026-04-09"
        " --note '...'",
    )


@pytest.mark.parametrize(
    ("asked", "count"),
    [
        ({"from_on": april(9), "to_on": april(9)}, 1),
        ({"from_on": march(1), "to_on": april(8)}, 0),
        ({"from_on": april(10)}, 0),
        ({"on": april(8)}, 0),
        ({"on": april(9)}, 1),
        ({"finding": None}, 1),
        ({"finding": "gap"}, 0),
        ({"narrow": Narrow(sites=("Alder",))}, 1),
        ({"narrow": Narrow(regions=("East",))}, 0),
        ({"narrow": Narrow(kinds=("microscope",))}, 0),
        ({"narrow": Narrow(tasks=("optics",))}, 0),
    ],
)
def test_it_counts_by_the_day_the_charts_came_back(asked: dict[str, Any], count: int) -> None:
    rows = [row for row in told(april(9), **asked) if row.finding == RETURNED]

    assert len(rows) == count


def test_a_return_is_known_from_when_it_was_noted() -> None:
    fleet = AuditFleet.clean()
    review = Review(site="alder", month="2026-03", returned_on=april(9))
    fleet.learn(None, review, at(april(10)))

    asked: dict[str, Any] = {"finding": RETURNED, "on": april(30)}
    assert fleet.rows(**asked, known_at=at(april(9))) == []
    assert len(fleet.rows(**asked, known_at=at(april(11)))) == 1
