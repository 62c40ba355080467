"""What does long work need of the store?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Protocol

from fleet.domain.jobs import Job, JobFile

__all__ = ["Jobs"]


class Jobs(Protocol):
    """The jobs, on one unit of work."""

    def add(self, job: Job) -> None:
        """Queue a job."""
        ...

    def find(self, number: str) -> Job | None:
        """A job by its number."""
        ...

    def put(self, job: Job) -> None:
        """Write how a job stands."""
        ...

    def next(self, now: dt.datetime) -> Job | None:
        """The oldest job that waits, or whose process has not been heard of in time."""
        ...

    def unfinished(self, by: str) -> Sequence[Job]:
        """The jobs somebody asked for that wait or run, the oldest first."""
        ...

    def put_file(self, number: str, file: JobFile) -> None:
        """Keep a file of a job, over one of the same name."""
        ...

    def file(self, number: str, name: str) -> JobFile | None:
        """A file of a job."""
        ...

    def drop_before(self, queued_before: dt.datetime) -> int:
        """Forget jobs that ended and were queued before an instant, and their files; how many."""
        ...
