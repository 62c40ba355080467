"""How near does the day choice come to the best known plans? Cordeau's periodic routing instances.

`python -m tests.studies.cordeau [FOLDER] [SEED ...]`. Of the public set (Cordeau, Gendreau and
Laporte, "A tabu search heuristic for periodic and multi-depot vehicle routing problems", Networks
30(2), 1997) the instances in which every customer is visited once, on one of its days. They are
planned by `make_plan` as any order is: a vehicle is a technician, a day's load the minutes of a
working day, a customer's demand the minutes of its service; roads take no time and cost their
length. The data is not part of the project; without it the study says so and ends.
"""

from __future__ import annotations

import csv
import datetime as dt
import math
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Final, NamedTuple

from schedules.visits.check import faults
from schedules.visits.model import Depot, Need, Order, Prices, Stand, Technician
from schedules.visits.planner import Effort, make_plan
from schedules.visits.problem import Problem
from schedules.visits.told import tell

FOLDER: Final = Path(__file__).parents[3] / "shared" / "benchmarks" / "pvrp-cordeau"
INSTANCES: Final = ("p01", "p03", "p04", "p06", "p07", "p09")
ITERATIONS: Final = {"p01": 260_000, "p03": 260_000, "p04": 240_000, "p06": 240_000}
OTHERS: Final = 190_000
SCALE: Final = 10_000
"""A unit of length is so many cents."""
FROM_ON: Final = dt.date(2027, 1, 4)
FREE: Final = Prices(mile=100, hour=0, trip=0, night=0, visit=0)


class Customer(NamedTuple):
    """A row of an instance: where, and how much."""

    name: str
    x: float
    y: float
    demand: int
    days: frozenset[int]
    """Those it may be visited on, from 0."""


def read(path: Path) -> Order:
    """An instance as an order; ValueError for one in which a customer is visited more than once."""
    lines = [line.split() for line in path.read_text(encoding="ascii").splitlines() if line.strip()]
    kind, vehicles, customers, days = map(int, lines[0])
    limits = {tuple(map(int, line)) for line in lines[1 : 1 + days]}
    depot, *rows = lines[1 + days : 2 + days + customers]
    if kind != 1 or len(limits) != 1 or next(iter(limits))[0] != 0:
        raise ValueError(f"{path.name} has limits that differ by day, or of length")
    # A pattern is a string of bits, the first day's on the left; here each has one bit.
    day_of = {1 << (days - 1 - day): day for day in range(days)}
    if any(row[5] != "1" or not set(map(int, row[7:])) <= set(day_of) for row in rows):
        raise ValueError(f"{path.name} has customers that are visited more than once")
    found = [
        Customer(
            name=row[0],
            x=float(row[1]),
            y=float(row[2]),
            demand=int(row[4]),
            days=frozenset(day_of[int(pattern)] for pattern in row[7:]),
        )
        for row in rows
    ]
    home = Customer("depot", float(depot[1]), float(depot[2]), 0, frozenset())
    return order(found, home, vehicles, days, next(iter(limits))[1])


def order(
    customers: Sequence[Customer], home: Customer, vehicles: int, days: int, load: int
) -> Order:
    """So many vehicles a day, each for one round of at most so much load."""
    on = [FROM_ON + dt.timedelta(days=number) for number in range(days)]
    places = [*customers, home]
    return Order(
        from_on=on[0],
        to_on=on[-1],
        stands=tuple(
            Stand(site=one.name, latitude=0, longitude=0, open_on=frozenset(on))
            for one in customers
        ),
        depots=(Depot(depot="depot", latitude=0, longitude=0),),
        technicians=tuple(vehicle(number, on, load) for number in range(vehicles)),
        needs=tuple(need(one, on) for one in customers),
        prices=FREE,
        miles=tuple(
            tuple(round(SCALE * math.hypot(a.x - b.x, a.y - b.y)) for b in places) for a in places
        ),
        minutes=tuple(tuple(0 for _ in places) for _ in places),
    )


def vehicle(number: int, on: Sequence[dt.date], load: int) -> Technician:
    return Technician(
        technician=f"vehicle {number}",
        vendor="",
        depot="depot",
        works_on=frozenset(on),
        day_minutes=load,
        max_nights=0,
    )


def need(one: Customer, on: Sequence[dt.date]) -> Need:
    return Need(
        property_number=one.name,
        task="visit",
        kind="customer",
        site=one.name,
        opens_on=on[0],
        nominal_on=on[0],
        due_on=on[-1],
        limit_on=on[-1],
        minutes=one.demand,
        closed_on=frozenset(day for number, day in enumerate(on) if number not in one.days),
    )


def length(told_miles: Sequence[int]) -> float:
    return sum(told_miles) / SCALE


def main() -> None:
    words = sys.argv[1:]
    folder = Path(words[0]) if words and not words[0].isdigit() else FOLDER
    seeds = [int(word) for word in words if word.isdigit()] or [1, 2, 3]
    if not (folder / "bks.csv").is_file():
        sys.exit(f"{folder}: the instances are not there; name the folder that holds them")
    with (folder / "bks.csv").open(encoding="ascii") as file:
        best = {row["name"]: float(row["bks"]) for row in csv.DictReader(file)}
    print("| instance | best known | seed | found | gap | CPU s |\n|---|---|---|---|---|---|")
    gaps = []
    for name in INSTANCES:
        problem = Problem(read(folder / name))
        make_plan(problem, Effort(seed=1, iterations=10))  # compiled
        for seed in seeds:
            begun = time.process_time()
            effort = Effort(seed=seed, iterations=ITERATIONS.get(name, OTHERS))
            told = tell(problem, make_plan(problem, effort))
            took = time.process_time() - begun
            assert not told.unplaced
            assert not faults(problem.order, problem.lock, told)
            found = length([trip.miles for trip in told.trips])
            gaps.append(100 * (found / best[name] - 1))
            row = name, best[name], seed, f"{found:.2f}", f"{gaps[-1]:.2f} %", f"{took:.0f}"
            print(f"| {' | '.join(map(str, row))} |", flush=True)
    print(f"\nmean gap {sum(gaps) / len(gaps):.2f} %, greatest {max(gaps):.2f} %")


if __name__ == "__main__":
    main()
