"""`dueward roles`: let the program run on PostgreSQL without the right to change the record."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from fleet.cli.options import examples, opens_program
from fleet.cli.output import note
from fleet.errors import BadInput, Fault

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["roles"]


@click.command(
    epilog=examples(
        "dueward --database postgresql://owner@db.example/fleet roles dueward_web",
        "dueward roles dueward_web --password-file web-password.txt",
    )
)
@opens_program
@click.argument("login")
@click.option(
    "--password-file",
    metavar="FILE",
    type=click.Path(path_type=Path),
    help="A file with the login's password on its first line; nobody else should be able to read"
    " it. Without: the login's password stays as it is, a new login has none.",
)
def roles(program: Program, login: str, password_file: Path | None) -> None:
    """PostgreSQL: let the program run without the right to change the record.

    Run it with the address of the owner of the tables; LOGIN is made if it is missing. From then
    on the program is run with LOGIN's address: it can add to the record, and neither change nor
    remove a line of it. The owner's address is for upgrade, dispose and this command only.
    """
    from fleet.storage.roles import add_login

    password = None if password_file is None else _password(password_file)
    is_new = add_login(program.settings.database, login, password)
    note(f"{'made' if is_new else 'found'} login {login}: it may read the record and add to it")
    note(f"run the program as {login} from now on, and keep the owner's address for upgrades")


def _password(file: Path) -> str:
    """The first line of a file; BadInput where it is empty or no text, without showing it."""
    try:
        first = file.read_text(encoding="utf-8").split("\n", 1)[0].removesuffix("\r")
    except UnicodeDecodeError:
        first = ""
    if not first or "\0" in first:
        problem = "its first line is no password"
        raise BadInput([Fault(str(file), None, None, problem, "write it there in UTF-8, alone")])
    return first
