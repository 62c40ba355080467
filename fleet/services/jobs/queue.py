"""How is long work asked for?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fleet.domain.jobs import Job, JobFile, JobState
from fleet.errors import BadInput, Fault
from fleet.services.ports import Record, Stamp

__all__ = ["queue_job"]


def queue_job(
    record: Record,
    number: str,
    kind: str,
    asked: Mapping[str, str],
    stamp: Stamp,
    files: Sequence[JobFile] = (),
) -> Job:
    """Queue a job under a number that was drawn for it; the caller commits.

    The same number again answers with the job that stands: a form sent twice is one job. One that
    failed is done once more; a number that stands for something else is refused (BadInput).
    """
    job = Job(
        number=number, kind=kind, asked=dict(asked), by=stamp.by, queued_at=stamp.at, result={}
    )
    standing = record.jobs.find(number)
    if standing is None:
        record.jobs.add(job)
    elif (standing.kind, standing.asked) != (kind, job.asked):
        problem, mend = "it was sent before with something else in it", "load the page again"
        raise BadInput([Fault("job", None, None, problem, mend)])
    elif standing.state is not JobState.FAILED:
        return standing
    else:
        record.jobs.put(job)
    for file in files:
        record.jobs.put_file(number, file)
    return job
