"""Two invented sites with units that a vendor serves, on a record: for orders of visits."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import replace
from hashlib import sha256

from fleet.domain.plan_file import GivenDepot, GivenTechnician, PlanFile, Roads
from fleet.domain.records import Entry, Mark, RegisterRecord, Site, Unit
from fleet.domain.register import Change
from fleet.files.county_centres import county_centres
from fleet.services.kept import rebuild
from fleet.services.ports import HolidayYear, PublicHolidays, Record, Stamp
from fleet.services.questions import Narrow
from fleet.services.visits.order import Ordered, order_of
from schedules.visits.model import Depot, Need, Prices
from tests.fakes import FakeRecord
from tests.outside import day
from tests.reference.bridge import NoPublicHolidays

__all__ = ["ALDER", "BIRCH", "PLAN_FILE", "Gala", "need", "ordered", "record_with", "unit"]

BOOK = """
[kind.microscope]
name = "Bench microscope"
[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces"
each = "open-day"
source = "common practice, no source"
[[kind.microscope.rule]]
task = "service"
title = "Service by the vendor"
every = "P1Y"
early = 45
grace = 15
vendor = true
minutes = 45
fee = 8500
source = "common practice, no source"
[kind.pipette]
name = "Pipette"
[[kind.pipette.rule]]
task = "calibration"
title = "Calibration"
every = "P3M"
early = 10
grace = 0
roll = "preceding"
keep_anchor = 5
vendor = true
minutes = 20
source = "common practice, no source"
[kind.cabinet]
name = "Cabinet"
[[kind.cabinet.rule]]
task = "certification"
title = "Certification"
every = "P6M"
anchor = 2026-03-01
early = 20
grace = 5
vendor = true
minutes = 90
fee = 18500
source = "common practice, no source"
[kind.balance]
name = "Balance"
[[kind.balance.rule]]
task = "check"
title = "Check by the vendor"
every = "P1Y"
vendor = true
source = "common practice, no source"
"""


def site(name: str, county: str) -> Site:
    return Site(
        site=name, name=f"{name.title()} Laboratory", county=county, region="West", country="US",
        subdivision="NE", time_zone="America/Chicago", open_days="Mon Tue Wed Thu Fri",
        latitude=40.5, longitude=-98.5,
    )  # fmt: skip


ALDER, BIRCH = site("alder", "Adams"), site("birch", "Boone")
PLAN_FILE = PlanFile(
    file="plan.toml",
    sha256="0" * 64,
    depots=(
        GivenDepot(
            depot=Depot(depot="home", latitude=40.7837, longitude=-96.6875),
            time_zone="America/Chicago",
        ),
    ),
    technicians=(
        GivenTechnician(
            name="Ash", vendor="Ovandel Service", depot="home", open_days="Mon Tue Wed Thu",
            day_minutes=480, begins_at=dt.time(8), max_nights=4,
        ),
    ),
    roads=Roads(road_factor=1.4, miles_an_hour=55),
    prices=Prices(mile=70, hour=9500, trip=15000, night=14000, visit=4000),
    catch_up_days=28,
)  # fmt: skip


class Gala:
    """A library whose every place keeps one holiday, 8 June."""

    def year(self, country: str, subdivision: str, year: int) -> HolidayYear:
        names = {dt.date(year, 6, 8): "Gala day"}
        return HolidayYear(country, subdivision, year, names, "a test")

    def knows(self, country: str, subdivision: str) -> bool:
        return True


def unit(number: str, kind: str = "microscope", **others: object) -> Unit:
    """A unit at alder, in service since 2 January 2024."""
    made = Unit(
        property_number=number, kind=kind, manufacturer="Exemplar", model="M1", serial="7",
        site="alder", in_service_on=day("2024-01-02"),
    )  # fmt: skip
    return replace(made, **others)  # type: ignore[arg-type]


def record_with(*records: RegisterRecord, done: Mapping[str, str] | None = None) -> Record:
    """Both sites and what is given; done: 'A-1/service' to the last day it was done."""
    record, stamp = FakeRecord(), Stamp(dt.datetime(2026, 1, 2, tzinfo=dt.UTC), "alder", "file")
    record.add_book(BOOK, sha256(BOOK.encode()).hexdigest(), True, stamp)
    own = {one.key for one in records if isinstance(one, Site)}
    sites = [one for one in (ALDER, BIRCH) if one.key not in own]
    record.change([Change(old=None, new=one, initial=True) for one in (*sites, *records)], stamp)
    for duty, on in (done or {}).items():
        number, task = duty.split("/")
        key = f"{duty}/{on}/1"
        mark = Entry(key=key, property_number=number, task=task, on=day(on), mark=Mark.DONE)
        record.append([mark], stamp)
    rebuild(record, list(record.unit_ids().values()), NoPublicHolidays())
    return record


def ordered(
    record: Record,
    from_on: str = "2026-06-01",
    to_on: str = "2026-08-31",
    plan_file: PlanFile = PLAN_FILE,
    narrow: Narrow | None = None,
    public_holidays: PublicHolidays | None = None,
) -> Ordered:
    """The order of a span, with Nebraska's county centres and no public holidays."""
    return order_of(
        record,
        public_holidays or NoPublicHolidays(),
        county_centres(),
        plan_file,
        day(from_on),
        day(to_on),
        narrow or Narrow(),
    )


def need(order: Ordered) -> Need:
    """The only need of an order."""
    (one,) = order.order.needs
    return one
