"""Does planning pay in other states? Five made-up ones, three seeds each, against the plain plan.

`python -m tests.studies.made_states [ITERATIONS]`. The states are drawn by the seed: how many
counties, how wide and high in degrees, how many depots, units and technicians stands in STATES.
"""

from __future__ import annotations

import random
import sys
from typing import Final, NamedTuple

from schedules.visits.planner import Effort, make_plan
from schedules.visits.problem import Problem
from schedules.visits.simple_plans import own_date_plan
from tests.studies.visit_instance import Spot, drawn_order
from tests.studies.visit_plans import COLUMNS, figures, planned

__all__ = ["STATES", "state_order"]


class State(NamedTuple):
    """A made-up state; degrees wide and high, its counties scattered evenly or in towns."""

    name: str
    counties: int
    wide: float
    high: float
    depots: int
    units: int
    technicians: int
    towns: int = 0


STATES: Final = (
    State("small and dense", 24, 2.0, 1.5, 1, 150, 1),
    State("long and narrow", 64, 1.5, 6.0, 2, 240, 2),
    State("wide, two depots", 88, 7.0, 3.5, 2, 320, 3),
    State("towns far apart", 72, 6.0, 5.0, 1, 260, 3, towns=6),
    State("large and empty", 56, 8.0, 6.0, 3, 200, 3),
)


def state_order(state: State, seed: int) -> Problem:
    """A state's order: counties by chance, a depot at the first ones."""
    chance = random.Random(f"{state.name}/{seed}")
    centres = [_point(chance, state) for _ in range(state.towns)]
    spots = []
    for number in range(state.counties):
        north, east = _point(chance, state)
        if centres:
            town = chance.choice(centres)
            north, east = town[0] + chance.gauss(0, 0.25), town[1] + chance.gauss(0, 0.3)
        spots.append(Spot(f"county {number + 1:02}", round(north, 4), round(east, 4)))
    depots = [
        Spot(f"depot {number + 1}", one.latitude - 0.02, one.longitude)
        for number, one in enumerate(spots[: state.depots])
    ]
    return Problem(drawn_order(spots, depots, state.units, state.technicians, seed))


def _point(chance: random.Random, state: State) -> tuple[float, float]:
    north = 38 + chance.uniform(-0.5, 0.5) * state.high
    return north, -98 + chance.uniform(-0.5, 0.5) * state.wide


def main() -> None:
    iterations = int(sys.argv[1]) if sys.argv[1:] else 100_000
    print(f"| state, seed | {' | '.join(COLUMNS)} | CPU s | own date, miles | fewer |")
    print(f"|{'---|' * (len(COLUMNS) + 4)}")
    least = 100.0
    for state in STATES:
        for seed in (1, 2, 3):
            problem = state_order(state, seed)
            make_plan(problem, Effort(seed=1, iterations=10))
            own = own_date_plan(problem)
            _, told, late, took = planned(problem, Effort(seed=seed, iterations=iterations))
            fewer = 100 * (1 - told.miles / own.told.miles)
            least = min(least, fewer)
            against = f"{own.told.miles / 100:,.0f}"
            cells = [f"{state.name}, {seed}", *figures(told, late), f"{took:.0f}", against]
            print(f"| {' | '.join(cells)} | {fewer:.1f} % |", flush=True)
    print(f"\nat least {least:.1f} % fewer miles than each unit on its own date, out and back")


if __name__ == "__main__":
    main()
