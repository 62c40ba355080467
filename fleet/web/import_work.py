"""How are files that were sent looked at, and then loaded, beside the pages?

Both jobs read the bytes that were sent once: what is loaded is what was looked at.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

from fleet.domain.jobs import Job, JobFile
from fleet.errors import NotFound
from fleet.services.jobs.run import Made, Step
from fleet.services.ports import Stamp

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["DIFFERENCE", "load_files", "look_at_files"]

DIFFERENCE: Final = "difference.json"
"""The file that a look leaves; none that is sent can be called so."""
_SOURCE: Final = "file"
"""The door that what stands in files comes through, whoever sends them."""


def look_at_files(program: Program, job: Job, step: Step) -> Made:
    """What loading the files of a job would change."""
    from fleet.services.setup.difference import difference_of

    step(0, 0, "the files are read")
    with _paths(program, job.number, job) as paths, program.filled(dry_run=True) as store:
        found = difference_of(
            store,
            lambda: program.reader(paths),
            program.public_holidays,
            program.rebuild,
            stamp=Stamp(at=program.clock(), by=job.by, source=_SOURCE),
            progress=_Rows(step),
        )
    content = found.to_json()
    return Made(
        {"faults": str(found.fault_total), "empty": "yes" if found.is_empty else ""},
        [JobFile(name=DIFFERENCE, media_type="application/json", content=content)],
    )


def load_files(program: Program, job: Job, step: Step) -> Made:
    """Load the files of the job that looked at them; done twice, it changes nothing more."""
    from fleet.services.load import load

    step(0, 0, "the files are loaded")
    with _paths(program, job.asked["of"], job) as paths:
        report = load(
            program.store,
            program.reader(paths),
            program.public_holidays,
            program.rebuild,
            stamp=Stamp(at=program.clock(), by=job.by, source=_SOURCE),
            progress=_Rows(step),
        )
    counts = report.tables.values()
    told = {"new": sum(c.new for c in counts), "changed": sum(c.changed for c in counts)}
    return Made({name: str(count) for name, count in told.items()})


@contextmanager
def _paths(program: Program, number: str, job: Job) -> Iterator[Sequence[Path]]:
    """The files that came with a job, as paths."""
    from fleet.files.uploads import in_a_folder

    with program.store.begin() as record:
        sent = [record.jobs.file(number, name) for name in job.asked["files"].split("\n")]
    files = [(file.name, file.content) for file in sent if file is not None]
    if len(files) < len(sent):
        raise NotFound("file", job.asked["files"], "send the files again: they were kept a month")
    with in_a_folder(files) as paths:
        yield paths


class _Rows:
    """Tells a job's page how many rows were read."""

    def __init__(self, step: Step) -> None:
        self._step, self._rows = step, 0

    def step(self, rows: int) -> None:
        self._rows += rows
        self._step(0, 0, f"{self._rows:,} rows are read")
