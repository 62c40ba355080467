"""Which trip does the demo's technician have? One of a plan made by hand, which needs no planner.

The plan is the simple one that plans are compared with: as few visits to a site as can be, each a
trip of its own. It is kept, and its first trip confirmed; no mail goes out.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from fleet.domain.visits import SiteVisit
from fleet.services.ports import Record, Stamp
from fleet.services.questions import Narrow

if TYPE_CHECKING:
    from fleet.services.visits.answer import Answer
    from fleet.wiring import Program

__all__ = ["confirmed_trip"]

_SPAN: Final = dt.timedelta(days=60)


def confirmed_trip(program: Program, record: Record, region: str, by: str) -> Sequence[SiteVisit]:
    """Keep a plan for the region's next two months and confirm its first trip; its visits.

    Raises BadInput where planning needs what is not installed. The caller commits.
    """
    from fleet.services.visits.grading import confirm
    from fleet.services.visits.kept_plan import keep_plan
    from fleet.services.visits.planning import check_libraries

    check_libraries()
    stamp = Stamp(at=program.clock(), by=by, source="command")
    kept = keep_plan(record, program.public_holidays, _answer(program, record, region), stamp)
    first = min(kept.visits, key=lambda visit: (visit.trip_on, visit.number))
    return confirm(record, program.public_holidays, [first.number], stamp).visits


def _answer(program: Program, record: Record, region: str) -> Answer:
    from fleet.files.plan_file import read_sources
    from fleet.services.visits.answer import Answer, Effort
    from fleet.services.visits.order import order_of
    from schedules.visits.model import Plan
    from schedules.visits.problem import Problem
    from schedules.visits.simple_plans import site_grouped_plan

    text = (files("demo_data") / "plan.toml").read_text(encoding="utf-8")
    from_on = program.clock().date() + dt.timedelta(days=1)
    ordered = order_of(
        record,
        program.public_holidays,
        program.county_centres,
        read_sources({"plan.toml": text}),
        from_on,
        from_on + _SPAN,
        Narrow(regions=(region,)),
    )
    problem = Problem(ordered.order)
    return Answer(
        ordered=ordered,
        problem=problem,
        effort=Effort(0, 0),
        versions={"made": "by hand"},
        plan=Plan(()),
        told=site_grouped_plan(problem).told,
        unplaced=(),
        beside=(),
        bound=None,
    )
