"""`dueward packet`: the evidence of one site for a span of time, as a PDF and a ZIP."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.options import day_option, examples, formatted, known_at_option, opens_program
from fleet.cli.output import Form, one_line, show_object

if TYPE_CHECKING:
    from fleet.files.packets.files import WrittenPacket
    from fleet.services.packet_facts import PacketFacts
    from fleet.wiring import Program

__all__ = ["packet"]


@click.command(
    epilog=examples(
        "dueward packet adams --from 2024-12-01 --to 2026-11-30",
        "dueward packet adams --from 2026-01-01 --to 2026-06-30 --out evidence --replace",
        "dueward packet adams --from 2026-01-01 --to 2026-06-30 --known-at 2026-07-15T00:00:00Z",
    )
)
@opens_program
@click.argument("site", metavar="SITE")
@day_option("from", "The first day", required=True)
@day_option("to", "The last day, included", required=True)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path(),
    metavar="FOLDER",
    help="Where both files go; default: here.",
)
@click.option("--replace", is_flag=True, help="Write over a packet of the same name.")
@known_at_option
@formatted
def packet(
    program: Program,
    site: str,
    from_on: dt.date,
    to_on: dt.date,
    out: Path,
    replace: bool,
    known_at: dt.datetime | None,
    form: Form,
) -> None:
    """The evidence of one site for a span of time, as a PDF and a ZIP.

    SITE is its short name. The PDF is for reading; the ZIP holds the same as tables, the lines of
    the record it rests on, and CHECK.txt, which says how to check both with standard tools alone.
    """
    from fleet.files.packets.files import packet_paths, write_packet
    from fleet.services.packet import packet_facts
    from fleet.services.packet_facts import PacketQuestion

    paths = packet_paths(out, site, f"{from_on}-to-{to_on}", replace=replace)
    asked = PacketQuestion(
        site=site,
        from_on=from_on,
        to_on=to_on,
        now=program.clock(),
        known_at=known_at,
        made_by=program.user,
    )
    with program.store.begin() as record:
        facts = packet_facts(record, program.public_holidays, asked)
    _show(write_packet(facts, paths), facts, form)


def _show(made: WrittenPacket, facts: PacketFacts, form: Form) -> None:
    """Print what was made as one object, or as a line a file and the root."""
    fields = {
        "pdf": str(made.pdf),
        "zip": str(made.zip),
        "pages": made.pages,
        "files": made.files,
        "pdf_bytes": made.pdf_bytes,
        "zip_bytes": made.zip_bytes,
        "root": facts.root,
        "as_of": facts.as_of,
        "pdf_sha256": made.pdf_sha256,
        "zip_sha256": made.zip_sha256,
    }
    lines = (
        f"{made.pdf}: {made.pages:,} pages, {made.pdf_bytes:,} bytes",
        f"{made.zip}: {made.files:,} files, {made.zip_bytes:,} bytes",
        f"Root of the record: {facts.root}",
    )
    show_object(fields, form, lambda: "\n".join(map(one_line, lines)))
