"""What does a year of visits cost, how long does it take to plan, and how near is the bound?

`python -m tests.studies.visit_plans UNITS TECHNICIANS ITERATIONS [SEED ...] [--bound ROUNDS]` plans
the study's state (`visit_instance`) with each seed and prints a row each: late and unplaced first,
then money, miles and the rest, CPU seconds of one thread, compilation left out. The plans beside it
come first; the bound, where asked for, last, with the gap of the cheapest plan.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Sequence

from schedules.visits.bound import lower_bound
from schedules.visits.check import faults
from schedules.visits.model import Plan
from schedules.visits.planner import Effort, make_plan
from schedules.visits.problem import Problem
from schedules.visits.simple_plans import own_date_plan, site_grouped_plan
from schedules.visits.told import ToldPlan, tell
from tests.studies.visit_instance import study_order

__all__ = ["COLUMNS", "figures", "planned"]

COLUMNS = ("late", "unplaced", "cost $", "miles", "days", "trips", "nights", "visits", "lost days")


def figures(told: ToldPlan, late: int) -> tuple[str, ...]:
    """A plan's figures in the order of COLUMNS."""
    return (
        f"{late}",
        f"{len(told.unplaced)}",
        f"{told.costs.total / 100:,.0f}",
        f"{told.miles / 100:,.0f}",
        f"{told.days}",
        f"{len(told.trips)}",
        f"{told.nights}",
        f"{told.visits}",
        f"{told.lost_days:,}",
    )


def planned(problem: Problem, effort: Effort) -> tuple[Plan, ToldPlan, int, float]:
    """A plan, told, how many of its needs are late, and its CPU seconds; the checker judges it."""
    begun = time.process_time()
    plan = make_plan(problem, effort)
    took = time.process_time() - begun
    told = tell(problem, plan)
    found = faults(problem.order, problem.lock, told)
    if found:
        sys.exit(f"the checker refuses the plan: {found[0]}")
    limit = {need.name: need.limit_on for need in problem.order.needs}
    served = [need for trip in told.trips for visit in trip.visits for need in visit.needs]
    return plan, told, sum(need.on > limit[need.name] for need in served), took


def row(name: str, cells: Sequence[str], took: float | None) -> None:
    end = "" if took is None else f"{took:.0f}"
    print(f"| {name} | {' | '.join(cells)} | {end} |", flush=True)


def main() -> None:
    words = sys.argv[1:]
    rounds = 0
    if "--bound" in words:
        at = words.index("--bound")
        rounds = int(words[at + 1])
        del words[at : at + 2]
    units, technicians, iterations, *seeds = map(int, words)
    problem = Problem(study_order(units, technicians))
    make_plan(problem, Effort(seed=1, iterations=10))  # compiled
    print(f"| plan | {' | '.join(COLUMNS)} | CPU s |\n|{'---|' * (len(COLUMNS) + 2)}")
    for name, simple in (("own date", own_date_plan), ("site by site", site_grouped_plan)):
        beside = simple(problem)
        row(name, figures(beside.told, len(beside.late)), None)
    best: tuple[int, Plan] | None = None
    for seed in seeds or [1, 2, 3]:
        plan, told, late, took = planned(problem, Effort(seed=seed, iterations=iterations))
        row(f"seed {seed}, {iterations:,} iterations", figures(told, late), took)
        if best is None or told.costs.total < best[0]:
            best = told.costs.total, plan
    if rounds and best is not None:
        lower_bound(problem, rounds=1)  # compiled
        begun = time.process_time()
        bound = lower_bound(problem, rounds=rounds, start=best[1])
        took = time.process_time() - begun
        gap = 100 * (best[0] / bound.cents - 1)
        ended = "converged" if bound.is_converged else "stopped"
        print(
            f"\nbound ${bound.cents / 100:,.0f} after {bound.rounds} rounds ({ended}),"
            f" {took:.0f} CPU s: the cheapest plan is {gap:.1f} % above it; left out:"
            f" {len(bound.left_out)}; true where {bound.rule}"
        )


if __name__ == "__main__":
    main()
