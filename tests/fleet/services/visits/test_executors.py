"""Do states that are planned side by side end with the same bytes as one by one?"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor

import pytest
from distributed import LocalCluster

from fleet.errors import BadInput
from fleet.services.visits.executors import opened
from fleet.services.visits.planning import VisitPlanner
from schedules.visits.model import Plan
from schedules.visits.problem import Problem
from tests.studies.visit_instance import study_order

STATES, STEPS = 3, 400


@pytest.fixture(scope="module")
def problems() -> list[Problem]:
    return [Problem(study_order(120, 2, seed=seed)) for seed in range(1, STATES + 1)]


@pytest.fixture(scope="module")
def one_by_one(problems: list[Problem]) -> list[Plan]:
    return planned(problems, None)


@pytest.fixture(scope="module")
def cluster() -> Iterator[LocalCluster]:
    """Two workers, each a process of one thread, on this machine."""
    with LocalCluster(  # type: ignore[no-untyped-call]
        n_workers=2, threads_per_worker=1, dashboard_address=None, processes=True
    ) as made:
        yield made


def planned(problems: list[Problem], pool: Executor | None) -> list[Plan]:
    return list(VisitPlanner(1, STEPS, lambda _: None, pool).plans(problems))


def test_processes_plan_to_the_same_bytes(problems: list[Problem], one_by_one: list[Plan]) -> None:
    with opened("processes:2") as pool:
        assert planned(problems, pool) == one_by_one


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_of_two_workers_plans_to_the_same_bytes(
    problems: list[Problem], one_by_one: list[Plan], cluster: LocalCluster
) -> None:
    with opened(cluster.scheduler_address) as pool:
        assert planned(problems, pool) == one_by_one


def test_without_words_there_is_no_executor() -> None:
    with opened("") as pool:
        assert pool is None


@pytest.mark.parametrize("words", ["processes", "processes:0", "threads:2", "http://x", "2"])
def test_words_that_name_no_executor_are_refused(words: str) -> None:
    with pytest.raises(BadInput, match="names no executor; write processes:4"), opened(words):
        pass


@pytest.mark.filterwarnings("ignore")
def test_a_cluster_that_is_not_there_is_told() -> None:
    with pytest.raises(BadInput, match="no Dask scheduler answers"), opened("tcp://127.0.0.1:9"):
        pass
