"""Which changes of the register reopen a month that was signed?"""

from __future__ import annotations

import dataclasses
import datetime as dt
from typing import Any

import pytest

from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Person,
    Placement,
    RegisterRecord,
    Role,
    Site,
    Unit,
)
from fleet.services.ports import HolidayYear
from tests.fleet.services.audit_fleet import FIRST, at, march
from tests.fleet.services.review_fleet import ReviewFleet, april

SIGNED = ("signed", None)
BY_REGISTER = ("reopened", "register")
AFTER = at(april(8))
FEB = dt.date(2026, 2, 20)


@pytest.fixture
def signed() -> ReviewFleet:
    """March is signed at Alder."""
    fleet = ReviewFleet.clean(("optics", march(11)))
    fleet.sign(anyway=True)
    return fleet


def unit(fleet: ReviewFleet, number: str = "M-1") -> Unit:
    return fleet.record.register().units[(number,)]


def move(number: str, on: dt.date, site: str = "birch") -> Placement:
    return Placement(property_number=number, site=site, from_on=on)


def out(from_on: dt.date, to_on: dt.date | None, number: str = "M-1") -> Outage:
    return Outage(property_number=number, from_on=from_on, to_on=to_on, reason="repair")


def closed(from_on: dt.date, to_on: dt.date, site: str = "alder", **more: Any) -> Closure:
    return Closure(site=site, from_on=from_on, to_on=to_on, reason="flood", **more)


@pytest.mark.parametrize(
    ("new", "reopens"),
    [
        (move("M-1", march(20)), True),
        (move("M-1", FEB), True),
        (move("M-1", april(1)), False),
        (move("M-1", march(20), "alder"), False),
        (out(march(20), march(23)), True),
        (out(FEB, None), True),
        (out(march(30), april(1)), True),
        (out(FEB, FIRST), False),  # the day of return is in service again
        (out(april(1), None), False),
        (closed(march(20), march(20)), True),
        (closed(march(20), march(20), ""), True),
        (closed(march(20), march(20), "birch"), False),
        (closed(march(21), march(21), open=True), True),
        (closed(april(1), april(2)), False),
        (Pattern(site="alder", from_on=march(16), open_days="Mon Tue"), True),
        (Pattern(site="alder", from_on=april(1), open_days="Mon Tue"), False),
        (Pattern(site="birch", from_on=march(16), open_days="Mon Tue"), False),
        (Person(email="a@b.example", name="A", role=Role.BENCH, site="alder"), False),
    ],
)
def test_a_change_line_stored_later_reopens_the_months_of_its_days(
    signed: ReviewFleet, new: RegisterRecord, reopens: bool
) -> None:
    signed.audit.learn(None, new, AFTER)

    assert signed.state() == (BY_REGISTER if reopens else SIGNED)


@pytest.mark.parametrize(
    ("changes", "reopens"),
    [
        ({"in_service_on": march(9)}, True),
        ({"in_service_on": march(1)}, True),
        ({"retired_on": march(20)}, True),
        ({"retired_on": april(1)}, False),
        ({"record_from_on": march(9)}, True),
        ({"record_from_on": FIRST}, False),
        ({"site": "birch"}, True),
        ({"kind": "centrifuge"}, True),
        ({"model": "N2"}, True),
        ({"serial": "77", "manufacturer": "Southfield"}, False),
    ],
)
def test_a_changed_unit_reopens_the_months_in_which_its_charts_are_others(
    signed: ReviewFleet, changes: dict[str, Any], reopens: bool
) -> None:
    old = unit(signed)

    signed.audit.learn(old, dataclasses.replace(old, **changes), AFTER)

    assert signed.state() == (BY_REGISTER if reopens else SIGNED)


def test_days_gained_before_the_month_reopen_that_month_alone() -> None:
    """In service since February instead of March: February has charts, March is as it was."""
    fleet = ReviewFleet.clean()
    old = dataclasses.replace(unit(fleet), in_service_on=march(1))
    fleet.audit.learn(unit(fleet), old, at(april(2)))
    fleet.sign()

    fleet.audit.learn(old, dataclasses.replace(old, in_service_on=FEB), AFTER)

    assert fleet.states("2026-02") == {
        ("alder", "2026-02"): ("to review", None),
        ("alder", "2026-03"): SIGNED,
    }


def test_a_unit_that_is_loaded_later_with_charts_in_the_month_reopens_it(
    signed: ReviewFleet,
) -> None:
    new = dataclasses.replace(unit(signed), property_number="M-2", in_service_on=march(30))

    signed.audit.learn(None, new, AFTER, initial=True)

    assert signed.state() == BY_REGISTER


def test_a_unit_moved_while_its_month_is_under_review_reopens_both_sites() -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.moved("C-1", march(2))
    fleet.sign()
    fleet.sign("birch", anyway=True)

    fleet.audit.learn(None, move("M-1", march(23)), AFTER)

    assert fleet.state() == fleet.state("birch") == BY_REGISTER


def test_a_move_counts_until_the_next_move() -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.know(move("M-1", march(2), "alder"))
    fleet.sign()

    fleet.audit.learn(None, move("M-1", FEB), AFTER)

    assert fleet.state() == SIGNED


@pytest.mark.parametrize(
    ("old", "new", "reopens"),
    [
        (out(FEB, march(10)), out(FEB, march(12)), True),
        (out(FEB, None), out(FEB, april(2)), False),  # all of March is in it either way
        (out(FEB, march(10)), None, True),
        (out(FEB, march(10)), dataclasses.replace(out(FEB, march(10)), reason="lamp"), False),
        (closed(march(9), march(9)), closed(march(9), march(10)), True),
        (closed(march(30), april(3)), closed(march(30), april(6)), False),
        (closed(march(9), march(9)), None, True),
    ],
)
def test_a_changed_or_withdrawn_record_reopens_the_days_that_differ(
    old: RegisterRecord, new: RegisterRecord | None, reopens: bool
) -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.know(old)
    fleet.sign(anyway=True)

    fleet.audit.learn(old, new, AFTER)

    assert fleet.state() == (BY_REGISTER if reopens else SIGNED)


@pytest.mark.parametrize(
    ("changes", "reopens"),
    [
        ({"open_days": "Mon Tue Wed Thu"}, True),
        ({"subdivision": "IA"}, True),
        ({"name": "Alder Creek", "county": "Adams"}, False),
    ],
)
def test_a_changed_site_reopens_where_its_days_are_others(
    signed: ReviewFleet, changes: dict[str, Any], reopens: bool
) -> None:
    old = signed.record.register().sites[("alder",)]

    signed.audit.learn(old, dataclasses.replace(old, **changes), AFTER)

    assert signed.state() == (BY_REGISTER if reopens else SIGNED)


def test_a_site_s_first_week_speaks_only_until_its_next_pattern() -> None:
    fleet = ReviewFleet.clean()
    fleet.audit.know(Pattern(site="alder", from_on=march(1), open_days="Mon Tue Wed Thu Fri"))
    fleet.sign()
    old = fleet.record.register().sites[("alder",)]
    assert isinstance(old, Site)

    fleet.audit.learn(old, dataclasses.replace(old, open_days="Mon"), AFTER)

    assert fleet.state() == SIGNED


def holiday(on: dt.date, site: str = "", subdivision: str = "NE") -> Holiday:
    return Holiday(site=site, country="US", subdivision=subdivision, on=on, name="Founders' Day")


@pytest.mark.parametrize(
    ("new", "reopens"),
    [
        (holiday(march(20)), True),
        (holiday(march(20), "alder"), True),
        (holiday(march(20), "birch"), False),
        (holiday(march(20), subdivision="IA"), False),
        (holiday(april(24)), False),
    ],
)
def test_a_holiday_reopens_the_month_it_lies_in(
    signed: ReviewFleet, new: Holiday, reopens: bool
) -> None:
    signed.audit.learn(None, new, AFTER)

    assert signed.state() == (BY_REGISTER if reopens else SIGNED)


def test_the_first_own_holiday_of_a_year_replaces_the_public_ones() -> None:
    """Design 4.2: a holidays file replaces its year entirely, here a holiday of 13 March."""
    fleet = ReviewFleet.clean(("optics", march(13)), ("speed", march(13)), ("speed", march(13)))
    names = {march(13): "Arbor Day"}
    fleet.audit.record.add_holiday_years(
        [HolidayYear("US", "NE", 2026, names, "made up")],
        None,  # type: ignore[arg-type]
    )
    fleet.sign()

    fleet.audit.learn(None, holiday(april(24)), AFTER)
    fleet.audit.learn(None, holiday(dt.date(2026, 4, 27)), at(april(9)))

    assert fleet.rows()[0].gaps == 2
    assert fleet.state() == BY_REGISTER
