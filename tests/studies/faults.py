"""Can the tests fail? Plants one fault at a time in a copy of the engine and runs the quick tests.

Run with `python -m tests.studies.faults [--jobs N] [--markdown] [NAME...]`; a NAME is a part of a
fault's name or of its module's path. Exit 0 where every fault was caught, 1 where one survived or
hung, 2 where a fault no longer applies: its old text must be found exactly once in its module.
The checkout is never changed. The quick tests are those of QUICK, stopped at the first failure.
"""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
import tempfile
import time
import tomllib
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

__all__ = ["Fault", "faults", "main"]

ROOT = Path(__file__).parents[2]
COPIED = ("schedules", "fleet", "notifications", "tests", "pyproject.toml")
LONGEST_SECONDS = 180
SEED = "20260701"
SCHEDULES, SERVICES = "tests/schedules", "tests/fleet/services"
CONFTEST = """
from hypothesis import Phase, settings

settings.register_profile("planted", deadline=None, database=None,
    phases=[Phase.explicit, Phase.generate])
settings.load_profile("planted")
"""
"""A copy's drawn fleets are not shrunk: that a test fails is enough."""
QUICK = (
    *(f"{SCHEDULES}/test_{name}.py" for name in ("due", "cells", "units", "status", "intervals")),
    *(f"{SCHEDULES}/test_{name}.py" for name in ("marks", "rules", "dates", "calendars")),
    *(f"{SERVICES}/test_due_{name}.py" for name in ("rows", "calendars")),
    *(f"{SCHEDULES}/test_due_{name}.py" for name in ("outside", "blocks")),
    f"{SCHEDULES}/test_gaps_agree_with_reference.py",
    f"{SERVICES}/test_due_agrees_with_reference.py",
)
"""The likeliest to fail first; the drawn fleets, which take longest, last."""


class Fault(NamedTuple):
    """One thing to break: what it is, where, and which text takes the place of which."""

    name: str
    module: str
    old: str
    new: str


class Outcome(NamedTuple):
    """What became of a fault: caught (by which test), survived or hung, in so many seconds."""

    fault: Fault
    verdict: str
    by: str
    seconds: float


def main(words: Sequence[str] | None = None) -> int:
    """Plant the faults asked for and print a line each, then the count."""
    asked = _parsed(words)
    chosen = [fault for fault in faults() if _is_asked(fault, asked.names)]
    with tempfile.TemporaryDirectory(prefix="sound-") as name:
        sound = Path(name)
        _copy(ROOT, sound)
        stale = [problem for fault in chosen if (problem := _problem(sound, fault))]
        if stale or not chosen:
            print("\n".join(stale) or "no fault has such a name", file=sys.stderr)
            return 2
        verdict, by, seconds = _tried(sound, None)
        if verdict != "survived":
            print(f"the tests fail without a fault: {by}", file=sys.stderr)
            return 2
        print(f"no fault: all pass in {seconds:.0f} s", flush=True)
        with ThreadPoolExecutor(asked.jobs) as pool:
            outcomes = pool.map(lambda fault: Outcome(fault, *_tried(sound, fault)), chosen)
            return _counted(_told(outcomes, markdown=asked.markdown))


def _counted(outcomes: Sequence[Outcome]) -> int:
    caught = sum(outcome.verdict == "caught" for outcome in outcomes)
    seconds = sum(outcome.seconds for outcome in outcomes)
    print(f"{caught} of {len(outcomes)} faults caught, {seconds:.0f} s of tests")
    return 0 if caught == len(outcomes) else 1


def faults() -> list[Fault]:
    """All faults, in the order of the table `faults.toml`."""
    table = Path(__file__).with_suffix(".toml").read_text(encoding="utf-8")
    return [Fault(**fault) for fault in tomllib.loads(table)["fault"]]


def _parsed(words: Sequence[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--jobs", type=int, default=1, help="so many copies at a time (1)")
    parser.add_argument("--markdown", action="store_true", help="print a table for README.md")
    parser.add_argument("names", nargs="*", help="parts of names; none for all faults")
    return parser.parse_args(words)


def _is_asked(fault: Fault, names: Sequence[str]) -> bool:
    return not names or any(name in f"{fault.module} {fault.name}" for name in names)


def _problem(sound: Path, fault: Fault) -> str:
    """Why a fault cannot be planted; '' where it can."""
    found = (sound / fault.module).read_text(encoding="utf-8").count(fault.old)
    if found == 1:
        return ""
    return (
        f"{fault.module}, {fault.name}: its old text is found {found} times, not once;"
        " bring tests/studies/faults.toml up to date"
    )


def _copy(source: Path, target: Path) -> None:
    for part in COPIED:
        if (source / part).is_dir():
            leave = shutil.ignore_patterns("__pycache__")
            shutil.copytree(source / part, target / part, ignore=leave)
        else:
            shutil.copy(source / part, target / part)


def _tried(sound: Path, fault: Fault | None) -> tuple[str, str, float]:
    """Run the quick tests on a copy, with a fault or none: verdict, by which test, seconds."""
    with tempfile.TemporaryDirectory(prefix="fault-") as name:
        copy = Path(name)
        _copy(sound, copy)
        if fault is not None:
            module = copy / fault.module
            text = module.read_text(encoding="utf-8")
            module.write_text(text.replace(fault.old, fault.new), encoding="utf-8")
        (copy / "conftest.py").write_text(CONFTEST, encoding="utf-8")
        begun = time.monotonic()
        return *_verdict(copy), time.monotonic() - begun


def _verdict(copy: Path) -> tuple[str, str]:
    command = [
        *(sys.executable, "-m", "pytest", "-x", "-q", "--no-header", "--tb=no"),
        *("-p", "no:cacheprovider", f"--hypothesis-seed={SEED}", *QUICK),
    ]
    environment = {**os.environ, "PYTHONDONTWRITEBYTECODE": "1", "PYTHONPATH": str(copy)}
    try:
        done = subprocess.run(
            command,
            cwd=copy,
            env=environment,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            timeout=LONGEST_SECONDS,
        )
    except subprocess.TimeoutExpired:
        return "hung", f"no answer in {LONGEST_SECONDS} s"
    if done.returncode == 0:
        return "survived", ""
    told = [
        line.split(" ", 1)[1].split(" - ")[0]
        for line in done.stdout.splitlines()
        if line.startswith(("FAILED ", "ERROR "))
    ]
    return "caught", told[0] if told else "the tests could not run"


def _told(outcomes: Iterable[Outcome], *, markdown: bool) -> list[Outcome]:
    """Print each outcome as it comes."""
    if markdown:
        print("| module | fault | verdict | by |\n|---|---|---|---|")
    found = []
    for outcome in outcomes:
        found.append(outcome)
        fault, by = outcome.fault, outcome.by.removeprefix("tests/")
        if markdown:
            shown = f"`{by}`" if by else ""
            print(f"| {fault.module} | {fault.name} | {outcome.verdict} | {shown} |", flush=True)
        else:
            words = (f"{outcome.verdict:9}", f"{outcome.seconds:4.0f} s", fault.module, fault.name)
            print("  ".join((*words, by)), flush=True)
    return found


if __name__ == "__main__":
    sys.exit(main())
