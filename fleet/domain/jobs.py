"""What is a job? Long work that somebody asked for, and that no page waits for."""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

__all__ = ["KIND_WORDS", "Job", "JobFile", "JobState"]

KIND_WORDS: Final[Mapping[str, str]] = {
    "packet": "evidence packet",
    "plan": "plan of visits",
    "anew": "plan made anew",
    "pictures": "pictures of a plan",
    "import": "look at files",
    "load": "loading of files",
}
"""What each kind of long work is called."""


class JobState(StrEnum):
    """How far a job is."""

    WAITING = "waiting"
    RUNNING = "running"
    DONE = "done"
    FAILED = "failed"


@dataclass(frozen=True, slots=True, kw_only=True)
class Job:
    """One piece of long work, and how it stands."""

    number: str
    """Nobody can guess it: who knows it may have been told it."""
    kind: str
    asked: Mapping[str, str]
    by: str
    """Who asked, as `Stamp.by` has it."""
    state: JobState = JobState.WAITING
    done: int = 0
    total: int = 0
    """0 where nobody knows how much there is."""
    words: str = ""
    """What is being done; of a failed job, why it failed."""
    result: Mapping[str, str]
    queued_at: dt.datetime
    ended_at: dt.datetime | None = None
    owner: str = ""
    """The process that runs it."""
    lease_until_at: dt.datetime | None = None
    """From then on another process may run it again."""
    tries: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class JobFile:
    """A file that a job was given or has made."""

    name: str
    media_type: str
    content: bytes
