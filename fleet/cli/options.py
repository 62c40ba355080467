"""Which options do commands share, and what do their words become?"""

from __future__ import annotations

import datetime as dt
import functools
import re
import sys
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, Final

import click

from fleet.cli.output import one_line
from fleet.errors import BadInput, Fault
from fleet.services.questions import Narrow, Question
from schedules.rules import FIRST_YEAR, LAST_YEAR

__all__ = [
    "DATABASE",
    "as_day",
    "asks",
    "day_option",
    "examples",
    "formatted",
    "known_at_option",
    "narrows",
    "opens_program",
]

DATABASE: Final = "dueward.database"
"""Under this name a context's `meta` holds the database that was named with --database, or None."""

_NARROWING: Final = {
    "site": ("sites", "Only this site, by its short name."),
    "county": ("counties", "Only this county."),
    "region": ("regions", "Only this region."),
    "kind": ("kinds", "Only this kind of unit."),
    "task": ("tasks", "Only this task."),
    "status": ("states", "Only rows in this state, as 'overdue' or 'out of service'."),
}

Body = Callable[..., Any]


def _refused(param: click.Parameter, problem: str, mend: str) -> BadInput:
    is_option = isinstance(param, click.Option)
    name = max(param.opts, key=len) if is_option else param.human_readable_name
    return BadInput([Fault(name, None, None, problem, mend)])


def _refuse_bytes(ctx: click.Context) -> None:
    """Refuse words that are not UTF-8: no record could hold them, and no name of a database."""
    for param in ctx.command.params:
        value = ctx.params.get(str(param.name))
        for word in value if isinstance(value, tuple) else (value,):
            if isinstance(word, str | Path) and not _is_text(str(word)):
                problem = f"'{one_line(str(word))}' holds bytes that are not UTF-8"
                raise _refused(param, problem, "write it in UTF-8")


def _is_text(word: str) -> bool:
    try:
        word.encode()
    except UnicodeEncodeError:
        return False
    return True


def as_day(ctx: click.Context, param: click.Parameter, value: str | None) -> dt.date | None:
    """Read a date; it must be one, and in a year that a lifetime of equipment can reach."""
    if value is None:
        return None
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", value, re.ASCII):
        problem = f"'{one_line(value)}' is not a date"
        raise _refused(param, problem, "write it as YYYY-MM-DD")
    try:
        on = dt.date.fromisoformat(value)
    except ValueError:
        problem = f"{value} is no day of the calendar"
        raise _refused(param, problem, "check its month and day") from None
    if not FIRST_YEAR <= on.year <= LAST_YEAR:
        mend = f"give a day from {FIRST_YEAR}-01-01 to {LAST_YEAR}-12-31"
        raise _refused(param, f"{on} is out of reach", mend)
    return on


def as_instant(ctx: click.Context, param: click.Parameter, value: str | None) -> dt.datetime | None:
    """Read an instant; it must name its zone, or nobody could say which instant is meant."""
    if value is None:
        return None
    mend = "write it as 2026-03-02T10:00:00Z or 2026-03-02T10:00:00-06:00"
    try:
        at = dt.datetime.fromisoformat(value)
        if at.tzinfo is None:
            raise _refused(param, f"'{one_line(value)}' has no time zone", mend)
        at = at.astimezone(dt.UTC)
    except (ValueError, OverflowError):
        raise _refused(param, f"'{one_line(value)}' is not an instant", mend) from None
    if not FIRST_YEAR <= at.year <= LAST_YEAR:
        mend = f"give an instant in the years {FIRST_YEAR} to {LAST_YEAR}"
        raise _refused(param, f"'{one_line(value)}' is out of reach", mend)
    return at


def examples(*commands: str) -> str:
    """The end of a help text: commands to copy, each on a line that Click does not fold."""
    noun = "Example" if len(commands) == 1 else "Examples"
    return "\b\n" + "\n".join([f"{noun}:", *(f"  {command}" for command in commands)])


def day_option(name: str, help_text: str, *, required: bool = False) -> Callable[[Body], Body]:
    """An option that is a date; `from` and `to` arrive as from_on and to_on, `on` as on."""
    variable = name if name == "on" else f"{name}_on"
    return click.option(
        f"--{name}",
        variable,
        metavar="DATE",
        callback=as_day,
        required=required,
        help=f"{help_text} (YYYY-MM-DD).",
    )


known_at_option = click.option(
    "--known-at",
    metavar="INSTANT",
    callback=as_instant,
    help="As it was known then, as 2026-03-02T10:00:00Z; default: as known now.",
)


def asks(*narrowing: str) -> Callable[[Body], Body]:
    """Give a command --on, --known-at and options that narrow; it gets them as one `question`."""

    def decorate(body: Body) -> Body:
        @functools.wraps(body)
        def command(
            program: Any,  # noqa: ANN401 - the program, whose import is not for --help
            *args: object,
            on: dt.date | None,
            known_at: dt.datetime | None,
            narrow: Narrow,
            **options: Any,  # noqa: ANN401
        ) -> object:
            question = Question(now=program.clock(), on=on, known_at=known_at, narrow=narrow)
            return body(program, *args, question=question, **options)

        day = day_option("on", "As of this day; default: today at each site")
        return day(known_at_option(narrows(*narrowing)(command)))

    return decorate


def narrows(*narrowing: str) -> Callable[[Body], Body]:
    """Give a command options that narrow; it gets them as one `narrow`."""

    def decorate(body: Body) -> Body:
        @functools.wraps(body)
        def command(*args: object, **options: Any) -> object:  # noqa: ANN401
            narrow = Narrow(**{_NARROWING[name][0]: options.pop(name) for name in narrowing})
            return body(*args, narrow=narrow, **options)

        for name in reversed(narrowing):
            about = f"{_NARROWING[name][1]} Repeatable."
            command = click.option(f"--{name}", metavar="NAME", multiple=True, help=about)(command)
        return command

    return decorate


def formatted(body: Body) -> Body:
    """Give a command --format; it gets the chosen one as `form`."""

    def chosen(ctx: click.Context, param: click.Parameter, value: str | None) -> str:
        return value or ("table" if sys.stdout.isatty() else "json")

    return click.option(
        "--format",
        "form",
        type=click.Choice(["table", "json", "csv"]),
        callback=chosen,
        help="Default: table on a terminal, json elsewhere.",
    )(body)


def opens_program(body: Body) -> Body:
    """Give a command --database, and the program, closed in the end, as its first argument.

    The context's object, where there is one, is what puts the program together from the name of a
    database; else `fleet.wiring.program`.
    """

    @click.option("--database", metavar="URL", help="As before COMMAND.")
    @functools.wraps(body)
    def command(*, database: str | None, **options: object) -> object:
        from fleet import wiring

        ctx = click.get_current_context()
        before: Mapping[str, Any] = ctx.find_root().params
        for door in (ctx.find_root(), ctx):
            _refuse_bytes(door)
        ctx.meta[DATABASE] = before.get("database") if database is None else database
        make = ctx.obj or wiring.program
        program = make(ctx.meta[DATABASE])
        ctx.call_on_close(program.close)
        return body(program, **options)

    return command
