"""`dueward demo`: build an invented state's fleet and show what the program says of it."""

from __future__ import annotations

import datetime as dt
import shlex
from collections.abc import Iterator, Sequence
from contextlib import contextmanager, suppress
from importlib.resources import as_file, files
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from fleet.cli.commands.digest import asked
from fleet.cli.commands.load import load_paths
from fleet.cli.demo_pages import doors, on_the_day
from fleet.cli.grids import counts_grid, grid, heading, printed
from fleet.cli.options import DATABASE, examples, opens_program
from fleet.cli.output import note, write_text
from fleet.cli.picture import owing_counties
from fleet.cli.refusals import ended
from fleet.domain.answers import StatusRow
from fleet.errors import BadInput, Fault
from fleet.services.due import due_rows, roll_up
from fleet.services.mailing.digest import write_folder
from fleet.services.questions import DueAnswer, Question
from notifications.digests.words import counted, day

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["demo"]

_NEXT: Final = (
    ("What one county owes:", "due --on {on} --county {county}"),
    ("Why that is due when it is:", "why {number} {task} --on {on}"),
    ("What the record lacks:", "gaps --from {month} --to {on} --on {on} --county {county}"),
    ("Write that it has been done:", "mark {number} {task} --on {on} --as done --initials GR"),
    ("Its chart for the wall, as PDF:", "chart {number} --out charts"),
    ("Who is told what:", "digest --on {on} --format table"),
    (
        "When to send the vendor where (needs the extra 'plan'):",
        "plan --from {plan_from} --to {plan_to} --plan-file {plan_file} --iterations 20000",
    ),
    (
        "A link by which the program manager sets a password and comes in:",
        "access invite program@bench-agency.example",
    ),
    ("The pages, in a browser (DUEWARD_SECOND_FACTOR=none spares you a phone):", "serve"),
)
"""What to try next: to see what, and by which command."""


@click.command(
    epilog=examples(
        "dueward demo my-demo",
        "dueward demo --serve",
    )
)
@opens_program
@click.argument("folder", type=click.Path(path_type=Path), default="dueward-demo")
@click.option(
    "--serve",
    is_flag=True,
    help="Then serve its pages to this machine, and tell who may come in by which password.",
)
@click.option(
    "--port",
    default=8000,
    show_default=True,
    type=click.IntRange(0, 65_535),
    help="Where the pages are served; 0 takes a free one.",
)
@click.pass_context
def demo(ctx: click.Context, program: Program, folder: Path, serve: bool, port: int) -> int:
    """Build an invented state's fleet and show what the program says of it.

    The database, the digests and a plan file for dueward plan are written into FOLDER (default:
    dueward-demo). Everything in it is invented but the geography. With --serve the pages show the
    day after its record ends, until Ctrl-C stops them.
    """
    if not ctx.meta.get(DATABASE):
        program = program.at(f"sqlite:///{folder / 'dueward.db'}")
        ctx.call_on_close(program.close)
    if serve:
        program = on_the_day(program, demo_day())
        ctx.call_on_close(program.close)
    check_fresh(program)
    with made(folder), as_file(files("demo_data") / "files") as data:
        load_paths(program, (data,))
    answer = picture(program)
    run, failures = asked(program, demo_day(), gives_out=True)
    written = write_folder(run, folder / "digests")
    write_text(f"\n{counted(len(written) // 2, 'digest')} written to {folder / 'digests'}\n")
    plan_file = folder / "plan.toml"
    plan_file.write_bytes((files("demo_data") / "plan.toml").read_bytes())
    write_text(next_steps(program, answer.rows, plan_file))
    if serve:
        from fleet.web import serving

        write_text(doors(program))
        door = serving.Door("127.0.0.1", port, threads=8)
        serving.run(program, door, note, pages_only=True, plan_only=True)
    return ended([*answer.failures, *failures])


def demo_day() -> dt.date:
    """The day on which the demo is looked at: the day after its record ends."""
    return dt.date.fromisoformat((files("demo_data") / "today.txt").read_text().strip())


def check_fresh(program: Program) -> None:
    """Refuse a database that holds a fleet: the demo is not for mixing with it."""
    from fleet.storage import schema_state

    if schema_state(program.settings.database) != "missing":
        place = program.settings.database.removeprefix("sqlite:///")
        mend = "name another folder, or remove this one first"
        raise BadInput([Fault(place, None, None, "there is a fleet here already", mend)])


@contextmanager
def made(folder: Path) -> Iterator[None]:
    """Make a folder and those above it; what was made is taken away if the block fails."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    try:
        yield
    except BaseException:
        with suppress(OSError):  # something stands in it
            for place in missing:
                place.rmdir()
        raise


def picture(program: Program) -> DueAnswer:
    """Print how the state stands: its regions, and the counties that owe service."""
    question = Question(now=program.clock(), on=demo_day())
    with program.store.begin() as record:
        answer = due_rows(record, program.public_holidays, question)
    owing = owing_counties(answer.rows)
    units = len({row.property_number for row in answer.rows})
    write_text(
        printed(
            heading(f"An invented state on {day(demo_day())}: {counted(units, 'unit')}"),
            counts_grid(roll_up(answer.rows, "region"), "region"),
            "",
            heading("Counties that owe service, the longest overdue first"),
            grid([list(one.values()) for one in owing], list(owing[0])),
        )
    )
    return answer


def next_steps(program: Program, rows: Sequence[StatusRow], plan_file: Path) -> str:
    """Commands to copy, about the row that is longest past due."""
    worst = max(rows, key=lambda row: row.days_past_due or 0)
    on = demo_day()
    plan_from = (on.replace(day=1) + dt.timedelta(days=31)).replace(day=1)
    command = f"dueward --database {shlex.quote(program.settings.database)}"
    names = {
        "on": on,
        "month": on.replace(day=1),
        "county": shlex.quote(worst.county),
        "number": worst.property_number,
        "task": worst.task,
        "plan_from": plan_from,
        "plan_to": plan_from.replace(year=plan_from.year + 1) - dt.timedelta(days=1),
        "plan_file": shlex.quote(str(plan_file)),
    }
    steps = [f"  {what}\n    {command} {step.format(**names)}\n" for what, step in _NEXT]
    return "\nTry next:\n" + "".join(steps)
