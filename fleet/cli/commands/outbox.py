"""`dueward outbox`: what is on its way, what did not arrive, and why."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from typing import TYPE_CHECKING, Final
from urllib.parse import urlsplit

import click

from fleet.cli.grids import fitted, grid, heading, printed
from fleet.cli.options import day_option, examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows, write_text
from fleet.domain.webhooks import message_id
from fleet.errors import BadInput, Fault
from fleet.services.mail_ports import AddressState
from fleet.services.outbox import OPEN, Sent, content_of, resume, retry, suppress
from fleet.services.webhook_ports import DeliveryRow
from notifications.digests.words import counted, day, joined
from notifications.outbox import State

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["outbox"]

COLUMNS: Final = (
    *("key", "state", "recipient", "name", "kind", "period", "day", "subject", "planned_at"),
    *("next_at", "attempts", "uncertain", "settled_at", "code", "answer", "reason"),
)
ADDRESS_COLUMNS: Final = ("address", "refusals", "suspended_at", "answer")
_KEY: Final = 8
_SINCE_DAYS: Final = 35


@click.command(
    epilog=examples(
        "dueward outbox",
        "dueward outbox --all --since 2026-11-01 --format csv",
        "dueward outbox --show 3f9a12c4",
        "dueward outbox --retry 3f9a12c4",
        'dueward outbox --suppress 3f9a12c4 --why "she has left"',
        "dueward outbox --resume lead@adams.example",
    )
)
@opens_program
@click.option(
    "--state",
    "states",
    type=click.Choice([state.value for state in State]),
    multiple=True,
    help="Only messages in this state. Repeatable.",
)
@click.option("--recipient", metavar="ADDRESS", default="", help="Only messages to this person.")
@day_option("since", "Only what was planned from this day on; default: five weeks ago")
@click.option("--all", "every", is_flag=True, help="Also what was sent.")
@click.option("--addresses", is_flag=True, help="The addresses that refuse mail.")
@click.option("--show", metavar="KEY", help="Show one mail: its head and its text.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="With --show: write the mail as it is, as an .eml file.",
)
@click.option("--retry", "again", metavar="KEY", multiple=True, help="Send it again. Repeatable.")
@click.option(
    "--suppress", "back", metavar="KEY", multiple=True, help="Do not send it. Repeatable."
)
@click.option("--why", metavar="TEXT", default="", help="With --suppress: the reason.")
@click.option("--resume", "address", metavar="ADDRESS", help="Write to this address again.")
@formatted
def outbox(
    program: Program,
    states: tuple[str, ...],
    recipient: str,
    since_on: dt.date | None,
    every: bool,
    addresses: bool,
    show: str | None,
    out: Path | None,
    again: tuple[str, ...],
    back: tuple[str, ...],
    why: str,
    address: str | None,
    form: Form,
) -> None:
    """What is on its way, what did not arrive, and why.

    Without an option: all that was not sent, and why; KEY is the beginning of a message's key. A
    message is queued, sending, sent, deferred (the server puts it off; it is tried again), dead
    (given up) or suppressed (not to be sent). What was sent cannot be taken back.
    """
    if sum(map(bool, (addresses, show, again, back, address))) > 1:
        mend = "give one of them at a time"
        problem = "--addresses, --show, --retry, --suppress and --resume do different things"
        raise BadInput([Fault("dueward outbox", None, None, problem, mend)])
    now = program.clock()
    if show:
        _show(program, show, out)
    elif again:
        _acted(retry(program.store, again, now), "queued again", form)
    elif back:
        _acted(suppress(program.store, back, why, now), "taken back", form)
    elif address:
        resume(program.store, address)
        note(f"{address} is written to again; send what it missed with dueward outbox --retry KEY")
    elif addresses:
        _show_addresses(program, form)
    else:
        wanted = [State(state) for state in states] or (list(State) if every else list(OPEN))
        _list(program, wanted, recipient, since_on, form)


def _list(
    program: Program, wanted: list[State], recipient: str, since_on: dt.date | None, form: Form
) -> None:
    since_at = program.clock() - dt.timedelta(days=_SINCE_DAYS)
    if since_on is not None:
        since_at = dt.datetime.combine(since_on, dt.time(), dt.UTC)
    with program.store.begin() as record:
        found: list[Sent] = [*record.mail.rows((), recipient, since_at)]
        calls = reversed(record.webhooks.rows(since_at))
        found += [row for row in calls if recipient in ("", row.url)]
    shown = [row for row in found if row.state in wanted]
    nothing = "All of it was sent; --all shows it."
    if len(wanted) < len(OPEN):
        nothing = f"None of it is {' or '.join(state.value for state in wanted)}."
    show_rows(
        COLUMNS, map(_row, shown), form, lambda: _table(found, shown, since_at.date(), nothing)
    )


def _show_addresses(program: Program, form: Form) -> None:
    with program.store.begin() as record:
        kept = record.mail.addresses()
    rows = ([one.address, one.refusals, _at(one.suspended_at), one.answer] for one in kept)
    show_rows(ADDRESS_COLUMNS, rows, form, lambda: _addresses(kept))


def _row(row: Sent) -> list[Value]:
    if isinstance(row, DeliveryRow):
        told: list[Value] = [None, "webhook", row.event.value, None]
    else:
        on = None if row.day is None else row.day.isoformat()
        told = [row.name or None, row.kind.value, row.period, on]
    return [
        row.key,
        row.state.value,
        row.recipient,
        *told,
        row.subject or None,
        _at(row.planned_at),
        _at(row.next_at),
        row.attempts,
        row.uncertain,
        _at(row.settled_at),
        row.code,
        row.answer or None,
        row.reason or None,
    ]


def _at(at: dt.datetime | None) -> str | None:
    return None if at is None else at.astimezone(dt.UTC).isoformat()


def _table(found: Sequence[Sent], shown: Sequence[Sent], since_on: dt.date, nothing: str) -> str:
    """How many there are in each state, then those asked for with what hinders them."""
    if not found:
        return f"Nothing was planned since {day(since_on)}."
    counts = Counter(row.state.value for row in found)
    told = joined([f"{count:,} {state}" for state, count in counts.most_common()])
    parts = [heading(f"{counted(len(found), 'message')} since {day(since_on)}: {told}")]
    lines = [
        [row.key[:_KEY], row.state.value, _to(row), row.subject or _kind(row), _why(row)]
        for row in shown
    ]
    if not lines:
        return printed(*parts, "", nothing)
    headings = ["key", "state", "recipient", "subject", "why"]
    return printed(*parts, "", grid(lines, headings, fitted([headings, *lines], folding=[3, 4])))


def _to(row: Sent) -> str:
    """To whom, as short as it can be told: of a webhook's address the host."""
    return urlsplit(row.url).netloc if isinstance(row, DeliveryRow) else row.recipient


def _kind(row: Sent) -> str:
    return "webhook" if isinstance(row, DeliveryRow) else row.kind.value


def _why(row: Sent) -> str:
    if row.state is State.DEFERRED and row.next_at is not None:
        return f"{row.answer}; tried again at {row.next_at:%Y-%m-%d %H:%M} UTC"
    return row.reason or row.answer


def _addresses(kept: Sequence[AddressState]) -> str:
    if not kept:
        return "No address refuses mail."
    lines = [
        [
            one.address,
            counted(one.refusals, "refusal"),
            "suspended" if one.suspended_at else "",
            one.answer,
        ]
        for one in kept
    ]
    return printed(grid(lines, widths=fitted(lines, folding=[3])))


def _acted(rows: Sequence[Sent], what: str, form: Form) -> None:
    """Say what was done to which messages."""
    columns = ("key", "recipient", "subject", "done")
    told = [[row.key, row.recipient, row.subject, what] for row in rows]
    text = "".join(f"{row.key[:_KEY]} to {row.recipient}: {what}\n" for row in rows)
    show_rows(columns, told, form, lambda: text)


def _show(program: Program, key: str, out: Path | None) -> None:
    with program.store.begin() as record:
        row, content = content_of(record, key)
    if out is not None:
        out.write_bytes(content)
        note(f"wrote {counted(len(content), 'byte')} to {out}")
        return
    if isinstance(row, DeliveryRow):
        head = f"To: {row.url}\nwebhook-id: {message_id(row.key)}\n"
        write_text(f"{head}State: {row.state.value}\n\n{content.decode()}\n")
        return
    whole = message_from_bytes(content, EmailMessage, policy=policy.default)
    text = whole.get_body(("plain",))
    head = "".join(f"{name}: {whole[name]}\n" for name in ("From", "To", "Date", "Subject"))
    files = [part.get_filename() or "" for part in whole.iter_attachments()]
    kept = f"Attached: {', '.join(files)}\n" if files else ""
    write_text(f"{head}{kept}State: {row.state.value}\n\n{text.get_content() if text else ''}")
