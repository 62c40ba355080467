"""`dueward digest`: what each person would get by e-mail; write it or send it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import grid, printed
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows
from fleet.cli.refusals import FAILED, ended
from fleet.services.digest import DigestRun, write_folder
from fleet.services.digest_run import digest_run
from fleet.services.questions import Question
from notifications.digests.words import counted
from notifications.dispatch import dispatch
from notifications.mime import mail
from notifications.smtp import Door, Outcome, server

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["asked", "digest"]

COLUMNS: Final = ("recipient", "name", "kind", "period", "subject", "text", "skipped")


@click.command(
    epilog=examples(
        "dueward digest --on 2026-11-30",
        "dueward digest --on 2026-11-30 --out digests",
        "DUEWARD_SMTP=smtp://localhost:2525 dueward digest --on 2026-11-30 --send",
    )
)
@opens_program
@day_option("on", "The day of the digest; default: today")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Write each as an .eml and an .html file into this folder.",
)
@click.option("--send", is_flag=True, help="Send them through the server named by DUEWARD_SMTP.")
@formatted
def digest(program: Program, on: dt.date | None, out: Path | None, send: bool, form: Form) -> int:
    """What each person would get by e-mail; write it or send it.

    Without --out and --send it only tells: who gets what, and who gets nothing and why.
    """
    run, failures = asked(program, on or program.today())
    if out:
        note(f"wrote {counted(len(write_folder(run, out)), 'file')} to {out}")
    show_rows(COLUMNS, _rows(run), form, lambda: _table(run))
    is_sent = sent(run) if send else True
    return ended(failures) if is_sent else FAILED


def asked(program: Program, on: dt.date) -> tuple[DigestRun, list[str]]:
    """Every digest of a day, from the database."""
    question = Question(now=program.clock(), on=on)
    with program.store.begin() as record:
        return digest_run(record, program.public_holidays, question, on, program.settings.mail)


def _rows(run: DigestRun) -> list[list[Value]]:
    told: list[list[Value]] = [
        [m.email, m.name, m.kind.value, m.period, m.subject, m.text, None] for m in run.messages
    ]
    return told + [
        [s.email, None, s.kind.value, s.period, None, None, s.reason] for s in run.skipped
    ]


def _table(run: DigestRun) -> str:
    """A line a message with the number of its lines, then who gets none and why."""
    lines: list[list[Value]] = [
        [m.email, m.kind.value.replace("_", " "), m.subject, len(m.text.splitlines())]
        for m in run.messages
    ]
    headings = ("recipient", "kind", "subject", "lines")
    parts = [grid(lines, headings)] if lines else []
    text = printed(*parts) if parts else ""
    for reason, count in Counter(skip.reason for skip in run.skipped).most_common():
        who = ", ".join(skip.email for skip in run.skipped if skip.reason == reason)
        text += printed("", f"{counted(count, 'person gets', 'people get')} none: {reason}: {who}")
    return text or "No person here gets a digest."


def sent(run: DigestRun) -> bool:
    """Send every message, and say on stderr what became of each that did not go through."""
    with Door(server(run.settings)) as door:
        report = dispatch((mail(message, run.settings) for message in run.messages), door)
    for delivery in report.deliveries:
        if delivery.answer.outcome is not Outcome.SENT:
            answer = delivery.answer
            note(f"{delivery.mail.envelope_to}: {answer.outcome.value}, {answer.text}")
    if report.fault:
        note(str(report.fault))
    note(f"{counted(report.count(Outcome.SENT), 'message')} of {len(report.deliveries):,} sent")
    return report.count(Outcome.SENT) == len(report.deliveries)
