"""`dueward feed`: a person's calendar of due dates and visits, at an address or as a file."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.grids import fitted, grid, printed
from fleet.cli.options import examples, formatted, opens_program
from fleet.cli.output import Form, Value, note, show_rows
from fleet.errors import BadInput, Fault
from fleet.services.calendar_ports import FeedRow
from fleet.services.events import revise_events
from fleet.services.feeds import make_feed, person_feed, refuse_unknown
from fleet.services.mailing.readers import address_of
from notifications.digests.words import counted

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["feed"]

COLUMNS: Final = ("email", "made_at", "revoked_at")


@click.command(
    epilog=examples(
        "dueward feed lead@adams.example",
        "dueward feed lead@adams.example --out adams.ics",
        "dueward feed lead@adams.example --revoke",
        "dueward feed --list",
    )
)
@opens_program
@click.argument("email", required=False, default="")
@click.option("--revoke", is_flag=True, help="End every address of this person.")
@click.option("--list", "listed", is_flag=True, help="Which addresses there are, and since when.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="FILE",
    help="Write the calendar into a file, to be opened in a calendar program.",
)
@formatted
def feed(
    program: Program, email: str, revoke: bool, listed: bool, out: Path | None, form: Form
) -> int:
    """A person's calendar of due dates and visits, at an address or as a file.

    The address is told once and cannot be guessed; whoever has it reads the calendar, so give it
    to its person alone, and revoke it when they leave. The pages serve it under DUEWARD_BASE_URL.
    """
    if listed:
        with program.store.begin() as record:
            rows = record.feeds.all()
        show_rows(COLUMNS, map(_row, rows), form, lambda: _table(rows))
        return 0
    if not email:
        mend = "say whose calendar: dueward feed ADDRESS"
        raise BadInput([Fault("EMAIL", None, None, "nobody is named", mend)])
    now = program.clock()
    with program.store.begin(write=True) as record:
        if revoke:
            ended = record.feeds.revoke(address_of(email), now)
            record.commit()
            note(f"{counted(ended, 'address', 'addresses')} of {email} ended")
            return 0
        revise_events(record, program.public_holidays, now, program.today())
        if out is not None:
            refuse_unknown(record, email, now)
            content = person_feed(record, email, now).content
            record.commit()
            out.write_bytes(content)
            note(f"wrote the calendar of {email} to {out}; it does not follow what changes later")
            return 0
        path = make_feed(record, email, program.draw_token(), now)
        record.commit()
    url = f"{program.settings.mail.base_url}{path}"
    show_rows(("email", "address"), [[email, url]], form, lambda: f"{url}\n")
    if not program.settings.mail.base_url:
        note("set DUEWARD_BASE_URL to where the pages are served; --out writes a file without them")
    return 0


def _row(row: FeedRow) -> list[Value]:
    revoked = None if row.revoked_at is None else row.revoked_at.isoformat()
    return [row.email, row.made_at.isoformat(), revoked]


def _table(rows: list[FeedRow]) -> str:
    if not rows:
        return "No calendar address was given out."
    lines = [
        [row.email, f"since {row.made_at:%Y-%m-%d}", "revoked" if row.revoked_at else ""]
        for row in rows
    ]
    return printed(grid(lines, widths=fitted(lines, folding=[0])))
