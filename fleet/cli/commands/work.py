"""`dueward work`: run the timetable; plan the mail that is due, and send it."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

import click

from fleet.cli.options import examples, opens_program
from fleet.cli.output import note
from fleet.cli.refusals import FAILED
from fleet.services.mailing.tick import trust_clock
from fleet.services.mailing.work import Ticked, Worker
from notifications.digests.words import counted
from notifications.overrides import checked_templates
from notifications.smtp import ready_server
from notifications.timetable import run_until_stopped

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["work"]


@click.command(
    epilog=examples(
        "DUEWARD_SMTP=smtp://localhost:2525 dueward work",
        "dueward work --once",
        "dueward work --once --plan-only",
    )
)
@opens_program
@click.option(
    "--once", is_flag=True, help="Do what is due now, then end: for a machine's scheduler."
)
@click.option("--plan-only", is_flag=True, help="Put mail into the outbox and send none.")
@click.option(
    "--clock-is-right",
    is_flag=True,
    help="Go on after this machine's clock was set back, or was not looked at for weeks.",
)
def work(program: Program, once: bool, plan_only: bool, clock_is_right: bool) -> int:
    """Run the timetable: plan the mail that is due, and send it.

    It looks once a minute, until it is stopped (Ctrl-C or SIGTERM; the message under way is
    finished first). What is due follows from the database, so that it may be stopped and started
    at any time, on several machines too: each mail goes once. On SQLite a second one waits.
    """
    server = None if plan_only else ready_server(program.settings.mail)
    checked_templates(program.settings.mail)
    if clock_is_right:
        trust_clock(program.store, program.clock())
    worker = program.worker(server, plans_only=plan_only)
    try:
        if once:
            return _told(worker.tick(), is_once=True)
        note("the timetable runs; Ctrl-C stops it")
        with _long_work(program):
            run_until_stopped(lambda: _minute(worker), worker.stop, program.clock())
        note("the timetable has stopped")
    finally:
        worker.leadership.give_up()
    return 0


@contextmanager
def _long_work(program: Program) -> Iterator[None]:
    """Do what pages have asked for, beside the timetable; the job under way is finished."""
    from fleet.web.long_work import runner

    stopped = threading.Event()
    thread = threading.Thread(target=runner(program).loop, args=(stopped,), daemon=True)
    thread.start()
    try:
        yield
    finally:
        stopped.set()
        thread.join()


def _minute(worker: Worker) -> None:
    _told(worker.tick())


def _told(done: Ticked, *, is_once: bool = False) -> int:
    """Say what a minute did, where it did anything; 1 where something is not as it should be."""
    for line in done.says:
        note(line)
    tally = done.tally
    if done.planned or done.suppressed or tally.tried or is_once:
        again = f", {tally.uncertain:,} of them a second time" if tally.uncertain else ""
        note(
            f"{counted(done.planned, 'mail')} planned, {done.suppressed:,} left out;"
            f" {tally.sent:,} sent{again}, {tally.deferred:,} put off, {tally.dead:,} given up"
        )
    if done.queued or done.calls.tried:
        note(_webhooks(done))
    return FAILED if done.says or tally.dead or done.calls.dead else 0


def _webhooks(done: Ticked) -> str:
    calls = done.calls
    again = f", {calls.uncertain:,} of them a second time" if calls.uncertain else ""
    return (
        f"{counted(done.queued, 'webhook')} queued; {calls.sent:,} sent{again},"
        f" {calls.deferred:,} put off, {calls.dead:,} given up"
    )
