"""`dueward upgrade`: bring a database of an earlier version up to this one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from fleet.cli.options import examples, opens_program
from fleet.cli.output import note

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["upgrade"]


@click.command(
    epilog=examples(
        "dueward --database sqlite:///dueward.db upgrade",
    )
)
@opens_program
def upgrade(program: Program) -> None:
    """Bring a database of an earlier version up to this one.

    A SQLite database is first copied to a file beside it; the copy's name is told. For PostgreSQL
    make a backup before.
    """
    from fleet.storage import schema_state, upgrade

    was_current = schema_state(program.settings.database) == "current"
    copy = upgrade(program.settings.database)
    if copy:
        note(f"copied to {copy} first")
    note("nothing to do: the database is of this version" if was_current else "upgraded")
