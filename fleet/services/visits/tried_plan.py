"""How does a plan that was tried wait to be kept, and is it still one when it is?

It stands in a file as a kept plan does. Whether it may be kept is judged by the checker of plans,
against the order that the record of today makes: nothing is planned a second time.
"""

from __future__ import annotations

from fleet.errors import FleetError
from fleet.services.visits.answer import Answer, Effort
from fleet.services.visits.order import Ordered
from fleet.services.visits.plan_text import PlanContent
from schedules.visits.check import faults
from schedules.visits.model import Lock, Plan, Trip
from schedules.visits.problem import Problem

__all__ = ["NoLongerTrue", "answer_again"]


class NoLongerTrue(FleetError):
    """A plan that does not fit the record as it is; says in sentences what does not."""

    def __init__(self, says: list[str]) -> None:
        self.says = says
        super().__init__(" ".join(says))


def answer_again(tried: PlanContent, ordered: Ordered) -> Answer:
    """A tried plan as the answer to the order of today, to be kept.

    Raises NoLongerTrue where it breaks a rule of that order or adds up to another sum.
    """
    if wrong := faults(ordered.order, Lock(), tried.told):
        raise NoLongerTrue(wrong)
    trips = (
        Trip(trip.technician, trip.starts_on, tuple(n.name for v in trip.visits for n in v.needs))
        for trip in tried.told.trips
    )
    return Answer(
        ordered=ordered,
        problem=Problem(ordered.order),
        effort=Effort(tried.seed, tried.iterations),
        versions=tried.versions,
        plan=Plan(tuple(trips), tried.told.unplaced),
        told=tried.told,
        unplaced=(),
        beside=(),
        bound=None,
    )
