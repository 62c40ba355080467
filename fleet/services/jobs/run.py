"""Who does the long work? Whichever process takes a job first; if it dies, another does it again.

A job is taken, and how far it is told, in short units of work of their own: while it computes, no
writer waits for it. A heart beats beside it, so that a job which has nothing to tell for long is
not taken for dead. What it made is kept with the word that it is done.
"""

from __future__ import annotations

import datetime as dt
import logging
import threading
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from typing import Any, Final

from fleet.domain.jobs import Job, JobFile, JobState
from fleet.errors import FleetError, StoreError
from fleet.services.jobs.queue import KEPT_FOR
from fleet.services.ports import Store

__all__ = ["LEASE", "MOST_TRIES", "Made", "Runner", "Step", "Work"]

LEASE: Final = dt.timedelta(minutes=2)
"""A process that says nothing for so long has died."""
MOST_TRIES: Final = 3
_TOLD_EVERY: Final = dt.timedelta(milliseconds=500)
_LOG = logging.getLogger("dueward.jobs")

Step = Callable[[int, int, str], None]
"""Tells how far a job is: done, of how many (0: unknown), and what is being done."""


@dataclass(frozen=True, slots=True)
class Made:
    """What a job came to: facts for its page, and files."""

    result: Mapping[str, str] = field(default_factory=dict)
    files: Sequence[JobFile] = ()


Work = Callable[[Job, Step], Made]


class Taken(Exception):
    """Another process has the job now; what this one makes of it is not kept."""


@dataclass(slots=True)
class Runner:
    """One process that does jobs, one at a time; kinds: by name, what does them."""

    store: Store
    kinds: Mapping[str, Work]
    clock: Callable[[], dt.datetime]
    owner: str
    beat_seconds: float = LEASE.total_seconds() / 4
    """How often the lease of the job under way is renewed."""
    _told_at: dt.datetime | None = None

    def loop(self, stopped: threading.Event, every_seconds: float = 0.5) -> None:
        """Do jobs as they come until `stopped` is set; the one under way is finished."""
        while not stopped.is_set():
            try:
                found = self.run_one()
            except Exception:
                _LOG.exception("the queue of jobs could not be read; it is tried again")
                found = False
            if not found:
                stopped.wait(every_seconds)

    def run_one(self) -> bool:
        """Do the next job; False where none waits."""
        job = self._take()
        if job is None:
            return False
        if job.state is JobState.FAILED:
            return True
        try:
            with self._heard(job):
                made = self.kinds[job.kind](job, lambda *step: self._tell(job, *step))
        except Taken:
            return True
        except FleetError as error:
            self._end(job, JobState.FAILED, str(error), Made())
        except Exception:
            _LOG.exception("job %s (%s) failed", job.number, job.kind)
            self._end(job, JobState.FAILED, "an error that nobody foresaw; it was noted", Made())
        else:
            self._end(job, JobState.DONE, "", made)
        return True

    def _take(self) -> Job | None:
        now = self.clock()
        with self.store.begin() as record:
            if record.jobs.next(now) is None:
                return None
        with self.store.begin(write=True) as record:
            job = record.jobs.next(now)
            if job is None:
                return None
            taken = replace(job, owner=self.owner, lease_until_at=now + LEASE, tries=job.tries + 1)
            if job.tries >= MOST_TRIES or job.kind not in self.kinds:
                why = "it was begun three times, and no process came to its end"
                taken = replace(taken, state=JobState.FAILED, words=why, ended_at=now)
            else:
                taken = replace(taken, state=JobState.RUNNING)
            record.jobs.put(taken)
            record.jobs.drop_before(now - KEPT_FOR)
            record.commit()
        self._told_at = None
        return taken

    def _tell(self, job: Job, done: int, total: int, words: str) -> None:
        now = self.clock()
        if self._told_at is not None and dt.timedelta() <= now - self._told_at < _TOLD_EVERY:
            return
        self._told_at = now
        self._write(job, done=done, total=total, words=words, lease_until_at=now + LEASE)

    @contextmanager
    def _heard(self, job: Job) -> Iterator[None]:
        """Renew the lease of a job while the block lasts."""
        ended = threading.Event()

        def beat() -> None:
            while not ended.wait(self.beat_seconds):
                try:
                    self._write(job, lease_until_at=self.clock() + LEASE)
                except Taken:
                    return

        thread = threading.Thread(target=beat, daemon=True)
        thread.start()
        try:
            yield
        finally:
            ended.set()
            thread.join()

    def _write(self, job: Job, **told: Any) -> None:  # noqa: ANN401 - fields of a job
        """Write how a job under way stands; a database that is busy is told the next time."""
        try:
            with self.store.begin(write=True) as record:
                record.jobs.put(replace(self._own(record.jobs.find(job.number)), **told))
                record.commit()
        except StoreError as error:
            _LOG.warning("how far job %s is was not written: %s", job.number, error)

    def _end(self, job: Job, state: JobState, words: str, made: Made) -> None:
        with self.store.begin(write=True) as record:
            try:
                standing = self._own(record.jobs.find(job.number))
            except Taken:
                return
            for file in made.files:
                record.jobs.put_file(job.number, file)
            ended = replace(
                standing, state=state, words=words, result=made.result, ended_at=self.clock()
            )
            record.jobs.put(ended)
            record.commit()

    def _own(self, standing: Job | None) -> Job:
        """The job as it stands, if it is still this process's."""
        if standing is None or standing.owner != self.owner or standing.state != "running":
            raise Taken
        return standing
