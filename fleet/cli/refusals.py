"""What is said, and which exit code given, when something is refused (design section 6)?"""

from __future__ import annotations

from collections.abc import Iterator

import click

from fleet.cli.output import note
from fleet.errors import BadInput, Doubtful, FleetError, KeyTaken, NotFound
from notifications.errors import BadSettings, NotificationError
from schedules.errors import ScheduleError

__all__ = ["BAD_INPUT", "FAILED", "FINDINGS", "INTERRUPTED", "Interrupted", "ended", "tell"]

FAILED, BAD_INPUT, FINDINGS, INTERRUPTED = 1, 2, 3, 130
_BAD_INPUT = (BadInput, NotFound, Doubtful, KeyTaken, BadSettings)


class Interrupted(Exception):
    """The person pressed Ctrl-C."""


def tell(error: Exception) -> int:
    """Say on stderr what was refused, a line a fault; the exit code. Others are raised again."""
    if isinstance(error, click.exceptions.NoArgsIsHelpError):
        error.show()
        return BAD_INPUT
    for line in _lines(error):
        note(line)
    if isinstance(error, Interrupted | click.Abort):
        return INTERRUPTED
    return BAD_INPUT if isinstance(error, (*_BAD_INPUT, click.UsageError)) else FAILED


def _lines(error: Exception) -> Iterator[str]:
    if isinstance(error, BadInput):
        yield from map(str, error.faults)
        if error.total > len(error.faults):
            yield f"and {error.total - len(error.faults):,} more"
    elif isinstance(error, click.ClickException):
        yield _usage(error)
    elif isinstance(error, Interrupted | click.Abort):
        yield "interrupted; the database holds nothing half-written"
    elif isinstance(error, OSError) and error.strerror:
        place = error.filename or "output"
        yield f"{place}: {error.strerror}; check that it is there and may be read or written"
    elif isinstance(error, FleetError | ScheduleError | NotificationError):
        yield str(error)
    else:
        raise error


def _usage(error: click.ClickException) -> str:
    """Click's words on one line, and where to read how it is used."""
    words = " ".join(error.format_message().split()).rstrip(".")
    context = getattr(error, "ctx", None)
    path = context.command_path if context else "dueward"
    return f"{path}: {words}; see {path} --help"


def ended(failures: list[str] | None = None, *, found: bool = False) -> int:
    """How an answer ends: each unit that could not be answered is named, then the exit code."""
    for failure in failures or ():
        note(failure)
    if failures:
        return FAILED
    return FINDINGS if found else 0
