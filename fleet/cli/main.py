"""Which command is meant? The entry point; a command's module is imported when it is run.

The short help texts stand here, so that `dueward --help` imports no command.
"""

from __future__ import annotations

import importlib
import io
import sys
from typing import Any, Final

import click

from fleet.cli.interrupts import heard
from fleet.cli.output import flush
from fleet.cli.refusals import Interrupted, tell

__all__ = ["COMMANDS", "VERSION", "Commands", "main"]

VERSION: Final = "0.1.0"

COMMANDS: Final = {
    "demo": "Build an invented state's fleet and show what the program says of it.",
    "load": "Read sites, units, people and the record from files, all or nothing.",
    "due": "What is due and overdue, a row a unit and task.",
    "why": "How one due date comes about, step by step.",
    "gaps": "What the record lacks, and what settles it.",
    "mark": "Write that a task was done, or why not.",
    "strike": "Correct an entry; the old one stays readable.",
    "issue": "Put a new unit into service at a site.",
    "move": "Move a unit to another site, or lend it until a day.",
    "broken": "Say that a unit cannot be used.",
    "back": "Put a unit back into service, with the checks due before use.",
    "service": "Record a vendor's service with its report and certificate.",
    "extend": "Put a due date off, with a reason and an end.",
    "renumber": "Give a unit a new property number; the old one stays findable.",
    "retire": "Take a unit out of service for good.",
    "close-site": "Close a site for good.",
    "review": "Sign a month of a site's charts, or note when they came back.",
    "reviews": "Which months of which sites are to be reviewed, and which are signed.",
    "action": "Open, carry on or close a corrective action.",
    "actions": "Which corrective actions are open.",
    "plan": "When to send which technician where, what that costs, and what could not be planned.",
    "visits": "What visits are planned, how firmly, and what becomes of them.",
    "digest": "What each person would get by e-mail; write it or send it.",
    "work": "Run the timetable: plan the mail that is due, and send it.",
    "serve": "Serve the pages, and run the timetable beside them.",
    "access": "Who may open the pages: accounts, benches, and what was tried.",
    "outbox": "What is on its way, what did not arrive, and why.",
    "away": "Who is away, and who reads their mail meanwhile.",
    "feed": "A person's calendar of due dates and visits, at an address or as a file.",
    "templates": "How mails are laid out; try own templates before they are used.",
    "packet": "The evidence of one site for a span of time, as a PDF and a ZIP.",
    "chart": "Print charts of a year as PDF, and procedure cards; see who has no chart.",
    "read": "Read scans of filled charts: which cells are empty, marked, or in doubt.",
    "verify": "Walk every chain of the record and name what is not as it was written.",
    "backup": "Copy the database while it is in use, and check the copy.",
    "restore": "Put a backup in a fresh place, and check it.",
    "export": "Write everything as files that load again.",
    "roles": "PostgreSQL: let the program run without the right to change the record.",
    "dispose": "Remove what has outlived its retention, leaving tombstones.",
    "upgrade": "Bring a database of an earlier version up to this one.",
}
"""Every command, in the order in which a newcomer meets them."""


class Commands(click.Group):
    """The table of commands, with one way to end: a code, and a line on stderr if it is not 0."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """The names, in the table's order."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import a command."""
        if cmd_name not in COMMANDS:
            return None
        name = cmd_name.replace("-", "_")
        module = importlib.import_module(f"fleet.cli.commands.{name}")
        command: click.Command = getattr(module, name)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the table into the help text, without importing a command."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))

    def invoke(self, ctx: click.Context) -> Any:  # noqa: ANN401 - as Click has it
        """Run a command; Click would put an empty line before what is said of Ctrl-C."""
        try:
            return super().invoke(ctx)
        except KeyboardInterrupt:
            raise Interrupted from None

    def main(self, *args: Any, **kwargs: Any) -> Any:  # noqa: ANN401 - as Click has it
        """Run and leave with the command's exit code (design section 6)."""
        kwargs |= {"prog_name": "dueward", "standalone_mode": False}
        for stream in (sys.stdout, sys.stderr):
            if isinstance(stream, io.TextIOWrapper):
                stream.reconfigure(errors="backslashreplace")
        try:
            with heard():
                code = super().main(*args, **kwargs) or 0
        except Exception as error:
            code = tell(error)
        flush()
        sys.exit(code)


@click.group(
    cls=Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    subcommand_metavar="COMMAND [OPTIONS]...",
    epilog="Begin with: dueward demo",
)
@click.option(
    "--database",
    metavar="URL",
    help="sqlite:///FILE or postgresql://USER@HOST/NAME; else DUEWARD_DATABASE, else"
    " sqlite:///dueward.db. It may also stand after COMMAND.",
)
@click.version_option(VERSION, prog_name="dueward", message="%(prog)s %(version)s")
def main(database: str | None) -> None:
    """Keep the bench equipment of many small sites maintained, and able to prove it.

    Every command that answers takes --format table, json or csv: a table on a terminal, JSON
    elsewhere. Exit codes: 0 done, 1 failed, 2 wrong use or bad input, 3 done with findings
    (--check), 130 interrupted.
    """
