"""Which days, places and roads does an order of visits have?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.plan_file import PlanFile, Roads, RoadTable
from fleet.domain.records import Closure
from fleet.domain.visits import TechnicianDaysOff, UnsuitableDays
from fleet.errors import BadInput
from fleet.services.ports import Record
from schedules.visits.roads import great_circle_legs
from tests.fleet.services.visits.visit_fleet import (
    ALDER,
    BIRCH,
    PLAN_FILE,
    Gala,
    ordered,
    record_with,
    unit,
)
from tests.outside import day

SERVED = {"A-1/service": "2025-07-15"}
UNPLACED = replace(ALDER, latitude=None, longitude=None)
(ASH,) = PLAN_FILE.technicians


def plan_file(**changed: object) -> PlanFile:
    return replace(PLAN_FILE, technicians=(replace(ASH, **changed),))  # type: ignore[arg-type]


def days(text: str) -> list[dt.date]:
    return [day(f"2026-06-{number}") for number in text.split()]


def refusal(record: Record, from_on: str = "2026-06-01", file: PlanFile = PLAN_FILE) -> list[str]:
    with pytest.raises(BadInput) as refused:
        ordered(record, from_on, plan_file=file)
    return [str(fault) for fault in refused.value.faults]


def test_a_technician_works_the_weekly_days_less_days_off_and_holidays() -> None:
    file = plan_file(days_off=((day("2026-06-02"), day("2026-06-03")),), holidays=("US", "NE"))
    record = record_with(
        unit("A-1"),
        TechnicianDaysOff(
            technician="Ash", from_on=day("2026-06-10"), to_on=day("2026-06-10"), reason="ill"
        ),
        done=SERVED,
    )

    found = ordered(record, to_on="2026-06-14", plan_file=file, public_holidays=Gala())

    (one,) = found.order.technicians
    assert sorted(one.works_on) == days("01 04 09 11")  # the 8th is a holiday, the 5th a Friday


def test_a_site_is_open_as_its_calendar_says_less_days_that_do_not_suit() -> None:
    fair = Closure(site="alder", from_on=day("2026-06-03"), to_on=day("2026-06-04"), reason="fair")
    unsuitable = UnsuitableDays(
        site="alder", from_on=day("2026-06-09"), to_on=day("2026-06-10"), reason="inspection"
    )

    found = ordered(record_with(unit("A-1"), fair, unsuitable, done=SERVED), public_holidays=Gala())

    (stand,) = found.order.stands
    assert [on for on in sorted(stand.open_on) if on <= day("2026-06-12")] == days("01 02 05 11 12")


def test_a_site_without_coordinates_lies_at_the_centre_of_its_county_and_that_is_told() -> None:
    found = ordered(record_with(UNPLACED, unit("A-1"), done=SERVED))

    (stand,) = found.order.stands
    assert (stand.latitude, stand.longitude) == (40.5243, -98.5013)
    assert found.notes == [
        "1 site has no latitude and longitude, and its county's centre is taken: alder"
    ]


def test_a_site_whose_county_s_centre_is_not_known_is_refused_by_name() -> None:
    strange = replace(UNPLACED, county="Polk", subdivision="IA")

    assert refusal(record_with(strange, unit("A-1"), done=SERVED)) == [
        "site alder: it has no place, and no centre of county 'Polk' (US IA) is known; give its"
        " latitude and longitude in sites.csv, and load it"
    ]


def test_legs_are_the_great_circle_times_the_factor() -> None:
    found = ordered(record_with(unit("A-1"), done=SERVED)).order

    assert found.places == ("alder", "home")
    assert (found.miles, found.minutes) == great_circle_legs(
        [(40.5, -98.5), (40.7837, -96.6875)], 1.4, 55
    )


def test_legs_may_come_from_a_table() -> None:
    miles = {("alder", "home"): 9000, ("home", "alder"): 9100, ("home", "elsewhere"): 1}
    table = RoadTable(file="roads.csv", miles=miles, minutes=dict.fromkeys(miles, 99))
    file = replace(PLAN_FILE, roads=Roads(road_factor=1.4, miles_an_hour=55, table=table))

    found = ordered(record_with(unit("A-1"), done=SERVED), plan_file=file).order

    assert found.miles == ((0, 9000), (9100, 0))
    assert found.minutes == ((0, 99), (99, 0))


def test_a_table_that_lacks_a_leg_is_refused_by_its_ends() -> None:
    table = RoadTable(file="roads.csv", miles={("alder", "home"): 1}, minutes={})
    file = replace(PLAN_FILE, roads=Roads(road_factor=1.4, miles_an_hour=55, table=table))

    assert refusal(record_with(unit("A-1"), done=SERVED), file=file) == [
        "roads.csv: no leg from 'home' to 'alder'; add its row or its cell"
    ]


def test_a_technician_without_days_is_told() -> None:
    idle = replace(ASH, name="Bay", days_off=((day("2026-01-01"), day("2026-12-31")),))
    file = replace(PLAN_FILE, technicians=(ASH, idle))

    assert ordered(record_with(unit("A-1"), done=SERVED), plan_file=file).notes == [
        "Bay works no day of the span; look at open_days and days_off"
    ]


@pytest.mark.parametrize(
    ("from_on", "file", "told"),
    [
        (
            "2026-09-01",
            PLAN_FILE,
            "--to: 2026-08-31 is before --from 2026-09-01; exchange the two",
        ),
        (
            "2024-06-01",
            PLAN_FILE,
            "--to: from 2024-06-01 to 2026-08-31 are 822 days; plan at most 731 days at once",
        ),
        (
            "2026-06-01",
            plan_file(days_off=((day("2026-01-01"), day("2026-12-31")),)),
            "plan.toml, technician: no technician works a day from 2026-06-01 to 2026-08-31; look"
            " at their open_days and days_off",
        ),
        (
            "2026-06-01",
            plan_file(kinds=("mircoscope",)),
            "plan.toml, technician 'Ash', kinds: no kind 'mircoscope'; did you mean 'microscope'?",
        ),
        (
            "2026-06-01",
            replace(
                PLAN_FILE,
                depots=(
                    replace(
                        PLAN_FILE.depots[0],
                        depot=replace(PLAN_FILE.depots[0].depot, depot="alder"),
                    ),
                ),
            ),
            "plan.toml, depot 'alder': a site has this name; give it another, as 'alder depot'",
        ),
    ],
)
def test_what_cannot_be_planned_is_refused(from_on: str, file: PlanFile, told: str) -> None:
    assert refusal(record_with(unit("A-1"), done=SERVED), from_on, file) == [told]


def test_only_sites_with_needs_are_places() -> None:
    elsewhere, served = unit("A-2", site="birch"), {**SERVED, "A-2/service": "2026-05-04"}

    found = ordered(record_with(unit("A-1"), elsewhere, done=served))

    assert [stand.site for stand in found.order.stands] == ["alder"]
    assert found.sites == {"alder": ALDER}
    assert found.time_zones == {"home": "America/Chicago"}
    assert BIRCH.site not in found.sites
