"""How does long work stand in its tables?"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Callable
from dataclasses import asdict
from typing import Any

import sqlalchemy as sa

from fleet.domain.jobs import Job, JobFile, JobState
from fleet.storage.job_schema import job, job_file

__all__ = ["SqlJobs"]


class SqlJobs:
    """The port `Jobs` on one unit of work."""

    def __init__(self, connection: sa.Connection, writing: Callable[[], sa.Connection]) -> None:
        self._connection, self._writing = connection, writing

    def add(self, made: Job) -> None:
        """Queue a job."""
        self._writing().execute(sa.insert(job), _row(made))

    def find(self, number: str) -> Job | None:
        """A job by its number."""
        return self._one(sa.select(job).where(job.c.number == number))

    def put(self, told: Job) -> None:
        """Write how a job stands."""
        self._writing().execute(sa.update(job).where(job.c.number == told.number), _row(told))

    def next(self, now: dt.datetime) -> Job | None:
        """The oldest job that waits, or whose process has not been heard of in time."""
        is_left = sa.and_(job.c.state == JobState.RUNNING, job.c.lease_until_at < now)
        query = sa.select(job).where(sa.or_(job.c.state == JobState.WAITING, is_left))
        return self._one(query.order_by(job.c.queued_at, job.c.number).limit(1))

    def unfinished(self, by: str) -> list[Job]:
        """The jobs somebody asked for that wait or run, the oldest first."""
        query = sa.select(job).where(job.c.state.in_(_UNFINISHED), job.c.by == by)
        rows = self._connection.execute(query.order_by(job.c.queued_at, job.c.number)).mappings()
        return [_job(row) for row in rows]

    def put_file(self, number: str, file: JobFile) -> None:
        """Keep a file of a job, over one of the same name."""
        this = (job_file.c.number == number, job_file.c.name == file.name)
        self._writing().execute(sa.delete(job_file).where(*this))
        self._writing().execute(sa.insert(job_file), {"number": number, **asdict(file)})

    def file(self, number: str, name: str) -> JobFile | None:
        """A file of a job."""
        query = sa.select(job_file.c.name, job_file.c.media_type, job_file.c.content)
        query = query.where(job_file.c.number == number, job_file.c.name == name)
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else JobFile(**row)

    def drop_before(self, queued_before: dt.datetime) -> int:
        """Forget jobs that ended and were queued before an instant, and their files; how many."""
        has_ended = job.c.state.not_in(_UNFINISHED)
        old = sa.select(job.c.number).where(has_ended, job.c.queued_at < queued_before)
        self._writing().execute(sa.delete(job_file).where(job_file.c.number.in_(old)))
        return self._writing().execute(sa.delete(job).where(job.c.number.in_(old))).rowcount

    def _one(self, query: sa.Select[Any]) -> Job | None:
        row = self._connection.execute(query).mappings().one_or_none()
        return None if row is None else _job(row)


def _job(row: sa.RowMapping) -> Job:
    told = {"asked": json.loads(row["asked"]), "result": json.loads(row["result"])}
    return Job(**{**row, **told})


def _row(told: Job) -> dict[str, Any]:
    texts = {name: json.dumps(dict(getattr(told, name)), sort_keys=True) for name in _OBJECTS}
    return {**asdict(told), **texts}


_OBJECTS = ("asked", "result")
_UNFINISHED = (JobState.WAITING, JobState.RUNNING)
