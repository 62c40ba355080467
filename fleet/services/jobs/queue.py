"""How is long work asked for?"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from fleet.domain.jobs import Job, JobFile
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

    The same number again answers with the job that stands: a form sent twice is one job.
    """
    standing = record.jobs.find(number)
    if standing is not None:
        return standing
    job = Job(
        number=number, kind=kind, asked=dict(asked), by=stamp.by, queued_at=stamp.at, result={}
    )
    record.jobs.add(job)
    for file in files:
        record.jobs.put_file(number, file)
    return job
