"""How is a plan of visits made, and drawn, beside the pages?"""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Final

from fleet.domain.jobs import Job, JobFile
from fleet.domain.plan_file import PlanFile
from fleet.errors import NotFound
from fleet.services.jobs.run import Made, Step
from fleet.services.ports import Stamp

if TYPE_CHECKING:
    from fleet.services.visits.answer import Answer, Compared
    from fleet.services.visits.order import Ordered
    from fleet.wiring import Program
    from schedules.visits.told import ToldPlan

__all__ = ["draw_plan", "plan_visits"]

_SVG: Final = "image/svg+xml"
_LISTED: Final = 200


def plan_visits(program: Program, job: Job, step: Step) -> Made:
    """Plan a span by the plan file that came with the job; kept where that was asked."""
    from fleet.services.visits.answer import answered
    from fleet.services.visits.kept_plan import check_new, keep_plan

    asked, iterations, done = job.asked, int(job.asked["iterations"]), [0]

    def tell(count: int) -> None:
        done[0] += count
        step(done[0], iterations, "steps of the search")

    step(0, iterations, "the record is read")
    ordered = _ordered(program, job)
    with program.planner(1, iterations, tell) as planner:
        if asked["keep"] == "yes":
            with program.store.begin() as record:
                check_new(record.register(), ordered)
        (answer,) = answered([ordered], planner)
    result = _figures(answer)
    if asked["keep"] == "yes":
        with program.store.begin(write=True) as record:
            stamp = Stamp(at=program.clock(), by=job.by, source="page")
            kept = keep_plan(record, program.public_holidays, answer, stamp)
            record.commit()
        result["plan"] = kept.plan.number
    plans = [answer.figures, *answer.beside]
    return Made(result, _pictures(ordered, answer.told, plans))


def draw_plan(program: Program, job: Job, step: Step) -> Made:
    """Draw a kept plan: its map, its months, its money."""
    from fleet.services.visits.answer import compared
    from fleet.services.visits.kept_plan import content_of, plan_named
    from fleet.services.visits.order import order_of

    step(0, 2, "the record is read")
    with program.store.begin() as record:
        content = content_of(record, plan_named(record.register(), job.asked["plan"]))
        ordered = order_of(
            record,
            program.public_holidays,
            program.county_centres,
            program.sources_of(content),
            content.from_on,
            content.to_on,
            content.narrow,
        )
    step(1, 2, "the pictures are drawn")
    plans = [compared(job.asked["plan"], content.told)]
    return Made({"plan": job.asked["plan"]}, _pictures(ordered, content.told, plans))


def _ordered(program: Program, job: Job) -> Ordered:
    from fleet.services.questions import Narrow
    from fleet.services.visits.order import order_of

    with program.store.begin() as record:
        return order_of(
            record,
            program.public_holidays,
            program.county_centres,
            _plan_file(program, job),
            dt.date.fromisoformat(job.asked["from"]),
            dt.date.fromisoformat(job.asked["to"]),
            Narrow(),
        )


def _plan_file(program: Program, job: Job) -> PlanFile:
    """The plan file that was sent, or that of a plan which was kept."""
    from fleet.files.plan_file import read_sources
    from fleet.services.visits.kept_plan import content_of, plan_named

    with program.store.begin() as record:
        sent = record.jobs.file(job.number, "plan.toml")
        if sent is not None:
            return read_sources({"plan.toml": sent.content.decode("utf-8", errors="replace")})
        if not job.asked.get("of"):
            raise NotFound("plan file", "plan.toml", "send one, or name a plan that was kept")
        content = content_of(record, plan_named(record.register(), job.asked["of"]))
    return program.sources_of(content)


def _figures(answer: Answer) -> dict[str, str]:
    """What the page says of a plan: the same figures for it and for the simple ones."""
    told: dict[str, str] = {}
    for n, one in enumerate([answer.figures, *answer.beside]):
        told |= {f"{name}-{n}": str(value) for name, value in _row(one).items()}
    for n, left in enumerate(answer.unplaced[:_LISTED]):
        need = left.need
        proved = " (no plan could)" if left.is_proved else ""
        told[f"left-{n}"] = f"{need.property_number}/{need.task}/{left.reason}{proved}; {left.mend}"
    for n, note in enumerate(answer.ordered.notes[:_LISTED]):
        told[f"note-{n}"] = note
    return told | {"trips": str(len(answer.told.trips)), "left": str(len(answer.unplaced))}


def _row(one: Compared) -> dict[str, object]:
    return {
        "name": one.name,
        "cents": one.costs.total,
        "miles": one.miles,
        "trips": one.trips,
        "nights": one.nights,
        "visits": one.visits,
        "needs": one.needs,
        "late": one.late,
        "unplaced": one.unplaced,
    }


def _pictures(ordered: Ordered, told: ToldPlan, plans: list[Compared]) -> list[JobFile]:
    from fleet.desk.plan_papers import plan_words
    from fleet.pictures.money import money
    from fleet.pictures.months import months
    from fleet.pictures.route_map import route_map

    if not told.trips:
        return []
    order, words = ordered.order, plan_words(ordered)
    drawn = {
        "map.svg": route_map(order, told, words),
        "months.svg": months(order, told, words),
        "money.svg": money(plans),
    }
    return [JobFile(name=n, media_type=_SVG, content=text.encode()) for n, text in drawn.items()]
