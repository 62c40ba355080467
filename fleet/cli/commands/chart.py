"""`dueward chart`: print charts of a year, and procedure cards; see who has no current chart."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from fleet.cli.chart_options import ChartOptions, as_year, check_options
from fleet.cli.options import asks, examples, formatted, opens_program
from fleet.cli.output import Form, show_rows
from fleet.cli.refusals import ended
from fleet.services.questions import Question

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["chart"]


@click.command(
    epilog=examples(
        "dueward chart --site adams --year 2027 --out charts",
        "dueward chart PN1000 --paper a4 --html",
        "dueward chart --all --each-site --out charts --replace",
        "dueward chart --cards --site adams --language es",
        "dueward chart --status --region Panhandle --check",
        "dueward chart --missing --region Panhandle --out charts",
    )
)
@opens_program
@click.argument("property_numbers", nargs=-1, metavar="[PROPERTY_NUMBER]...")
@asks("site", "county", "region", "kind")
@click.option("--all", "everything", is_flag=True, help="Every unit.")
@click.option(
    "--year",
    metavar="YEAR",
    callback=as_year,
    help="The year of the charts; default: this one (to --status, in December, the next too).",
)
@click.option(
    "--paper",
    type=click.Choice(["letter", "a4"], case_sensitive=False),
    help="The size of the paper; default: letter.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    metavar="FOLDER",
    help="Where the files go; default: here.",
)
@click.option("--replace", is_flag=True, help="Write over files of the same names.")
@click.option("--each-site", is_flag=True, help="A PDF a site, not one for all.")
@click.option("--html", is_flag=True, help="Also a folder of HTML pages with the same content.")
@click.option("--cards", is_flag=True, help="Not charts: procedure cards of the units' kinds.")
@click.option(
    "--language",
    type=click.Choice(["en", "es"], case_sensitive=False),
    help="That of the cards; default: en.",
)
@click.option("--status", is_flag=True, help="Print nothing: tell which units have no chart.")
@click.option("--missing", is_flag=True, help="Print exactly the charts that --status names.")
@click.option("--check", is_flag=True, help="With --status: exit 3 if a chart is missing.")
@formatted
def chart(program: Program, question: Question, form: Form, **options: Any) -> int:  # noqa: ANN401
    """Print charts of a year as PDF, and procedure cards; see who has no chart.

    A chart is one unit's year at a site: a cell a day, week or month for each task, with the days
    on which nothing is expected marked beforehand. Each print is kept in the record under the
    number in its codes; printed again, it takes the former one's place. With --known-at it is a
    copy for the file, which takes no place. --status counts a chart as missing where none was
    printed, or where the one that was says something else than the record does now; --missing
    prints those, and leaves the others where they hang. A chart is of today: --on is for --status
    and --cards.
    """
    asked = ChartOptions(question=question, **options)
    check_options(asked)
    if asked.status:
        return _status(program, asked, form)
    return _cards(program, asked, form) if asked.cards else _charts(program, asked, form)


def _charts(program: Program, options: ChartOptions, form: Form) -> int:
    from fleet.cli.chart_answer import COLUMNS, answer_rows, answer_table
    from fleet.cli.chart_files import print_charts
    from fleet.cli.chart_missing import in_hand

    made, year = print_charts(program, options), options.year or program.today().year
    is_in_hand = options.missing and not made.files and not made.failures
    show_rows(
        COLUMNS,
        answer_rows(made, options),
        form,
        lambda: in_hand(year) if is_in_hand else answer_table(made, options),
    )
    return ended(list(made.failures))


def _cards(program: Program, options: ChartOptions, form: Form) -> int:
    from fleet.cli.chart_cards import CARD_COLUMNS, card_rows, cards_table, print_cards

    cards = print_cards(program, options)
    rows = card_rows(cards, options)
    show_rows(CARD_COLUMNS, rows, form, lambda: cards_table(cards, options))
    return 0


def _status(program: Program, options: ChartOptions, form: Form) -> int:
    from fleet.cli.chart_missing import missing_table
    from fleet.services.charts.printing import missing_of
    from fleet.services.charts.status import MissingChart

    question, numbers = options.question, options.property_numbers
    with program.store.begin() as record:
        rows = missing_of(record, program.public_holidays, question, numbers, options.year)
    year = options.year or (question.on or program.today()).year
    show_rows(MissingChart._fields, rows, form, lambda: missing_table(rows, options, year))
    return ended(found=options.check and bool(rows))
