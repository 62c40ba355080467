"""How fast does `load` take a large fleet, and in how much memory?

Run with `python -m tests.studies.load_speed [ENTRIES]` (default 1,000,000): it writes a folder of
2,000 units and so many entries, reads it alone, loads it into a new SQLite database, and loads it
again. The target is 60 s on two cores for the first load, in memory that does not grow with rows.
"""

from __future__ import annotations

import datetime as dt
import resource
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import closing
from pathlib import Path

from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.kept import rebuild
from fleet.services.load import load
from fleet.services.load_ports import Faults
from fleet.services.ports import Record, Stamp
from fleet.storage import create, open_store
from tests.fakes import NoProgress

__all__ = ["write_folder"]

UNITS, SITES, TASKS = 2_000, 90, ("optics", "stand-check", "annual-service")
STAMP = Stamp(at=dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC), by="study", source="file")


def write_folder(folder: Path, entries: int) -> None:
    """Write an invented fleet with so many entries, a file a year."""
    sites = (
        f"s{n:02},Site {n},County {n},Region {n % 9},US,NE,America/Chicago,Mon Tue Wed Thu Fri"
        for n in range(SITES)
    )
    units = (f"{n:06},microscope,Hillside {n % 7},s{n % SITES:02},2024-01-02" for n in range(UNITS))
    header = "site,name,county,region,country,subdivision,time_zone,open_days"
    _write(folder / "sites.csv", header, sites)
    _write(folder / "units.csv", "property_number,kind,model,site,in_service_on", units)
    header = "property_number,task,on,to,mark,initials,note,reading,recorded_at"
    for year in (2024, 2025):
        _write(folder / f"entries-{year}.csv", header, _entry_rows(year, entries // 2))


def _write(path: Path, header: str, rows: Iterator[str]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        file.write(header + "\n")
        file.writelines(f"{row}\n" for row in rows)


def _entry_rows(year: int, count: int) -> Iterator[str]:
    """Unit by unit: optics on most days, stand-check weekly, service once."""
    first = dt.date(year, 1, 2)
    per_unit = -(-count // UNITS)
    for n in range(count):
        unit, place = divmod(n, per_unit)
        on = first + dt.timedelta(days=place)
        task = TASKS[2] if place == 99 else TASKS[place % 7 == 3]
        note = f"checked {n}" if n % 20 == 0 else ""
        yield f"{unit:06},{task},{on},,done,A{n % 9},{note},,{on}T15:{n % 60:02}:00-06:00"


def _timed(what: str, act: Callable[[], object]) -> None:
    start = time.perf_counter()
    act()
    took = time.perf_counter() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"{what:<28} {took:7.1f} s   peak so far {peak:7.0f} MB")


def _read(folder: Path) -> None:
    faults, files = Faults(), read_tables([folder])
    files.register(faults)
    rows = sum(len(chunk.numbers) for chunk in files.entries(faults))
    print(f"{rows:,} entries, {faults.total} faults")


def main() -> None:
    """Write, read, load, load again."""
    entries = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    public_holidays = PublicHolidayCalendar()

    def timed_rebuild(record: Record, unit_ids: Sequence[int]) -> None:
        _timed("  of it rebuilding", lambda: rebuild(record, unit_ids, public_holidays))

    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        write_folder(folder, entries)
        _timed("reading alone", lambda: _read(folder))
        url = f"sqlite:///{folder / 'fleet.db'}"
        create(url)
        with closing(open_store(url, clock=lambda: STAMP.at)) as store:
            for what in ("first load", "second load"):
                files = read_tables(sorted(folder.glob("*.csv")))
                _timed(
                    what,
                    lambda files=files: load(  # type: ignore[misc]
                        store,
                        files,
                        public_holidays,
                        timed_rebuild,
                        stamp=STAMP,
                        progress=NoProgress(),
                    ),
                )


if __name__ == "__main__":
    main()
