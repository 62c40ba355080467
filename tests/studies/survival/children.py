"""What does a process do that is going to be killed? A command, or one mark after another.

Processes come from a server that has imported the program already, so that a kill falls into the
work and not into an import.
"""

from __future__ import annotations

import datetime as dt
import multiprocessing
import os
from collections.abc import Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from multiprocessing.context import ForkServerContext, ForkServerProcess
from typing import Any

from fleet.domain.records import Entry, Mark
from fleet.errors import FleetError
from fleet.services.mark import mark
from fleet.services.ports import Record
from fleet.wiring import Program
from tests.studies.survival.programs import program

__all__ = ["Child", "command", "entry_of", "marks", "put", "received", "started", "warm_up"]

MODULES = (
    *("alembic.command", "pandas", "psycopg", "sqlalchemy", "holidays", "fleet.storage.record"),
    *("fleet.files.reader", "fleet.files.public_holidays", "fleet.cli.commands.load"),
    *("fleet.cli.commands.upgrade", "fleet.cli.main", "tests.studies.survival.children"),
)


class Child:
    """A process of ours and what it says."""

    def __init__(self, process: ForkServerProcess, said: Connection) -> None:
        self.process = process
        self.said = said

    def kill(self) -> None:
        """End it as a power cut would: nothing of its own runs any more."""
        self.process.kill()
        self.process.join()


def warm_up() -> ForkServerContext:
    """The server that starts processes with the program imported."""
    context = multiprocessing.get_context("forkserver")
    context.set_forkserver_preload(list(MODULES))
    return context


@contextmanager
def started(work: Any, *arguments: object) -> Iterator[Child]:
    """Start `work(said, *arguments)`; it is over, or killed, at the end. Waits for its 'begun'."""
    context = warm_up()
    heard, said = context.Pipe(duplex=False)
    process = context.Process(target=work, args=(said, *arguments), daemon=True)
    process.start()
    said.close()
    child = Child(process, heard)
    try:
        assert heard.recv() == "begun"
        yield child
    finally:
        child.kill()
        heard.close()
        process.close()


def received(child: Child) -> list[Any]:
    """All that a child said, until its end; what was cut off by the kill is nothing."""
    found = []
    try:
        while True:
            found.append(child.said.recv())
    except (EOFError, OSError):
        return found


def command(said: Connection, url: str, *words: str, errors: str = os.devnull) -> None:
    """Run one command of the program, as a person would; says 'begun', then its exit code.

    errors: the file that takes what it writes to stderr.
    """
    from fleet.cli.main import main

    os.dup2(os.open(os.devnull, os.O_RDWR), 1)
    os.dup2(os.open(errors, os.O_WRONLY), 2)
    said.send("begun")
    try:
        main(["--database", url, *words])
    except SystemExit as left:
        said.send(left.code)


def entry_of(key: str, number: str, on: dt.date) -> Entry:
    """A mark as the writers of these trials make it."""
    return Entry(key=key, property_number=number, task="optics", on=on, mark=Mark.DONE)


def put(of: Program, record: Record, entry: Entry) -> bool:
    """Write a mark as the command does, but for what is asked about doubtful ones."""
    stamp = of.stamp("command")
    return mark(record, of.public_holidays, entry, anyway=True, stamp=stamp)[1]


def marks(said: Connection, url: str, numbers: list[str], most: int) -> None:
    """Mark one day after another, each in its unit of work; says each key once it is committed.

    Ends with the words of the error, where one comes.
    """
    of = program(url)
    said.send("begun")
    for turn in range(most):
        number = numbers[turn % len(numbers)]
        on = dt.date(2024, 3, 1) + dt.timedelta(days=turn % 500)
        key = f"{number}/study/{turn}"
        try:
            with of.store.begin(write=True) as record:
                put(of, record, entry_of(key, number, on))
                record.commit()
        except FleetError as error:
            said.send(error)
            return
        said.send(key)
