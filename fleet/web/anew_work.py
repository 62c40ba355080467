"""How is a kept plan made anew beside the pages: first to be looked at, then for good?"""

from __future__ import annotations

from typing import TYPE_CHECKING

from fleet.domain.jobs import Job
from fleet.domain.visits import SiteVisit
from fleet.services.jobs.run import Made, Step
from fleet.services.ports import Stamp
from fleet.services.visits.move_words import move_words
from fleet.web.planning_work import LISTED, left_out, made_of, note_kept
from schedules.visits.difference import Move, Stop
from schedules.visits.model import Grade

if TYPE_CHECKING:
    from fleet.services.visits.replanning import Changed, Replanned
    from fleet.wiring import Program

__all__ = ["plan_anew"]


def plan_anew(program: Program, job: Job, step: Step) -> Made:
    """Make a plan anew on the record as it is, and say how it differs.

    asked['keep']: 'no', or the digest of what was looked at, which takes the plan's place if the
    same comes out. No writer waits while it is made: it is refused if the register changed then.
    """
    from fleet.services.visits.notices import moved_or_gone
    from fleet.services.visits.replanning import keep_anew, replan

    if "plan" in job.result:
        return Made(job.result)
    asked, stamp = job.asked, Stamp(at=program.clock(), by=job.by, source="page")
    step(0, 2, "the plan is made anew")
    given = program.replanning(0)
    with program.store.begin() as record:
        found = replan(record, given, stamp, number=asked["plan"], is_trial=True)
    result = _told(found) | {"made": made_of(found.answer.told, found.changes)}
    if asked["keep"] == "no":
        return Made(result)
    if asked["keep"] != result["made"] or not found.is_other:
        return Made(result | {"changed": "yes"})
    step(1, 2, "the new plan takes its place")
    with program.store.begin(write=True) as record:
        from fleet.desk.confirming import told_of

        kept = keep_anew(record, program.public_holidays, found, stamp)
        told = moved_or_gone(kept.changes)
        mails = told_of(program, record, told, stamp) if told else 0
        if kept.plan is not None:
            result |= {"plan": kept.plan.number, "mails": str(mails)}
            note_kept(record, job, result, stamp)
        record.commit()
    return Made(result)


def _told(found: Replanned) -> dict[str, str]:
    """What the page says of the plan made anew, against the one before."""
    difference = found.difference
    others = [_line(one) for one in found.changes if one.is_other]
    told = left_out(found.answer.unplaced) | {
        "before": found.before.number,
        "is_other": "yes" if found.is_other else "no",
        "words": difference.words,
        "cents_before": str(difference.cents_before),
        "cents_after": str(difference.cents_after),
        "miles_before": str(difference.miles_before),
        "miles_after": str(difference.miles_after),
        "moves": str(len(others)),
    }
    for n, line in enumerate(others[:LISTED]):
        told[f"move-{n}"] = line
    for n, one in enumerate(found.left_alone[:LISTED]):
        told[f"alone-{n}"] = f"{one.number}, {one.on}, {one.site}"
    return told


def _line(change: Changed) -> str:
    """A visit that is otherwise, in the words of a move; by visits, so that one which comes back
    after it was cancelled is told too.
    """
    was, now = change.was, change.now
    grade = Grade.FREE if was is None else was.grade
    line = move_words(Move(was=_stop(was), now=_stop(now), grade=grade))
    if was is None or now is None or (now.on, now.technician) != (was.on, was.technician):
        return line
    return f"{line}, {now.from_at} to {now.to_at}, was {was.from_at} to {was.to_at}"


def _stop(visit: SiteVisit | None) -> Stop | None:
    if visit is None:
        return None
    return Stop(
        site=visit.site, technician=visit.technician, on=visit.on, needs=tuple(visit.need_names)
    )
