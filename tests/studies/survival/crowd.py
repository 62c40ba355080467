"""Do two writers and ten readers, for minutes, ever see or make half of anything?

A writer marks two units in one unit of work, under keys that end in /a and /b, and now and then the
same key as the other writer, with the same content or another. A reader looks at one moment: each
/a must have its /b, the heads must be where the chains end, `due` must tell the last done day that
the entries tell, and the years that are kept must be what the entries add up to.
"""

from __future__ import annotations

import datetime as dt
import random
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import ExitStack, closing
from dataclasses import dataclass, field
from multiprocessing.connection import Connection, wait

from fleet.errors import FleetError, KeyTaken
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.ports import Record
from fleet.services.questions import Narrow, Question
from fleet.storage import open_store
from fleet.wiring import Program, utc_now
from tests.studies.survival.children import Child, entry_of, put, received, started
from tests.studies.survival.invented import SITES, STORED_AT, invented
from tests.studies.survival.places import Place, loaded, problems
from tests.studies.survival.programs import program
from tests.studies.survival.raw import file_of, tables
from tests.studies.survival.results import Result, result_of

__all__ = ["crowd", "study"]

UNITS = 40
FIRST_ON = dt.date(2023, 1, 2)
BUSY = "another program is writing"


@dataclass
class Told:
    """What one process of the crowd has to say at its end."""

    keys: list[str] = field(default_factory=list)
    """Acknowledged, in this order."""
    commits: int = 0
    looks: int = 0
    refused: int = 0
    """Same keys with other content that were refused, as they must be."""
    busy: int = 0
    longest_wait: float = 0.0
    wrongs: list[str] = field(default_factory=list)
    half: int = 0


def study(places: list[Place], seconds: float) -> Iterator[Result]:
    """The crowd on each database."""
    return (crowd(place, seconds) for place in places)


def crowd(place: Place, seconds: float, writers: int = 2, readers: int = 10) -> Result:
    """So many writers and readers at once, for so long."""
    url = loaded(place, invented(UNITS, 5))
    with ExitStack() as stack:
        children = [
            stack.enter_context(started(work, url, seconds, number))
            for work, count in ((write, writers), (read, readers))
            for number in range(count)
        ]
        told = _all_told(children, seconds + 120)
    wrongs = [one.wrongs for one in told]
    stand = Counter(row["key"] for row in tables(url)["entry"] if row["key"].startswith("w"))
    keys = [key for one in told for key in one.keys]
    lost = [key for key in set(keys) if stand[key] != 1]
    wrong = [f"{key} stands {stand[key]} times" for key in lost]
    if stand.keys() - set(keys):
        wrong.append("entries stand that nobody was told of")
    wrongs.append(wrong + problems(url))
    half = sum(one.half for one in told)
    fault = f"{writers} writers, {readers} readers, {seconds:.0f} s"
    return result_of(fault, place.name, wrongs, _remark(told, seconds, url), len(lost), half)


def _all_told(children: list[Child], seconds: float) -> list[Told]:
    """What each child says at its end; one that says nothing in time is wrong."""
    until, left = time.monotonic() + seconds, {child.said: child for child in children}
    found: list[Told] = []
    while left and (ready := wait(list(left), max(0.0, until - time.monotonic()))):
        for said in ready:
            child = left.pop(said)  # type: ignore[call-overload]
            found += received(child) or [Told(wrongs=["ended without a word"])]
    return found + [Told(wrongs=["did not end"]) for _ in left]


def _remark(told: list[Told], seconds: float, url: str) -> str:
    commits, looks = sum(one.commits for one in told), sum(one.looks for one in told)
    busy, refused = sum(one.busy for one in told), sum(one.refused for one in told)
    waited = max(one.longest_wait for one in told)
    file = file_of(url)
    log = file.with_name(f"{file.name}-wal") if file else None
    kept = f", log {log.stat().st_size // 1024:,} KB at the end" if log and log.exists() else ""
    return (
        f"tries are processes and the end; {commits / seconds:.1f} commits/s ({commits:,}),"
        f" {looks:,} looks, longest wait for the lock {waited:.2f} s, {busy} told that another"
        f" writes, {refused} same keys with other content refused{kept}"
    )


def write(said: Connection, url: str, seconds: float, me: int) -> None:
    """Mark pairs until the time is over."""
    told, of, turn = Told(), program(url), 0
    said.send("begun")
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        turn += 1
        begun = time.monotonic()
        try:
            with of.store.begin(write=True) as record:
                told.longest_wait = max(told.longest_wait, time.monotonic() - begun)
                keys = _pair(of, record, me, turn)
                record.commit()
            told.keys += keys
            told.commits += 1
        except KeyTaken:
            told.refused += 1
        except FleetError as error:
            _note(told, error)
    said.send(told)


def _pair(of: Program, record: Record, me: int, turn: int) -> list[str]:
    """Mark two units; each tenth turn under the other's keys too, each 50th with other content."""
    own = f"w{me}" if turn % 10 else "wboth"
    place = turn * 2 % UNITS
    on = FIRST_ON + dt.timedelta(days=turn % 900 + (me if turn % 50 == 0 else 0))
    keys = []
    for end in "ab":
        keys.append(f"{own}/{turn}/{end}")
        number = f"M-{place + 1 + (end == 'b'):03}"
        put(of, record, entry_of(keys[-1], number, on))
    return keys


def read(said: Connection, url: str, seconds: float, me: int) -> None:
    """Look at one moment after another until the time is over."""
    told, drawn = Told(), random.Random(me)
    holidays = PublicHolidayCalendar()
    said.send("begun")
    until = time.monotonic() + seconds
    while time.monotonic() < until:
        begun = time.monotonic()
        try:
            with closing(open_store(url, clock=utc_now)) as store, store.begin() as record:
                told.longest_wait = max(told.longest_wait, time.monotonic() - begun)
                wrong = _look(record, holidays, drawn.randrange(0, UNITS, 2))
            told.looks += 1
            told.half += bool(wrong)
            told.wrongs += wrong
        except FleetError as error:
            _note(told, error)
    said.send(told)


def _note(told: Told, error: FleetError) -> None:
    if BUSY in str(error):
        told.busy += 1
    else:
        told.wrongs.append(f"{type(error).__name__}: {error}")


def _look(record: Record, holidays: PublicHolidayCalendar, place: int) -> list[str]:
    """What does not fit together at this moment, for two units."""
    numbers = [f"M-{place + 1:03}", f"M-{place + 2:03}"]
    ids, on = record.unit_ids(), dt.date(2026, 3, 2)
    question = Question(now=STORED_AT, on=on)
    rows = {
        (row.property_number, row.task): row.last_done
        for row in due_rows(record, holidays, question).rows
    }
    narrow = Question(now=STORED_AT, on=on, narrow=Narrow(sites=(SITES[place % len(SITES)],)))
    finding_rows(record, holidays, dt.date(2026, 2, 1), on, narrow)
    wrong, heads = [], record.heads()
    ends: list[set[str]] = []
    for number in numbers:
        stored = [line.entry for line in record.entries([ids[number]])]
        if heads[f"entry/{number}"].seq != len(stored):
            wrong.append(f"the head of {number} is not where its entries end")
        done = max((one.on for one in stored if one.task == "optics" and one.mark), default=None)
        done = max(filter(None, (done, *(o.to_on for o in stored))), default=None)
        if rows[number, "optics"] != done:
            wrong.append(f"due says {rows[number, 'optics']} of {number}, the entries {done}")
        ends.append({one.key[:-2] for one in stored if one.key.startswith("w")})
    if ends[0] != ends[1]:
        wrong.append(f"half of a unit of work: {sorted(ends[0] ^ ends[1])[:2]}")
    return wrong
