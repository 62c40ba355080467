"""With what are visits planned? The planner of `schedules.visits`, imported when it is first used.

Its arithmetic is compiled at the first call, and the libraries it needs are an extra.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from importlib.util import find_spec

from fleet.errors import BadInput, Fault
from fleet.services.visits.answer import Compared, Effort, Lower, Unplaced, compared
from schedules.visits.model import Plan
from schedules.visits.problem import Problem

__all__ = ["LIBRARIES", "VisitPlanner", "check_libraries"]

LIBRARIES = ("highspy", "numba")
"""What the extra `plan` brings."""
_ROUNDS = 80
"""So many rounds of the bound are done."""


def check_libraries() -> None:
    """Refuse to plan where a library of the extra is missing (BadInput)."""
    missing = [name for name in LIBRARIES if find_spec(name) is None]
    if missing:
        are = "is" if len(missing) == 1 else "are"
        problem = f"{' and '.join(missing)} {are} not installed"
        mend = f"install what planning needs: pip install {' '.join(missing)}"
        raise BadInput([Fault("plan", None, None, problem, mend)])


class VisitPlanner:
    """Implements `fleet.services.visits.answer.Planner`."""

    def __init__(
        self,
        seed: int,
        iterations: int | None,
        step: Callable[[int], None],
        executor: Executor | None = None,
    ) -> None:
        """Take the seed, the iterations (None: as many as the planner thinks right), whom to tell
        that so many more are done, and what plans several orders side by side.
        """
        from schedules.visits import planner

        limit = {} if iterations is None else {"iterations": iterations}
        self._own, self._step = planner.Effort(seed=seed, **limit), step
        self._executor = executor

    @property
    def effort(self) -> Effort:
        """With what effort."""
        return Effort(self._own.seed, self._own.iterations)

    def plans(self, problems: Sequence[Problem]) -> Sequence[Plan]:
        """The plan of each order: one after the other, or by the executor, to the same bytes."""
        from schedules.visits import planner

        if self._executor is None:
            return [planner.make_plan(one, self._own, self._step) for one in problems]
        asked = [
            self._executor.submit(planner.plan_order, one.order, one.lock, self._own)
            for one in problems
        ]
        found = []
        for future in asked:
            found.append(future.result())
            self._step(self._own.iterations)
        return found

    def replan(self, problem: Problem, before: Plan) -> Plan:
        """The plan after a change, from the one before it."""
        from schedules.visits import planner

        return planner.replan(problem, before, self._own, self._step)

    def versions(self) -> Mapping[str, str]:
        """What it is made with, by name."""
        from schedules.visits import planner

        return planner.versions()

    def unplaced(self, problem: Problem, plan: Plan) -> Sequence[Unplaced]:
        """Why needs are in no trip, in the order of the plan's unplaced.

        What no plan could have done comes first; for the rest one rule at a time is relaxed.
        """
        from schedules.visits.diagnosis import diagnose, explain_unplaced

        needs = {need.name: need for need in problem.order.needs}
        proved = {name: one for one in reversed(diagnose(problem)) for name in one.needs}
        rest = tuple(name for name in plan.unplaced if name not in proved)
        sought = dict(zip(rest, explain_unplaced(problem, Plan(plan.trips, rest)), strict=True))
        found = [proved.get(name) or sought[name] for name in plan.unplaced]
        return [
            Unplaced(
                need=needs[name],
                reason=one.words,
                mend=one.mend.words if one.mend else "",
                is_proved=one.is_proved,
            )
            for name, one in zip(plan.unplaced, found, strict=True)
        ]

    def beside(self, problem: Problem) -> Sequence[Compared]:
        """Each need on its due date, and as few visits to each site as can be: out and back."""
        from schedules.visits.simple_plans import own_date_plan, site_grouped_plan

        own, grouped = own_date_plan(problem), site_grouped_plan(problem)
        return [
            compared("own date", own.told, len(own.late)),
            compared("site by site", grouped.told, len(grouped.late)),
        ]

    def bound(self, problem: Problem, plan: Plan) -> Lower:
        """What no plan can cost less than."""
        from schedules.visits.bound import lower_bound

        found = lower_bound(problem, rounds=_ROUNDS, start=plan)
        return Lower(
            cents=found.cents,
            rounds=found.rounds,
            is_converged=found.is_converged,
            rule=found.rule,
        )
