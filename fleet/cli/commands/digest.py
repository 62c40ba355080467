"""`dueward digest`: what each person would get by e-mail; write it or send it."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Collection
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import fitted, grid, printed
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows
from fleet.cli.refusals import FAILED, ended
from fleet.domain.records import Role
from fleet.services.mailing.by_hand import plan_by_hand, shown_by_hand
from fleet.services.mailing.digest import READERS, DigestRun, write_folder
from fleet.services.mailing.digest_run import sealed_root
from notifications.digests.words import counted, joined
from notifications.dispatch import dispatch_due
from notifications.outbox import State
from notifications.overrides import checked_templates
from notifications.smtp import Door, Server, ready_server

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
@click.option(
    "--send", is_flag=True, help="Send them, each once, through the server named by DUEWARD_SMTP."
)
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

    Without --out and --send it only tells: who gets what, and who gets nothing and why. With --send
    the week's digests go through the outbox, and what is there already is not sent again; dueward
    work does so by itself, each at its time. A manager's mail carries the record's root: with
    --out or --send it is kept as one that was given out, and verify --root checks a later record
    against it.
    """
    server = ready_server(program.settings.mail) if send else None
    checked_templates(program.settings.mail)
    roles, day = [Role(reader) for reader in readers], on or program.today()
    if server is not None:
        return _sent(program, day, roles, server, out, form)
    run, failures = asked(program, day, roles, gives_out=out is not None)
    _written(run, out)
    show_rows(COLUMNS, _rows(run), form, lambda: _table(run))
    return ended(failures)


def _sent(
    program: Program,
    on: dt.date,
    roles: Collection[Role],
    server: Server,
    out: Path | None,
    form: Form,
) -> int:
    """Put the digests of a day into the outbox and send what waits there."""
    tools = program.mail_tools()
    with program.store.begin(write=True) as record:
        planned = plan_by_hand(record, tools, on, roles, program.clock())
        record.commit()
    _written(planned.run, out)
    show_rows(COLUMNS, _rows(planned.run), form, lambda: _table(planned.run))
    for row in planned.standing:
        note(
            f"{row.recipient}: the {row.kind.value.replace('_', ' ')} digest of {row.period} is in"
            f" the outbox already, {row.state.value}"
        )
    for email in planned.day_taken:
        note(f"{email}: another mail of that day is in the outbox; nobody gets two a day")
    with Door(server) as door:
        tally = dispatch_due(program.store.outbox, door, program.owner, program.clock)
    if tally.fault:
        note(f"sending has stopped: {tally.fault}")
    with program.store.begin() as record:
        waiting = record.mail.rows((State.QUEUED, State.SENDING, State.DEFERRED))
    note(
        f"{counted(tally.sent, 'message')} sent, {len(waiting):,} waiting, {tally.dead:,} dead;"
        " see dueward outbox"
    )
    is_done = not tally.fault and not tally.deferred and not tally.dead
    return ended(planned.planning.remarks) if is_done else FAILED


def _written(run: DigestRun, out: Path | None) -> None:
    if out:
        note(f"wrote {counted(len(write_folder(run, out)), 'file')} to {out}")


def asked(
    program: Program, on: dt.date, roles: Collection[Role] = (), *, gives_out: bool = False
) -> tuple[DigestRun, list[str]]:
    """Every digest of a day, from the database; only to people in some roles if any is given.

    gives_out: they are to leave the program, so that the root in them is sealed first.
    """
    root = None
    if gives_out:
        with program.store.begin(write=True) as record:
            root = sealed_root(record, roles, program.stamp("command"))
            record.commit()
    with program.store.begin() as record:
        return shown_by_hand(record, program.mail_tools(), on, roles, program.clock(), root)


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
