"""What is answered to who asks for a plan? The plan, what is in no trip, other plans beside it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Protocol

from fleet.services.visits.order import Ordered
from schedules.visits.model import Need, Plan
from schedules.visits.problem import Problem
from schedules.visits.told import Costs, ToldPlan, tell

__all__ = [
    "Answer",
    "Compared",
    "Effort",
    "Lower",
    "Planner",
    "Unplaced",
    "answer_of",
    "answered",
    "compared",
]


@dataclass(frozen=True, slots=True)
class Effort:
    """By what chance a plan is sought and how long: the same two give the same plan."""

    seed: int
    iterations: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Unplaced:
    """A need that is in no trip: why, how to mend it; is_proved: no plan could have placed it."""

    need: Need
    reason: str
    mend: str
    is_proved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Compared:
    """The figures of a plan, to stand beside others; miles in hundredths.

    late: needs served after their limit; unplaced: those that are not served.
    """

    name: str
    costs: Costs
    trips: int
    days: int
    nights: int
    visits: int
    needs: int
    miles: int
    drive_minutes: int
    lost_days: int
    late: int
    unplaced: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Lower:
    """What no plan can cost less than, in whole cents, and by which rules of a trip that is so."""

    cents: int
    rounds: int
    is_converged: bool
    rule: str


class Planner(Protocol):
    """What plans, and judges plans."""

    @property
    def effort(self) -> Effort:
        """With what effort."""
        ...

    def plans(self, problems: Sequence[Problem]) -> Sequence[Plan]:
        """The plan of each order, which know nothing of each other."""
        ...

    def versions(self) -> Mapping[str, str]:
        """What it is made with, by name."""
        ...

    def unplaced(self, problem: Problem, plan: Plan) -> Sequence[Unplaced]:
        """Why needs are in no trip, in the order of the plan's unplaced."""
        ...

    def beside(self, problem: Problem) -> Sequence[Compared]:
        """The plans that are made without a planner."""
        ...

    def bound(self, problem: Problem, plan: Plan) -> Lower:
        """What no plan can cost less than."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """A plan and all that is said of it."""

    ordered: Ordered
    problem: Problem
    effort: Effort
    versions: Mapping[str, str]
    plan: Plan
    told: ToldPlan
    unplaced: Sequence[Unplaced]
    beside: Sequence[Compared]
    bound: Lower | None

    @property
    def figures(self) -> Compared:
        """The plan's own figures."""
        return compared("this plan", self.told)

    @property
    def gap_permille(self) -> int | None:
        """By how much the plan costs more than the bound, in thousandths of that, rounded up."""
        if self.bound is None or self.bound.cents <= 0:
            return None
        return -(-1000 * (self.told.costs.total - self.bound.cents) // self.bound.cents)


def compared(name: str, told: ToldPlan, late: int = 0) -> Compared:
    """The figures of a plan under a name."""
    return Compared(
        name=name,
        costs=told.costs,
        trips=len(told.trips),
        days=told.days,
        nights=told.nights,
        visits=told.visits,
        needs=told.needs,
        miles=told.miles,
        drive_minutes=told.drive_minutes,
        lost_days=told.lost_days,
        late=late,
        unplaced=len(told.unplaced),
    )


def answered(
    some: Sequence[Ordered], planner: Planner, *, wants_bound: bool = False
) -> list[Answer]:
    """Plan orders, and say what stands beside each plan; one without needs has no trips."""
    problems = [Problem(ordered.order) for ordered in some]
    busy = [problem for problem in problems if problem.order.needs]
    plans = iter(planner.plans(busy))
    answers = []
    for ordered, problem in zip(some, problems, strict=True):
        if not problem.order.needs:
            answers.append(answer_of(ordered, problem, Plan(()), planner))
            continue
        plan = next(plans)
        answer = answer_of(ordered, problem, plan, planner)
        bound = planner.bound(problem, plan) if wants_bound else None
        answers.append(replace(answer, beside=planner.beside(problem), bound=bound))
    return answers


def answer_of(ordered: Ordered, problem: Problem, plan: Plan, planner: Planner) -> Answer:
    """Say a plan, with nothing beside it."""
    return Answer(
        ordered=ordered,
        problem=problem,
        effort=planner.effort,
        versions=planner.versions(),
        plan=plan,
        told=tell(problem, plan),
        unplaced=planner.unplaced(problem, plan) if plan.unplaced else (),
        beside=(),
        bound=None,
    )
