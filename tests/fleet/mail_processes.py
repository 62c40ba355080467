"""Three real processes that run the timetable of one database, by a clock they are told.

Each is `python -m tests.fleet.mail_processes DATABASE NAME`: it reads instants and answers each
when its tick is over. All three are told an instant at once and tick side by side. What befalls
them: a restart, a kill -9 in the midst of a tick, a machine that sleeps for days, a clock that is
set back.
"""

from __future__ import annotations

import datetime as dt
import random
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass, field
from pathlib import Path

from fleet.services.mailing.tick import trust_clock
from fleet.services.mailing.work import Worker
from fleet.storage import open_store
from tests.fleet.mail_days import DAY, MINUTE
from tests.fleet.services.mailing.mail_fleet import mail_tools

__all__ = ["Drive"]

_ROOT = Path(__file__).resolve().parents[2]
_TROUBLES = ("restarted", "slept", "set back")
_IN_A_TICK_SECONDS = 0.3
"""A tick that plans takes about so long."""


class _Process:
    """One process, and the pipe by which it is told the time."""

    def __init__(self, url: str, name: str) -> None:
        command = [sys.executable, "-m", "tests.fleet.mail_processes", url, name]
        self._popen = subprocess.Popen(
            command, cwd=_ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
        )

    def tell(self, at: dt.datetime) -> None:
        """Have it tick; it goes on by itself."""
        assert self._popen.stdin is not None
        self._popen.stdin.write(f"{at.isoformat()}\n")
        self._popen.stdin.flush()

    def answer(self) -> str:
        """What it said of its tick, once that is over."""
        assert self._popen.stdout is not None
        return self._popen.stdout.readline()

    def kill(self) -> None:
        """End it as a power cut does."""
        self._popen.kill()
        self._close()

    def end(self) -> None:
        """Let it end well."""
        assert self._popen.stdin is not None
        self._popen.stdin.close()
        self._close()

    def _close(self) -> None:
        for pipe in (self._popen.stdin, self._popen.stdout):
            if pipe is not None and not pipe.closed:
                pipe.close()
        self._popen.wait()


@dataclass
class Drive:
    """Three processes on one database, what befell them, and what they said went wrong."""

    url: str
    seed: int = 20260308
    ticks: int = 0
    counts: Counter[str] = field(default_factory=Counter)
    said: Counter[str] = field(default_factory=Counter)

    def run(self, instants: Iterator[dt.datetime], trouble_every: int, kill_chance: float) -> None:
        """Have all three tick at each instant.

        Something befalls them every so many instants. On Mondays, when mail is planned, one of them
        is killed on the hour with this chance, while it ticks.
        """
        chance, place = random.Random(self.seed), 0
        processes = [self._started() for _ in range(3)]
        skip_until: dt.datetime | None = None
        try:
            for at in instants:
                if skip_until is not None and at < skip_until:
                    continue
                skip_until = None
                is_plan = at.weekday() == 0 and at.minute == 0
                self._tick(
                    processes, at, chance if is_plan and chance.random() < kill_chance else None
                )
                if (place := place + 1) % trouble_every == 0:
                    what = _TROUBLES[place // trouble_every % len(_TROUBLES)]
                    skip_until = self._befall(what, chance, processes, at)
        finally:
            for process in processes:
                process.end()

    def _started(self) -> _Process:
        self.counts["started"] += 1
        return _Process(self.url, f"process {self.counts['started']}")

    def _tick(
        self, processes: list[_Process], at: dt.datetime, kill: random.Random | None = None
    ) -> None:
        """One instant for all; one of them is killed in it where there is a chance given."""
        for process in processes:
            process.tell(at)
        gone = None
        if kill is not None:
            gone = kill.randrange(3)
            time.sleep(kill.random() * _IN_A_TICK_SECONDS)
            processes[gone].kill()
            self.counts["killed"] += 1
        for number, process in enumerate(processes):
            self.ticks += 1
            if number == gone:
                continue
            words = process.answer().strip()
            assert words, f"process {number} ended at {at}"
            if words != "well":
                self.said[words] += 1
        if gone is not None:
            processes[gone] = self._started()

    def _befall(
        self, what: str, chance: random.Random, processes: list[_Process], at: dt.datetime
    ) -> dt.datetime | None:
        self.counts[what] += 1
        if what == "slept":
            return at + chance.choice([30 * MINUTE, 8 * 60 * MINUTE, 2 * DAY])
        if what == "set back":
            self._tick(processes, at - 120 * MINUTE)
            with closing(open_store(self.url, clock=lambda: at)) as store:
                trust_clock(store, at)
            return None
        number = chance.randrange(3)
        processes[number].end()
        processes[number] = self._started()
        return None


def _main(url: str, name: str) -> None:
    """Tick at each instant that is read, and say so when it is over."""
    now = [dt.datetime(2000, 1, 1, tzinfo=dt.UTC)]
    with closing(open_store(url, clock=lambda: now[0])) as store:
        worker = Worker(
            store=store,
            tools=mail_tools(store, lambda: now[0]),
            leadership=store.leadership(name),
            owner=name,
            clock=lambda: now[0],
            door=None,
        )
        for line in sys.stdin:
            now[0] = dt.datetime.fromisoformat(line.strip())
            done = worker.tick()
            wrong = [words for words in done.says if not words.startswith("another process")]
            print(" | ".join(wrong) or "well", flush=True)
        worker.leadership.give_up()


if __name__ == "__main__":
    _main(*sys.argv[1:])
