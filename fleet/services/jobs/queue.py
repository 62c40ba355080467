"""How is long work asked for, and how much of it may one person ask for at a time?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from typing import Final

from fleet.domain.jobs import KIND_WORDS, Job, JobFile, JobState
from fleet.errors import BadInput, Fault
from fleet.services.ports import Record, Stamp

__all__ = ["KEPT_FOR", "MOST_UNFINISHED", "queue_job"]

MOST_UNFINISHED: Final = 5
"""So many jobs of one person may wait or run at a time."""
KEPT_FOR: Final = dt.timedelta(days=30)
"""A job that ended is forgotten so long after it was asked for."""


def queue_job(
    record: Record,
    number: str,
    kind: str,
    asked: Mapping[str, str],
    stamp: Stamp,
    files: Sequence[JobFile] = (),
    *,
    follows: bool = False,
) -> Job:
    """Queue a job under a number that was drawn for it; the caller commits.

    The same number again answers with the job that stands: a form sent twice is one job. One that
    failed is done once more; a number that stands for something else is refused (BadInput). So is
    one more than MOST_UNFINISHED of a person, but for one that `follows` from another by itself.
    Old jobs are forgotten meanwhile.
    """
    record.jobs.drop_before(stamp.at - KEPT_FOR)
    job = Job(
        number=number, kind=kind, asked=dict(asked), by=stamp.by, queued_at=stamp.at, result={}
    )
    standing = record.jobs.find(number)
    if standing is not None:
        if (standing.kind, standing.asked) != (kind, job.asked):
            problem, mend = "it was sent before with something else in it", "load the page again"
            raise BadInput([Fault("job", None, None, problem, mend)])
        if standing.state is not JobState.FAILED:
            return standing
    if not follows:
        _refuse_too_many(record.jobs.unfinished(stamp.by))
    if standing is None:
        record.jobs.add(job)
    else:
        record.jobs.put(job)
    for file in files:
        record.jobs.put_file(number, file)
    return job


def _refuse_too_many(unfinished: Sequence[Job]) -> None:
    """Refuse one more job, in the column 'jobs', which is no field: their page is meant."""
    if len(unfinished) < MOST_UNFINISHED:
        return
    names = ", ".join(KIND_WORDS.get(job.kind, job.kind) for job in unfinished)
    problem = f"{len(unfinished)} jobs of yours wait or run already ({names})"
    mend = "see them at /jobs, and ask again when one has ended"
    raise BadInput([Fault("job", None, "jobs", problem, mend)])
