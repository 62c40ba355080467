"""`dueward digest`: what each person would get by e-mail; write it or send it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import fitted, grid, printed
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows
from fleet.cli.refusals import FAILED, ended
from fleet.domain.records import Role
from fleet.services.digest import READERS, DigestRun, write_folder
from fleet.services.digest_run import digest_run, sealed_root
from fleet.services.questions import Question
from notifications.digests.words import counted, joined
from notifications.dispatch import dispatch
from notifications.messages import Mail
from notifications.mime import mail
from notifications.smtp import Door, Outcome, Server, ready_server

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["asked", "digest"]

COLUMNS: Final = ("recipient", "name", "kind", "period", "subject", "text", "skipped")


@click.command(
    epilog=examples(
        "dueward digest --on 2026-11-30",
        "dueward digest --on 2026-11-30 --out digests",
        'dueward digest --for "site lead" --for consultant',
        "DUEWARD_SMTP=smtp://localhost:2525 dueward digest --on 2026-11-30 --send",
    )
)
@opens_program
@day_option("on", "The day of the digest; default: today")
@click.option(
    "--for",
    "readers",
    type=click.Choice([role.value for role in READERS], case_sensitive=False),
    metavar="ROLE",
    multiple=True,
    help="Only to people in this role: site lead, consultant, manager. Repeatable.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Write each as an .eml and an .html file into this folder.",
)
@click.option("--send", is_flag=True, help="Send them through the server named by DUEWARD_SMTP.")
@formatted
def digest(
    program: Program,
    on: dt.date | None,
    readers: tuple[str, ...],
    out: Path | None,
    send: bool,
    form: Form,
) -> int:
    """What each person would get by e-mail; write it or send it.

    Without --out and --send it only tells: who gets what, and who gets nothing and why. All are
    written to every Monday; with --for a machine's scheduler sends to each role at its time. A
    manager's mail carries the record's root: with --out or --send it is kept as one that was given
    out, and verify --root checks a later record against it.
    """
    server = ready_server(program.settings.mail) if send else None
    roles = [Role(reader) for reader in readers]
    run, failures = asked(program, on or program.today(), roles, gives_out=bool(out or send))
    mails = [mail(message, run.settings) for message in run.messages] if server else []
    if out:
        note(f"wrote {counted(len(write_folder(run, out)), 'file')} to {out}")
    show_rows(COLUMNS, _rows(run), form, lambda: _table(run))
    is_sent = sent(mails, server) if server else True
    return ended(failures) if is_sent else FAILED


def asked(
    program: Program, on: dt.date, roles: Collection[Role] = (), *, gives_out: bool = False
) -> tuple[DigestRun, list[str]]:
    """Every digest of a day, from the database; only to people in some roles if any is given.

    gives_out: they are to leave the program, so that the root in them is sealed first.
    """
    question, mail_settings = Question(now=program.clock(), on=on), program.settings.mail
    root = None
    if gives_out:
        with program.store.begin(write=True) as record:
            root = sealed_root(record, roles, program.stamp("command"))
            record.commit()
    with program.store.begin() as record:
        return digest_run(record, program.public_holidays, question, on, mail_settings, roles, root)


def _rows(run: DigestRun) -> list[list[Value]]:
    told: list[list[Value]] = [
        [m.email, m.name, m.kind.value, m.period, m.subject, m.text, None] for m in run.messages
    ]
    return told + [
        [s.email, None, s.kind.value, s.period, None, None, s.reason] for s in run.skipped
    ]


def _table(run: DigestRun) -> str:
    """A line a message, how many there are, then who gets none and why."""
    kinds = [message.kind.value.replace("_", " ") for message in run.messages]
    lines = [[m.email, kind, m.subject] for m, kind in zip(run.messages, kinds, strict=True)]
    headings, text = ["recipient", "kind", "subject"], ""
    if lines:
        widths = fitted([headings, *lines], folding=[2])
        told = joined([f"{count:,} {kind}" for kind, count in Counter(kinds).items()])
        closing = f"{counted(len(lines), 'mail')}: {told}."
        text = printed(grid(lines, headings, widths, cut=2), "", closing)
    for reason, count in Counter(skip.reason for skip in run.skipped).most_common():
        who = ", ".join(skip.email for skip in run.skipped if skip.reason == reason)
        text += printed("", f"{counted(count, 'person gets', 'people get')} none: {reason}: {who}")
    return text or "No person here gets a digest."


def sent(mails: Sequence[Mail], server: Server) -> bool:
    """Send every message, and say on stderr what became of each that did not go through."""
    with Door(server) as door:
        report = dispatch(mails, door)
    for delivery in report.deliveries:
        if delivery.answer.outcome is not Outcome.SENT:
            answer = delivery.answer
            note(f"{delivery.mail.envelope_to}: {answer.outcome.value}, {answer.text}")
    if report.fault:
        note(str(report.fault))
    note(f"{counted(report.count(Outcome.SENT), 'message')} of {len(report.deliveries):,} sent")
    return report.count(Outcome.SENT) == len(report.deliveries)
