"""How fast is a large record walked, and in how much memory?

Run with `python -m tests.studies.verify_speed [ENTRIES]` (default 1,000,000): it loads the fleet of
`tests.studies.load_speed` into a new SQLite database, in a process of its own, and verifies it in
two others, without and with --rebuild. The target is 30 s on two cores for a million entries, in
memory that does not grow with them.
"""

from __future__ import annotations

import datetime as dt
import multiprocessing
import resource
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.kept import rebuild
from fleet.services.load import load
from fleet.services.ports import Stamp
from fleet.services.verify import verify
from fleet.storage import create, open_store
from tests.fakes import NoProgress
from tests.studies.load_speed import write_folder

STAMP = Stamp(at=dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC), by="study", source="file")


def _fill(folder: Path, entries: int) -> None:
    write_folder(folder, entries)
    url = f"sqlite:///{folder / 'fleet.db'}"
    public_holidays = PublicHolidayCalendar()
    create(url)
    with closing(open_store(url, clock=lambda: STAMP.at)) as store:
        load(
            store,
            read_tables(sorted(folder.glob("*.csv"))),
            public_holidays,
            lambda record, unit_ids: rebuild(record, unit_ids, public_holidays),
            stamp=STAMP,
            progress=NoProgress(),
        )


def _verify(folder: Path, *, is_rebuilt: bool) -> None:
    url = f"sqlite:///{folder / 'fleet.db'}"
    start, used = time.perf_counter(), time.process_time()
    with (
        closing(open_store(url, clock=lambda: STAMP.at)) as store,
        store.begin() as record,
    ):
        found = verify(
            record, PublicHolidayCalendar(), rebuild=is_rebuilt, root=None, progress=NoProgress()
        )
    took, used = time.perf_counter() - start, time.process_time() - used
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    what = "verify --rebuild" if is_rebuilt else "verify"
    print(
        f"{what:<18} {found.lines:,} lines, {'whole' if found.is_whole else 'NOT WHOLE'}:"
        f" {took:6.1f} s, {used:6.1f} s of one core, peak {peak:.0f} MB",
        flush=True,
    )


def main() -> None:
    """Load once, verify twice, each in a process of its own so that each has its own peak."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    own = multiprocessing.get_context("spawn")
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        for act, words in (
            (_fill, {"entries": entries}),
            (_verify, {"is_rebuilt": False}),
            (_verify, {"is_rebuilt": True}),
        ):
            process = own.Process(target=act, args=(folder,), kwargs=words)
            process.start()
            process.join()
            if process.exitcode != 0:
                sys.exit(f"{act.__name__} ended with {process.exitcode}")


if __name__ == "__main__":
    main()
