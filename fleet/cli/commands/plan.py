"""`dueward plan`: when to send which technician where, what that costs, and what could not be."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fleet.cli.options import day_option, examples, formatted, narrows, opens_program
from fleet.cli.output import Form, note, show_rows, write_text
from fleet.cli.plan_options import PlanOptions
from fleet.cli.refusals import ended
from fleet.services.questions import Narrow

if TYPE_CHECKING:
    from fleet.services.visits.answer import Answer
    from fleet.services.visits.kept_plan import Kept
    from fleet.wiring import Program

__all__ = ["plan"]


@click.command(
    epilog=examples(
        "dueward plan --from 2026-12-01 --to 2027-05-31 --plan-file plan.toml",
        "dueward plan --from 2026-12-01 --to 2026-12-31 --plan-file plan.toml --stops",
        "dueward plan --from 2026-12-01 --to 2027-11-30 --plan-file plan.toml --bound --out plan",
    )
)
@opens_program
@day_option("from", "The first day of the plan", required=True)
@day_option("to", "The last day of the plan", required=True)
@click.option(
    "--plan-file",
    type=click.Path(path_type=Path, dir_okay=False),
    metavar="PATH",
    required=True,
    multiple=True,
    help="Depots, technicians, roads and money, as TOML (demo writes one); one a state.",
)
@narrows("site", "county", "region", "kind")
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31 - 1),
    metavar="NUMBER",
    default=1,
    show_default=True,
    help="The same seed, iterations and versions give the same plan.",
)
@click.option(
    "--iterations",
    type=click.IntRange(1, 10**9),
    metavar="NUMBER",
    help="How long to seek; default: about a minute for a state of 280 units.",
)
@click.option(
    "--bound",
    is_flag=True,
    help="Also what no plan can cost less than; takes some minutes.",
)
@click.option(
    "--executor",
    metavar="WORDS",
    default="",
    help="Plan several files side by side: processes:4, or a Dask scheduler's tcp://HOST:8786.",
)
@click.option("--stops", is_flag=True, help="In the table, each trip's stops, times and units.")
@click.option("--calendar", is_flag=True, help="In the table, the months with who is out when.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Write the plan as JSON, CSV and PDF, its map, months and money as SVG, into this folder.",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"], case_sensitive=False),
    help="The size of the PDF's paper; default: letter.",
)
@click.option("--replace", is_flag=True, help="Write over files of the same names.")
@click.option("--keep", is_flag=True, help="Keep the plan, and its visits as free ones.")
@click.option("--check", is_flag=True, help="Exit 3 if a unit is in no trip.")
@formatted
def plan(program: Program, form: Form, narrow: Narrow, **options: Any) -> int:  # noqa: ANN401
    """When to send which technician where, what that costs, and what could not be planned.

    Planned is what the rule book has vendors do (vendor = true): what falls due until --to, each
    unit once between the day its window opens and its limit, on a day its site is open. What is
    past its limit already is planned first. Beside the plan stands what it would cost to go to
    each unit on its own due date, and to each site alone. Nothing is written into the record unless
    it is kept; dueward visits then tells, confirms and changes what was kept.
    """
    asked = PlanOptions(narrow=narrow, **options)
    answers = _answers(program, asked)
    if asked.out is not None:
        from fleet.cli.plan_files import write_files

        write_files(answers, asked, program.clock())
    kept = _kept(program, answers) if asked.keep else []
    return _shown(answers, asked, form, kept)


def _kept(program: Program, answers: Sequence[Answer]) -> list[Kept]:
    from fleet.services.visits.kept_plan import keep_plan

    with program.store.begin(write=True) as record:
        stamp = program.stamp("command")
        kept = [keep_plan(record, program.public_holidays, one, stamp) for one in answers]
        record.commit()
    return kept


def _answers(program: Program, asked: PlanOptions) -> list[Answer]:
    from fleet.cli.plan_files import check_folder
    from fleet.cli.progress import rows_told
    from fleet.services.narrow import check_names
    from fleet.services.visits.answer import answered
    from fleet.services.visits.kept_plan import check_new
    from fleet.services.visits.order import check_apart, order_of

    files = [program.plan_file(path) for path in asked.plan_file]
    with rows_told("plan worked out", program.stopwatch) as told:
        planning = program.planner(asked.seed, asked.iterations, told.step, asked.executor)
        with planning as planner:
            check_folder(asked)
            with program.store.begin() as record:
                check_names(record, asked.narrow)
                orders = [
                    order_of(
                        record,
                        program.public_holidays,
                        program.county_centres,
                        plan_file,
                        asked.from_on,
                        asked.to_on,
                        asked.narrow,
                    )
                    for plan_file in files
                ]
                if asked.keep:
                    for ordered in orders:
                        check_new(record.register(), ordered)
            check_apart(orders)
            return answered(orders, planner, wants_bound=asked.bound)


def _shown(answers: Sequence[Answer], asked: PlanOptions, form: Form, kept: Sequence[Kept]) -> int:
    from fleet.cli.plan_table import plan_tables
    from fleet.cli.visits_table import kept_text
    from fleet.services.visits.rows import VisitRow, visit_rows

    if form != "table":
        for sentence in (one for answer in answers for one in answer.ordered.notes):
            note(sentence)
    rows = [row for answer in answers for row in visit_rows(answer)]
    show_rows(VisitRow._fields, rows, form, lambda: plan_tables(answers, asked))
    for plan in kept:
        if form == "table":
            write_text(kept_text(plan.plan.number, plan.visits))
        else:
            note(f"kept as {plan.plan.number}")
    failures = [failure for answer in answers for failure in answer.ordered.failures]
    return ended(failures, found=asked.check and any(answer.unplaced for answer in answers))
