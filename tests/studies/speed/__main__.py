"""Measure everything and print the table: `python -m tests.studies.speed`.

One processor, one thread; about two minutes. Ratios differ by machine and hour: they are what was
seen, not a promise.
"""

from __future__ import annotations

import os

for _library in ("OMP", "OPENBLAS", "MKL"):
    os.environ[f"{_library}_NUM_THREADS"] = "1"

import datetime as dt  # noqa: E402
import platform  # noqa: E402
import sqlite3  # noqa: E402
from pathlib import Path  # noqa: E402

import duckdb  # noqa: E402
import numpy as np  # noqa: E402
import pandas as pd  # noqa: E402

from tests.studies.speed import audit, from_file, full_status, next_due  # noqa: E402
from tests.studies.speed.interleaved import Floor, Ratio  # noqa: E402


def _machine() -> str:
    """The processor's name where Linux tells it."""
    info = Path("/proc/cpuinfo")
    lines = info.read_text(encoding="ascii").splitlines() if info.exists() else []
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    name = names[0] if names else platform.machine()
    return f"{name}, {os.cpu_count()} processors, {platform.system()}"


def _versions() -> str:
    return (
        f"Python {platform.python_version()}, numpy {np.__version__}, pandas {pd.__version__}, "
        f"DuckDB {duckdb.__version__}, SQLite {sqlite3.sqlite_version}"
    )


def _print(ratios: list[Ratio]) -> None:
    for ratio in ratios:
        print("| " + " | ".join(ratio.cells()) + " |", flush=True)


def main() -> None:
    """Print the table in Markdown."""
    print(f"{dt.datetime.now(dt.UTC):%Y-%m-%d}; {_machine()}; {_versions()}.\n")
    print("| what | seen | aim (floor) | reached |\n|---|---:|---:|---|", flush=True)
    _print(full_status.ratios())
    _print(next_due.ratios())
    _print(audit.ratios())
    name = "10,000 units × 8 rules, SQLite file to rows, seconds of processor time"
    _print([Ratio(name, from_file.seconds_alone(), Floor(1, 1, most=True))])


main()
