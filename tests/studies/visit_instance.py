"""Which order do the studies of visits plan? A made-up fleet over a real state's counties.

A state's fleet is drawn the same way everywhere: one unit a site, the others by weight; the order
of the draws is part of the instance. Fees and prices are assumptions. Roads are the great circle
times 1.4 at 55 miles an hour.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import random
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import Final, NamedTuple

from schedules.visits.model import Depot, Need, Order, Prices, Stand, Technician

__all__ = [
    "FROM_ON",
    "PRICES",
    "Drawn",
    "Spot",
    "drawn_order",
    "legs",
    "study_order",
    "working_days",
]

CENTROIDS: Final = Path(__file__).with_name("nebraska_centroids.csv")
FROM_ON: Final = dt.date(2027, 1, 4)
DAYS: Final = 400
# Twelve federal holidays within the span (5 U.S.C. 6103), on the day they are observed.
HOLIDAYS: Final = (
    "2027-01-18 2027-02-15 2027-05-31 2027-06-18 2027-07-05 2027-09-06 2027-10-11 2027-11-11"
    " 2027-11-25 2027-12-24 2027-12-31 2028-01-17"
)
PRICES: Final = Prices(mile=70, hour=9500, trip=15000, night=14000, visit=4000)
EARTH_MILES: Final = 3958.8
ROAD_FACTOR: Final = 1.4
MILES_AN_HOUR: Final = 55
NORTH: Final = 0.02
"""How far a site lies from its county's centroid, so that none lies on a depot; degrees."""
BUSY: Final = ("Douglas", "Lancaster", "Sarpy", "Hall")
EARLY_DAYS: Final = 45


class Spot(NamedTuple):
    """A named point; degrees, north and east positive."""

    name: str
    latitude: float
    longitude: float


class Drawn(NamedTuple):
    """What was drawn for the units, a list each, and the sites' closures."""

    site: list[int]
    due: list[int]
    tolerance: list[int]
    minutes: list[int]
    fee: list[int]
    closures: list[list[dt.date]]


def study_order(units: int, technicians: int, seed: int = 1) -> Order:
    """So many units at 93 sites, served from one depot by so many technicians."""
    counties = _counties()
    sites = [Spot(name, latitude + NORTH, longitude) for name, latitude, longitude in counties]
    home = next(spot for spot in counties if spot.name == "Lancaster")
    return drawn_order(sites, [home._replace(name="depot")], units, technicians, seed, BUSY)


def drawn_order(
    sites: Sequence[Spot],
    depots: Sequence[Spot],
    units: int,
    technicians: int,
    seed: int,
    busy: Collection[str] = (),
) -> Order:
    """An order over any sites: technicians take the depots in turn; busy sites draw 2.5 times."""
    drawn = _drawn(sites, units, seed, busy)
    miles, minutes = legs([*sites, *depots])
    return Order(
        from_on=FROM_ON,
        to_on=_day(DAYS - 1),
        stands=_stands(sites, drawn.closures),
        depots=tuple(
            Depot(depot=d.name, latitude=d.latitude, longitude=d.longitude) for d in depots
        ),
        technicians=_technicians(depots, technicians),
        needs=tuple(_need(sites, drawn, number) for number in range(units)),
        prices=PRICES,
        miles=miles,
        minutes=minutes,
    )


def _stands(sites: Sequence[Spot], closures: Sequence[Sequence[dt.date]]) -> tuple[Stand, ...]:
    return tuple(
        Stand(
            site=spot.name,
            latitude=spot.latitude,
            longitude=spot.longitude,
            open_on=frozenset(working_days()).difference(closed),
        )
        for spot, closed in zip(sites, closures, strict=True)
    )


def _technicians(depots: Sequence[Spot], count: int) -> tuple[Technician, ...]:
    return tuple(
        Technician(
            technician=f"T{number + 1}",
            vendor="Sandhills Service",
            depot=depots[number % len(depots)].name,
            works_on=frozenset(working_days()),
        )
        for number in range(count)
    )


def working_days() -> tuple[dt.date, ...]:
    """The days of the span on which sites are open and technicians work."""
    holidays = {dt.date.fromisoformat(text) for text in HOLIDAYS.split()}
    span = (_day(number) for number in range(DAYS))
    return tuple(on for on in span if on.weekday() < 5 and on not in holidays)


def legs(
    spots: Sequence[Spot],
) -> tuple[tuple[tuple[int, ...], ...], tuple[tuple[int, ...], ...]]:
    """Between each two: hundredths of a mile, half up; minutes of the unrounded miles, up."""
    miles = [[ROAD_FACTOR * _great_circle_miles(a, b) for b in spots] for a in spots]
    return (
        tuple(tuple(math.floor(leg * 100 + 0.5) for leg in row) for row in miles),
        tuple(tuple(math.ceil(leg / MILES_AN_HOUR * 60) for leg in row) for row in miles),
    )


def _great_circle_miles(a: Spot, b: Spot) -> float:
    """By the haversine formula."""
    north, east = math.radians(b.latitude - a.latitude), math.radians(b.longitude - a.longitude)
    narrowing = math.cos(math.radians(a.latitude)) * math.cos(math.radians(b.latitude))
    square = math.sin(north / 2) ** 2 + narrowing * math.sin(east / 2) ** 2
    return 2 * EARTH_MILES * math.asin(math.sqrt(square))


def _drawn(sites: Sequence[Spot], units: int, seed: int, busy: Collection[str]) -> Drawn:
    """Everything by chance, in the order that makes the instance what it is."""
    chance, numbers = random.Random(seed), range(len(sites))
    weights = [math.exp(chance.gauss(0, 0.6)) for _ in numbers]
    weights = [
        weight * (2.5 if spot.name in busy else 1)
        for weight, spot in zip(weights, sites, strict=True)
    ]
    site = [*numbers, *chance.choices(numbers, weights, k=units - len(sites))]
    days = working_days()
    return Drawn(
        site=site,
        due=[chance.randrange(20, 385) for _ in site],
        tolerance=[chance.choice((0, 15)) for _ in site],
        minutes=[chance.randrange(30, 61) for _ in site],
        fee=[chance.choice((400, 600, 900, 1500)) for _ in site],
        closures=[[chance.choice(days) for _ in range(4)] for _ in numbers],
    )


def _need(sites: Sequence[Spot], drawn: Drawn, number: int) -> Need:
    due = drawn.due[number]
    return Need(
        property_number=f"{number + 1:06}",
        task="annual-service",
        kind="microscope",
        site=sites[drawn.site[number]].name,
        opens_on=_day(max(0, due - EARLY_DAYS)),
        nominal_on=_day(due),
        due_on=_day(due),
        limit_on=_day(due + drawn.tolerance[number]),
        minutes=drawn.minutes[number],
        fee=drawn.fee[number] * 100,
        interval_days=365,
    )


def _day(number: int) -> dt.date:
    return FROM_ON + dt.timedelta(days=number)


def _counties() -> list[Spot]:
    """The counties in the order of their FIPS codes."""
    lines = CENTROIDS.read_text(encoding="utf-8").splitlines()
    rows = csv.DictReader(line for line in lines if not line.startswith("#"))
    return [
        Spot(row["name"], float(row["latitude"]), float(row["longitude"]))
        for row in sorted(rows, key=lambda row: row["fips"])
    ]
