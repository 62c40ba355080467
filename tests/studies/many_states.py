"""Do fifty states end with the same bytes on a cluster as one by one, and how long does it take?

`python -m tests.studies.many_states [STATES] [UNITS] [ITERATIONS]` plans states that differ by
their seed one after the other, by two processes, and on a Dask cluster of two workers on this
machine, and compares the plans as JSON.
"""

from __future__ import annotations

import hashlib
import json
import sys
import time
from collections.abc import Sequence
from concurrent.futures import Executor
from dataclasses import asdict

from distributed import LocalCluster

from fleet.services.visits.executors import opened
from fleet.services.visits.planning import VisitPlanner
from schedules.visits.model import Plan
from schedules.visits.problem import Problem
from tests.studies.visit_instance import study_order


def digest(plans: Sequence[Plan]) -> str:
    """The SHA-256 of plans as JSON."""
    return hashlib.sha256(
        json.dumps([asdict(plan) for plan in plans], default=str).encode()
    ).hexdigest()


def timed(name: str, problems: Sequence[Problem], steps: int, pool: Executor | None) -> str:
    begun = time.perf_counter()
    plans = VisitPlanner(1, steps, lambda _: None, pool).plans(problems)
    took = time.perf_counter() - begun
    unplaced, found = sum(len(plan.unplaced) for plan in plans), digest(plans)
    print(f"| {name} | {len(plans)} | {unplaced} | {took:.0f} | {found[:16]} |", flush=True)
    return found


def main() -> None:
    states, units, steps = (*map(int, sys.argv[1:]), *(50, 400, 20_000)[len(sys.argv) - 1 :])
    problems = [Problem(study_order(units, 2, seed=seed)) for seed in range(1, states + 1)]
    VisitPlanner(1, 10, lambda _: None, None).plans(problems[:1])  # compiled
    print("| by | states | unplaced | s | SHA-256 of the plans |\n|---|---|---|---|---|")
    found = {timed("one after the other", problems, steps, None)}
    with opened("processes:2") as pool:
        found.add(timed("two processes", problems, steps, pool))
    with (
        LocalCluster(  # type: ignore[no-untyped-call]
            n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True
        ) as cluster,
        opened(cluster.scheduler_address) as pool,
    ):
        found.add(timed("a Dask cluster of two workers", problems, steps, pool))
    print("the same bytes" if len(found) == 1 else "NOT the same bytes")


if __name__ == "__main__":
    main()
