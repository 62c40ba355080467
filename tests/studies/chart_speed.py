"""How long do the charts of a whole state take to print?

Run with `python -m tests.studies.chart_speed`; the target is 1,000 pages in 10 s of CPU time. The
demo's state is loaded, and its charts of three years are printed by the command as a process of its
own, as of today: the record of the demo holds nothing of the first year, most of the second and the
whole of the third.
"""

from __future__ import annotations

import json
import resource
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory

__all__ = ["main"]

YEARS = (2027, 2026, 2025)


def _run(*words: str) -> str:
    command = [sys.executable, "-m", "fleet", *words]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def _cpu_seconds() -> float:
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def main() -> None:
    """Load the demo, print each year twice; say what it took."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        _run("demo", str(folder / "demo"))
        database = f"--database=sqlite:///{folder / 'demo' / 'dueward.db'}"
        for year in YEARS * 2:
            words = ("--all", "--year", str(year), "--out", str(folder), "--replace")
            before = _cpu_seconds()
            made = json.loads(_run("chart", *words, database, "--format", "json"))
            seconds, pages = _cpu_seconds() - before, sum(one["pages"] for one in made)
            size = (folder / f"charts-{year}.pdf").stat().st_size
            print(
                f"{year}: {len(made)} charts, {pages:,} pages, {size:,} bytes: {seconds:.1f} s CPU,"
                f" {1000 * seconds / pages:.1f} s for 1,000 pages"
            )
        peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1024
        print(f"peak {peak:.0f} MB")


if __name__ == "__main__":
    main()
