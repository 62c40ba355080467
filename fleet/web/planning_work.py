"""How is a plan of visits made, kept and drawn beside the pages?"""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, replace
from importlib.resources import files
from typing import TYPE_CHECKING, Final

from fleet.domain.jobs import Job, JobFile
from fleet.domain.plan_file import PlanFile
from fleet.errors import NotFound
from fleet.services.jobs.queue import queue_job
from fleet.services.jobs.run import Made, Step
from fleet.services.ports import Record, Stamp

if TYPE_CHECKING:
    from fleet.services.visits.answer import Answer, Compared, Unplaced
    from fleet.services.visits.order import Ordered
    from fleet.services.visits.replanning import Changed
    from fleet.wiring import Program
    from schedules.visits.told import ToldPlan

__all__ = [
    "EXAMPLE",
    "LISTED",
    "TRIED",
    "draw_plan",
    "left_out",
    "made_of",
    "note_kept",
    "number_of_pictures",
    "plan_visits",
]

EXAMPLE: Final = "example"
"""Names the plan file of the invented state in the place of a kept plan's."""
LISTED: Final = 200
"""At most so many lines of a sort are kept for the page."""
TRIED: Final = "tried.json"
"""The file of a job that a plan which was made can be kept from."""
_SVG: Final = "image/svg+xml"
_PICTURES: Final = ("map.svg", "months.svg", "money.svg")


def number_of_pictures(plan: str) -> str:
    """The number of the job that draws a kept plan: a plan never changes, so one is enough."""
    return f"{plan}-pictures"


def made_of(told: ToldPlan, changes: Iterable[Changed] = ()) -> str:
    """A digest of a plan and what it changes: it is kept only if it comes out as it was seen."""
    said = [asdict(told), [asdict(one) for one in changes]]
    return hashlib.sha256(json.dumps(said, default=str).encode()).hexdigest()


def plan_visits(program: Program, job: Job, step: Step) -> Made:
    """Plan a span by the plan file that came with the job, or keep what another job planned.

    asked['keep']: 'no', 'yes', or the digest of a plan that was looked at; asked['tried']: the job
    that made that plan. Nothing is kept that does not fit the record as it is then.
    """
    if "plan" in job.result:
        return Made(job.result)
    if "tried" in job.asked:
        step(0, 2, "the plan is held against the record as it is now")
        return _kept(program, job, _tried(program, job))
    made = _planned(program, job, step)
    return _kept(program, job, made) if job.asked["keep"] == "yes" else made


def _planned(program: Program, job: Job, step: Step) -> Made:
    """A plan that was sought, with the file that it can be kept from."""
    from fleet.services.visits.answer import answered
    from fleet.services.visits.kept_plan import check_new, content_from
    from fleet.services.visits.plan_text import write_plan

    iterations, done = int(job.asked["iterations"]), [0]

    def tell(count: int) -> None:
        done[0] += count
        step(done[0], iterations, "a cheap plan is sought, step by step")

    step(0, iterations, "the record is read")
    with program.store.begin() as record:
        ordered = _ordered(program, record, job)
        if job.asked["keep"] != "no":
            check_new(record.register(), ordered)
    with program.planner(1, iterations, tell) as planner:
        (answer,) = answered([ordered], planner)
    pictures = _pictures(ordered, answer.told, [answer.figures, *answer.beside])
    content = write_plan(content_from(answer))
    file = JobFile(name=TRIED, media_type="application/json", content=content)
    return Made(_figures(answer) | {"made": made_of(answer.told)}, [*pictures, file])


def _tried(program: Program, job: Job) -> Made:
    """What the job came to that made the plan which was looked at."""
    with program.store.begin() as record:
        tried = record.jobs.find(job.asked["tried"])
        found = [record.jobs.file(job.asked["tried"], name) for name in (*_PICTURES, TRIED)]
    files = [file for file in found if file is not None]
    if tried is None or tried.result.get("made") != job.asked["keep"] or TRIED not in _names(files):
        raise NotFound("tried plan", job.asked["tried"], "ask anew: it is kept a month")
    return Made(tried.result, files)


def _names(some: Iterable[JobFile]) -> list[str]:
    return [one.name for one in some]


def _kept(program: Program, job: Job, made: Made) -> Made:
    """Keep a plan that was made, or say what of it does not fit the record any more."""
    from fleet.services.steady import written_steadily
    from fleet.services.visits.kept_plan import check_new, keep_plan
    from fleet.services.visits.plan_text import read_plan
    from fleet.services.visits.tried_plan import NoLongerTrue, answer_again

    (content,) = (read_plan(file.content) for file in made.files if file.name == TRIED)
    stamp = Stamp(at=program.clock(), by=job.by, source="page")

    def look(record: Record) -> Answer:
        ordered = _ordered(program, record, job)
        check_new(record.register(), ordered)
        return answer_again(content, ordered)

    def write(record: Record, answer: Answer) -> dict[str, str]:
        kept = keep_plan(record, program.public_holidays, answer, stamp)
        result = dict(made.result) | {"plan": kept.plan.number}
        note_kept(record, job, result, stamp)
        return result

    try:
        return Made(written_steadily(program.store, look, write), made.files)
    except NoLongerTrue as outrun:
        told = {f"fault-{n}": fault for n, fault in enumerate(outrun.says[:LISTED])}
        changed = {"changed": "yes", "faults": str(len(outrun.says))}
        return Made(dict(made.result) | changed | told, made.files)


def note_kept(record: Record, job: Job, result: Mapping[str, str], stamp: Stamp) -> None:
    """Note with a plan that is kept what its job came to, and have its page's pictures drawn.

    A process that dies between here and the job's end has then not to keep a second one.
    """
    standing = record.jobs.find(job.number)
    if standing is not None:
        record.jobs.put(replace(standing, result=dict(result)))
    asked = {"plan": result["plan"], "of": job.number}
    number = number_of_pictures(result["plan"])
    queue_job(record, number, "pictures", asked, stamp, follows=True)


def draw_plan(program: Program, job: Job, step: Step) -> Made:
    """What a kept plan's page shows beside its trips: its map, its months, its money, its figures.

    asked['of']: the job that kept it, whose figures and pictures are the plan's own.
    """
    from fleet.services.visits.answer import compared
    from fleet.services.visits.kept_plan import content_of, plan_named
    from fleet.services.visits.order import order_of

    step(0, 2, "the record is read")
    number = job.asked["plan"]
    with program.store.begin() as record:
        content = content_of(record, plan_named(record.register(), number))
        origin = record.jobs.find(job.asked["of"])
        result = {"plan": number} | dict(origin.result if origin else {})
        found = [record.jobs.file(job.asked["of"], name) for name in _PICTURES]
        drawn = [file for file in found if file is not None]
        if drawn:
            return Made(result, drawn)
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
    own = compared("this plan", content.told)
    return Made(_rows([own]) | result, _pictures(ordered, content.told, [own]))


def _ordered(program: Program, record: Record, job: Job) -> Ordered:
    from fleet.services.questions import Narrow
    from fleet.services.visits.order import order_of

    return order_of(
        record,
        program.public_holidays,
        program.county_centres,
        _plan_file(program, record, job),
        dt.date.fromisoformat(job.asked["from"]),
        dt.date.fromisoformat(job.asked["to"]),
        Narrow(),
    )


def _plan_file(program: Program, record: Record, job: Job) -> PlanFile:
    """The plan file that was sent, or that of a plan which was kept, or the example."""
    from fleet.files.plan_file import read_sources
    from fleet.services.visits.kept_plan import content_of, plan_named

    sent = record.jobs.file(job.number, "plan.toml")
    if sent is not None:
        return read_sources({"plan.toml": sent.content.decode("utf-8", errors="replace")})
    if job.asked["of"] == EXAMPLE:
        text = (files("demo_data") / "plan.toml").read_text(encoding="utf-8")
        return read_sources({"plan.toml": text})
    if not job.asked["of"]:
        raise NotFound("plan file", "plan.toml", "send one, or name a plan that was kept")
    return program.sources_of(content_of(record, plan_named(record.register(), job.asked["of"])))


def _figures(answer: Answer) -> dict[str, str]:
    """What the page says of a plan: the same figures for it and for the simple ones."""
    told = _rows([answer.figures, *answer.beside]) | left_out(answer.unplaced)
    for n, note in enumerate(answer.ordered.notes[:LISTED]):
        told[f"note-{n}"] = note
    return told | {"trips": str(len(answer.told.trips))}


def left_out(unplaced: Sequence[Unplaced]) -> dict[str, str]:
    """What found no place, why, and what would mend it."""
    told = {"left": str(len(unplaced))}
    for n, left in enumerate(unplaced[:LISTED]):
        need = left.need
        proved = " (no plan could)" if left.is_proved else ""
        told[f"left-{n}"] = f"{need.property_number}/{need.task}/{left.reason}{proved}; {left.mend}"
    return told


def _rows(plans: Iterable[Compared]) -> dict[str, str]:
    told = dict[str, str]()
    for n, one in enumerate(plans):
        figures = {
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
        told |= {f"{name}-{n}": str(value) for name, value in figures.items()}
    return told


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
