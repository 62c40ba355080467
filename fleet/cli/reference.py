"""What stands in the README about each command? Its own help text, so that the two cannot differ.

`python -m fleet.cli.reference README.md` writes it again between the two marks.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Final

import click

from fleet.cli.main import COMMANDS, main

__all__ = ["BEGIN", "END", "reference", "updated"]

BEGIN: Final = "<!-- commands: made by python -m fleet.cli.reference README.md -->"
END: Final = "<!-- end of commands -->"
_COLUMNS: Final = 90


def reference() -> str:
    """The help text of every command and of what some of them divide into, in Markdown."""
    root = click.Context(main, info_name="dueward", **main.context_settings)
    return "\n".join(
        f"### {name}\n\n```text\n{text}\n```\n"
        for command in COMMANDS
        for name, text in _helps(root, main, command)
    )


def _helps(parent: click.Context, group: click.Group, name: str) -> Iterator[tuple[str, str]]:
    command = group.get_command(parent, name)
    assert command is not None  # noqa: S101 - it stands in the table
    context = click.Context(
        command, parent, name, terminal_width=_COLUMNS, max_content_width=_COLUMNS
    )
    yield context.command_path.removeprefix("dueward "), command.get_help(context)
    if isinstance(command, click.Group):
        for part in command.list_commands(context):
            yield from _helps(context, command, part)


def updated(text: str) -> str:
    """A text with the reference between its marks made new; ValueError where they are missing."""
    before, _, rest = text.partition(BEGIN)
    _, end, after = rest.partition(END)
    if not end:
        raise ValueError(f"the text lacks the lines {BEGIN} and {END}")
    return f"{before}{BEGIN}\n\n{reference()}\n{END}{after}"


if __name__ == "__main__":
    page = Path(sys.argv[1])
    page.write_text(updated(page.read_text(encoding="utf-8")), encoding="utf-8")
