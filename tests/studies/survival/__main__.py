"""Try everything and print the table: `python -m tests.studies.survival [NAME...]`.

A NAME is one of: kills, disk, crowd, upgrade, flips, clock; none for all of them. PostgreSQL is
tried where its programs are installed, a full disk where one can be mounted (as root). Exit 1 where
anything was lost, half-written or silent.
"""

from __future__ import annotations

import argparse
import datetime as dt
import os
import platform
import sqlite3
import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path

from tests.studies.survival import clock_back, crowd, flips, full_disk, kills, upgrades
from tests.studies.survival.places import Place, places
from tests.studies.survival.results import HEADER, Result

__all__ = ["main"]


def main(words: Sequence[str] | None = None) -> int:
    """Print a row a fault and database, as they come."""
    asked = _parsed(words)
    trials: dict[str, Callable[[list[Place]], Iterable[Result]]] = {
        "upgrade": upgrades.study,
        "clock": clock_back.study,
        "flips": lambda there: flips.study(there, asked.flips),
        "disk": full_disk.study,
        "kills": lambda there: kills.study(there, asked.kills),
        "crowd": lambda there: crowd.study(there, asked.seconds),
    }
    names = asked.names or list(trials)
    unknown = sorted(set(names) - trials.keys())
    if unknown:
        print(f"no trial '{unknown[0]}'; they are {', '.join(trials)}", file=sys.stderr)
        return 2
    print(f"{dt.datetime.now(dt.UTC):%Y-%m-%d}; {_machine()}.\n\n{HEADER}", flush=True)
    is_well = True
    with places() as there:
        for name in names:
            for row in trials[name](there):
                print(row.line(), flush=True)
                is_well &= row.is_well
    return 0 if is_well else 1


def _parsed(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=300, help="of each crowd (300)")
    parser.add_argument("--kills", type=int, default=200, help="in all (200)")
    parser.add_argument("--flips", type=int, default=200, help="of a bit (200)")
    parser.add_argument("names", nargs="*", help="trials; none for all")
    return parser.parse_args(words)


def _machine() -> str:
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="ascii").splitlines() if info.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    name = names[0] if names else platform.machine()
    return (
        f"{name}, {os.cpu_count()} processors, {platform.system()}; Python"
        f" {platform.python_version()}, SQLite {sqlite3.sqlite_version}"
    )


if __name__ == "__main__":
    sys.exit(main())
