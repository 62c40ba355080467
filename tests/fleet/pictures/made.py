"""A small state with a plan, invented; for tests of pictures only."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Sequence

from fleet.pictures.plan_words import PlanWords, SiteWords
from schedules.visits.model import (
    Depot,
    Need,
    Order,
    Plan,
    Prices,
    Stand,
    Technician,
    Trip,
)
from schedules.visits.problem import Problem
from schedules.visits.told import ToldPlan, tell

FROM_ON, TO_ON = dt.date(2027, 3, 1), dt.date(2027, 4, 30)
OFF_ON = dt.date(2027, 3, 17)
"""On this Wednesday Robin is off."""
HOLIDAY_ON = dt.date(2027, 3, 26)
EARTH_MILES = 3958.8
PLACES = {
    "ash": (41.0, -97.0),
    "birch": (41.6, -97.2),
    "cedar": (42.3, -99.5),
    "elm": (40.4, -95.9),
}
"""Sites by their short names: degrees of latitude and longitude."""
HOME = ("Oak depot", 40.8, -96.7)
ROBIN, DANA = "Robin Mossgrove", "Dana Lark"


def great_circle_miles(one: tuple[float, float], other: tuple[float, float]) -> float:
    """The haversine formula."""
    (lat, lon), (to_lat, to_lon) = (map(math.radians, place) for place in (one, other))
    square = math.sin((to_lat - lat) / 2) ** 2
    square += math.cos(lat) * math.cos(to_lat) * math.sin((to_lon - lon) / 2) ** 2
    return 2 * EARTH_MILES * math.asin(math.sqrt(square))


def an_order(
    places: dict[str, tuple[float, float]] | None = None,
    units: int = 2,
    home: tuple[str, float, float] = HOME,
) -> Order:
    """So many units at each site, two technicians at one depot, two months."""
    sites = PLACES if places is None else places
    spots = [*sites.values(), home[1:]]
    miles = [[round(125 * great_circle_miles(a, b)) for b in spots] for a in spots]
    span = [FROM_ON + dt.timedelta(days=n) for n in range((TO_ON - FROM_ON).days + 1)]
    days = [on for on in span if on.weekday() < 5 and on != HOLIDAY_ON]
    return Order(
        from_on=FROM_ON,
        to_on=TO_ON,
        stands=tuple(
            Stand(site=site, latitude=lat, longitude=lon, open_on=frozenset(days))
            for site, (lat, lon) in sites.items()
        ),
        depots=(Depot(depot=home[0], latitude=home[1], longitude=home[2]),),
        technicians=(
            _technician(ROBIN, home[0], [on for on in days if on != OFF_ON]),
            _technician(DANA, home[0], days),
        ),
        needs=tuple(_need(site, n) for site in sites for n in range(1, units + 1)),
        prices=Prices(mile=70, hour=9_500, trip=15_000, night=14_000, visit=4_000, change=2_500),
        miles=tuple(map(tuple, miles)),
        minutes=tuple(tuple(math.ceil(leg * 60 / 5_500) for leg in row) for row in miles),
    )


def _technician(name: str, depot: str, works_on: Sequence[dt.date]) -> Technician:
    return Technician(
        technician=name, vendor="Sandhills Service", depot=depot, works_on=frozenset(works_on)
    )


def _need(site: str, number: int) -> Need:
    return Need(
        property_number=f"{site.upper()}-{number}",
        task="annual-service",
        kind="centrifuge" if number % 2 else "microscope",
        site=site,
        opens_on=FROM_ON,
        nominal_on=TO_ON,
        due_on=TO_ON,
        limit_on=TO_ON,
        minutes=45,
        fee=40_000,
        interval_days=365,
    )


def names(site: str, *numbers: int) -> tuple[str, ...]:
    """The names of a site's needs."""
    return tuple(f"{site.upper()}-{n}/annual-service/{TO_ON}" for n in numbers)


def three_trips() -> Plan:
    """A day trip, one with nights, one over the end of March; nobody comes to elm."""
    return Plan(
        trips=(
            Trip(ROBIN, dt.date(2027, 3, 2), names("ash", 1, 2)),
            Trip(DANA, dt.date(2027, 3, 10), names("birch", 1) + names("cedar", 1)),
            Trip(ROBIN, dt.date(2027, 3, 31), names("cedar", 2) + names("birch", 2)),
        ),
        unplaced=names("elm", 1, 2),
    )


def a_plan(order: Order | None = None, plan: Plan | None = None) -> ToldPlan:
    """What a plan says; the three trips if none is given."""
    return tell(Problem(order or an_order()), plan or three_trips())


def many_trips(count: int) -> Plan:
    """A trip to ash on every weekday but the one that is off, from the first day on."""
    span = (FROM_ON + dt.timedelta(days=n) for n in range((TO_ON - FROM_ON).days + 1))
    days = [on for on in span if on.weekday() < 5 and on not in (OFF_ON, HOLIDAY_ON)]
    return Plan(tuple(Trip(ROBIN, on, names("ash", n + 1)) for n, on in enumerate(days[:count])))


def some_words(title: str = "Two months of visits") -> PlanWords:
    """Names of the sites, and the one holiday."""
    return PlanWords(
        title=title,
        sites={site: SiteWords(name=f"{site.title()} lab", county="Reed") for site in PLACES},
        days_off={HOLIDAY_ON: "Spring Day"},
    )
