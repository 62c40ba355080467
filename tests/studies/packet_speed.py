"""How long does a packet of a large site and two years take?

Run with `python -m tests.studies.packet_speed`; the target is 20 s for the whole command. An
invented site of twelve units of nine kinds, with two years of marks, is written as files, loaded,
and asked for its packet three times, by the command as a process of its own.
"""

from __future__ import annotations

import csv
import datetime as dt
import json
import random
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

from fleet.files.public_holidays import PublicHolidayCalendar

__all__ = ["write_site"]

FROM_ON, TO_ON = dt.date(2024, 10, 1), dt.date(2026, 9, 30)
KINDS = (
    *("microscope", "centrifuge", "refrigerator", "freezer", "incubator", "balance"),
    *("pipette", "autoclave", "data-logger", "microscope", "centrifuge", "refrigerator"),
)
DAILY = {
    "microscope": "optics",
    "centrifuge": "spill-check",
    "refrigerator": "temperature",
    "freezer": "temperature",
    "incubator": "temperature",
    "balance": "check-weight",
}
WEEKLY = {"centrifuge": "disinfection", "pipette": "cleaning", "autoclave": "chamber"}
MONTHLY = {
    "microscope": "stand-check",
    "centrifuge": "rotor-check",
    "refrigerator": "cleaning",
    "incubator": "cleaning",
    "balance": "cleaning",
    "autoclave": "door-check",
    "pipette": "leak-check",
    "data-logger": "battery-check",
}
EXTRA_DAILY = 5
"""The site's own book adds so many daily tasks to each kind."""
_HOLIDAYS = PublicHolidayCalendar()
Row = dict[str, str]


def book() -> str:
    """The rules of the kinds, with some daily tasks more than the shipped book has."""
    kinds = []
    for kind in dict.fromkeys(KINDS):
        kinds.append(f'[kind.{kind}]\nname = "{kind.capitalize()} of the bench"\n')
        daily = [DAILY[kind]] if kind in DAILY else []
        daily += [f"daily-{n}" for n in range(1, EXTRA_DAILY + 1)]
        weekly = [WEEKLY[kind]] if kind in WEEKLY else []
        monthly = [MONTHLY[kind]] if kind in MONTHLY else []
        for each, tasks in (("open-day", daily), ("week", weekly), ("month", monthly)):
            kinds += [_rule(kind, task, f'each = "{each}"') for task in tasks]
        kinds.append(_rule(kind, "annual-service", 'every = "P1Y"\nearly = 45\ngrace = 15'))
    return "\n".join(kinds)


def _rule(kind: str, task: str, when: str) -> str:
    return (
        f'[[kind.{kind}.rule]]\ntask = "{task}"\ntitle = "Do {task} as the manual says"\n{when}\n'
        'source = "common practice, no source"\n'
        'cautions = ["Unplug first.", "The manual and local rules come first."]\n'
    )


def write_site(folder: Path) -> int:
    """Write the site's files; answers how many rows of entries there are."""
    folder.mkdir(parents=True, exist_ok=True)
    site = "larch,Larch Laboratory,Adams,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri"
    head = "site,name,county,region,country,subdivision,time_zone,open_days"
    (folder / "sites.csv").write_text(f"{head}\n{site}\n", encoding="utf-8")
    (folder / "rules.toml").write_text(book(), encoding="utf-8")
    units = [
        {
            "property_number": f"L-{number:02}",
            "kind": kind,
            "manufacturer": "Exemplar",
            "model": f"X{number}",
            "serial": f"{1000 + number}",
            "site": "larch",
            "in_service_on": "2023-03-01",
            "record_from": "2024-09-01",
        }
        for number, kind in enumerate(KINDS, start=1)
    ]
    _write(folder / "units.csv", units)
    entries = [row for unit in units for row in _entries(unit, random.Random(unit["serial"]))]
    _write(folder / "entries.csv", entries)
    return len(entries)


def _entries(unit: Row, draw: random.Random) -> Iterator[Row]:
    holidays = {on for year in (2024, 2025, 2026) for on in _HOLIDAYS.year("US", "NE", year).names}
    kind, on = unit["kind"], FROM_ON - dt.timedelta(days=20)
    daily = ([DAILY[kind]] if kind in DAILY else []) + [
        f"daily-{n}" for n in range(1, EXTRA_DAILY + 1)
    ]
    yield _entry(unit, "annual-service", dt.date(2024, 6, 3), "done", "OV")
    while on <= TO_ON:
        if on.weekday() < 5 and on not in holidays and draw.random() > 0.02:
            for task in daily:
                if draw.random() > 0.005:
                    mark = "unused" if draw.random() < 0.05 else "done"
                    yield _entry(unit, task, on, mark, draw.choice(("GR", "HS", "KLM")))
        if on.weekday() == 2 and kind in WEEKLY:
            yield _entry(unit, WEEKLY[kind], on, "done", "GR")
        if on.day == 9 and kind in MONTHLY:
            yield _entry(unit, MONTHLY[kind], on, "done", "HS")
        on += dt.timedelta(days=1)


def _entry(unit: Row, task: str, on: dt.date, mark: str, initials: str) -> Row:
    return {
        "property_number": unit["property_number"],
        "task": task,
        "on": on.isoformat(),
        "mark": mark,
        "initials": initials,
    }


def _write(path: Path, rows: list[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _run(*words: str) -> str:
    command = [sys.executable, "-m", "fleet", *words]
    return subprocess.run(command, check=True, capture_output=True, text=True).stdout


def main() -> None:
    """Write, load, ask three times; print what it took."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        rows = write_site(folder / "files")
        database = f"--database=sqlite:///{folder / 'fleet.db'}"
        _run("load", str(folder / "files"), database)
        for turn in range(3):
            words = ("--from", str(FROM_ON), "--to", str(TO_ON), "--out", str(folder / f"{turn}"))
            begun = time.perf_counter()
            made = json.loads(_run("packet", "larch", *words, database, "--format", "json"))
            seconds = time.perf_counter() - begun
            used = resource.getrusage(resource.RUSAGE_CHILDREN)
            print(
                f"{rows:,} entries, {made['pages']} pages, PDF {made['pdf_bytes']:,} bytes, ZIP"
                f" {made['zip_bytes']:,} bytes: {seconds:.1f} s,"
                f" peak {used.ru_maxrss / 1024:.0f} MB, {made['pdf_sha256'][:12]}"
            )


if __name__ == "__main__":
    main()
