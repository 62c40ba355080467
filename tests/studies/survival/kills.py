"""What is left after kill -9 at a random instant of a load, of marks, of an upgrade?

The instants are drawn from a fixed seed: half of them over the whole time that the work takes, half
over its last quarter, where a load and an upgrade commit.
"""

from __future__ import annotations

import random
import time
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, field

from fleet.storage import create, schema_state, upgrade
from tests.studies.survival.children import Child, command, marks, received, started
from tests.studies.survival.invented import FIRST_ON, Invented, entries, invented, write_files
from tests.studies.survival.places import Place, loaded, problems
from tests.studies.survival.raw import counts, fingerprint, tables
from tests.studies.survival.results import Result, result_of
from tests.studies.survival.upgrades import cut_copies, old_database

__all__ = ["first_load", "instants", "load", "mark", "study", "upgrading"]

SEED = 20260701
Counts = dict[str, int]


@dataclass
class Seen:
    """What trials on one database came to."""

    wrongs: list[list[str]] = field(default_factory=list)
    ends: Counter[str] = field(default_factory=Counter)
    looks: int = 0
    half: int = 0
    lost: int = 0

    def result(self, fault: str, place: Place, remark: str) -> Result:
        """The row of these trials."""
        ends = ", ".join(f"{times} {end}" for end, times in sorted(self.ends.items()))
        remark = f"{remark}: {ends}" + (f"; {self.looks:,} looks meanwhile" if self.looks else "")
        return result_of(fault, place.name, self.wrongs, remark, self.lost, self.half)


def instants(seconds: float, tries: int, seed: int = SEED) -> list[float]:
    """When to kill, in seconds from the beginning of work that takes `seconds`."""
    drawn = random.Random(seed)
    return [
        drawn.uniform(0 if turn % 2 else seconds * 0.75, seconds * 1.02) for turn in range(tries)
    ]


def study(places: list[Place], tries: int) -> Iterator[Result]:
    """So many kills in all, shared out."""
    each = tries // (len(places) * 10)
    for place in places:
        yield load(place, each * 3)
        yield first_load(place, each)
        yield mark(place, each * 4)
        yield upgrading(place, each * 2)


def load(place: Place, tries: int, units: int = 40, days: int = 240) -> Result:
    """Kill a load of entries into a fleet that is there."""
    fleet = invented(units, 60)
    numbers = [row["property_number"] for row in fleet.register["unit"]]
    more = Invented(fleet.register, list(entries(numbers, FIRST_ON.replace(year=2024), days)))
    folder = str(write_files(more, place.new_folder(), only_entries=True))
    ready = loaded(place, fleet)
    before = counts(ready)
    trial, seen = place.copied(ready), Seen()
    seconds = _timed(trial, "load", folder)
    after = counts(trial)
    assert after["entry"] - before["entry"] == len(more.entries)
    for instant in instants(seconds, tries):
        trial = place.copied(ready)
        with started(command, trial, "load", folder) as child:
            seen.half += _watched(child, trial, instant, (before, after), seen)
        wrong = problems(trial)
        seen.wrongs.append(wrong + _one_of(counts(trial), before, after, seen))
        place.drop(trial)
    return seen.result("kill -9 in a load", place, f"{len(more.entries):,} entries")


def first_load(place: Place, tries: int, units: int = 30) -> Result:
    """Kill a load into a database that is not there (SQLite) or empty (PostgreSQL)."""
    fleet, seen = invented(units, 200), Seen()
    folder = str(write_files(fleet, place.new_folder()))
    trial = place.fresh()
    seconds = _timed(trial, "load", folder)
    after = counts(trial)
    nothing = place.fresh()
    create(nothing)
    before = counts(nothing)
    for instant in instants(seconds, tries):
        trial = place.fresh()
        with started(command, trial, "load", folder) as child:
            child.process.join(instant)
        if schema_state(trial) == "missing":
            wrong, _ = [], seen.ends.update(["not there"])
        else:
            wrong = problems(trial) + _one_of(counts(trial), before, after, seen)
        _timed(trial, "load", folder)
        if counts(trial) != after:
            wrong.append("a second load does not end as a first one")
        seen.wrongs.append(wrong + problems(trial))
        place.drop(trial)
    return seen.result("kill -9 in a first load", place, "loaded again after it")


def mark(place: Place, tries: int, seconds: float = 0.7) -> Result:
    """Kill a process that marks one day after another."""
    fleet, seen = invented(4, 30), Seen()
    numbers = [row["property_number"] for row in fleet.register["unit"]]
    ready, total = loaded(place, fleet), 0
    for instant in instants(seconds, tries):
        trial = place.copied(ready)
        with started(marks, trial, numbers, 100_000) as child:
            seen.half += _watched(child, trial, instant, None, seen)
            child.kill()
            told = received(child)
        stand = Counter(row["key"] for row in tables(trial)["entry"] if "/study/" in row["key"])
        lost = [key for key in told if stand[key] != 1]
        seen.lost += len(lost)
        wrong = problems(trial) + [f"{key} stands {stand[key]} times" for key in lost]
        unknown = sorted(stand.keys() - set(told))
        if len(unknown) > 1:
            wrong.append(f"{len(unknown)} entries stand that nobody was told of")
        seen.ends["ended with one stored and not yet told" if unknown else "with none"] += 1
        seen.wrongs.append(wrong)
        total += len(told)
        place.drop(trial)
    return seen.result("kill -9 in a stream of marks", place, f"{total:,} acknowledged")


def upgrading(place: Place, tries: int, units: int = 60) -> Result:
    """Kill an upgrade of a populated database of version 0001."""
    fleet, seen = invented(units, 240), Seen()
    ready = old_database(place, fleet, loaded(place, fleet))
    trial = place.copied(ready)
    before = fingerprint(tables(ready))
    seconds = _timed(trial, "upgrade")
    after = fingerprint(tables(trial))
    for instant in instants(seconds, tries):
        trial = place.copied(ready)
        with started(command, trial, "upgrade") as child:
            child.process.join(instant)
        wrong = _not_one_of(trial, before, after, seen) + cut_copies(trial, before)
        upgrade(trial)
        if fingerprint(tables(trial)) != after:
            wrong.append("upgraded again, it is not what an upgrade makes")
        seen.wrongs.append(wrong + problems(trial))
        place.drop(trial)
    remark = f"{len(fleet.entries):,} entries, upgraded again after it"
    return seen.result("kill -9 in an upgrade", place, remark)


def _not_one_of(url: str, before: str, after: str, seen: Seen) -> list[str]:
    state = schema_state(url)
    seen.ends["not upgraded" if state == "older" else "upgraded"] += 1
    expected = {"older": before, "current": after}.get(state)
    return [] if fingerprint(tables(url)) == expected else [f"a half upgrade, {state}"]


def _timed(url: str, *words: str) -> float:
    """Run a command to its end; seconds it took."""
    with started(command, url, *words) as child:
        begun = time.perf_counter()
        assert child.said.recv() == 0, f"{words} failed"
        return time.perf_counter() - begun


def _watched(
    child: Child, url: str, instant: float, whole: tuple[Counts, Counts] | None, seen: Seen
) -> int:
    """Look into the database until the instant comes; how often a half was seen."""
    until, half = time.perf_counter() + instant, 0
    while (left := until - time.perf_counter()) > 0.05:
        found = counts(url)
        seen.looks += 1
        half += found not in whole if whole else not _adds_up(found)
        child.process.join(min(0.03, left))
    child.process.join(max(0.0, until - time.perf_counter()))
    return half


def _adds_up(found: Counts) -> bool:
    """All chains end together where all lines do."""
    chained = ("entry", "change_line", "rule_book", "holiday_year")
    return found["heads"] == sum(found[name] for name in chained)


def _one_of(found: Counts, before: Counts, after: Counts, seen: Seen) -> list[str]:
    seen.ends["wholly there" if found == after else "not at all"] += 1
    return [] if found in (before, after) else [f"a half: {found}"]
