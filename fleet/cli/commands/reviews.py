"""`dueward reviews`: which months of which sites are to be reviewed, and which are signed."""

from __future__ import annotations

import datetime as dt
import shlex
from collections import Counter
from collections.abc import Sequence
from dataclasses import fields
from operator import attrgetter
from typing import TYPE_CHECKING, Final

import click
from rich.console import RenderableType

from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.cli.options import asks, examples, formatted, opens_program
from fleet.cli.output import Form, show_rows
from fleet.cli.refusals import ended
from fleet.errors import BadInput, Fault
from fleet.services.months import first_day, last_day, read_month, usual_span
from fleet.services.narrow import check_names
from fleet.services.questions import Question
from fleet.services.reviews import REOPENED, SIGNED, ReviewRow, review_rows
from notifications.digests.words import counted, county, day, joined
from notifications.digests.words import month as month_words

if TYPE_CHECKING:
    from fleet.wiring import Program

__all__ = ["reviews"]

COLUMNS: Final = [field.name for field in fields(ReviewRow)]
_INDENT: Final = 4


@click.command(
    epilog=examples(
        "dueward reviews --region Panhandle --open",
        "dueward reviews --from 2026-01 --to 2026-10 --site adams --check",
    )
)
@opens_program
@click.option("--from", "from_month", metavar="MONTH", help="The first month; default: a year ago.")
@click.option(
    "--to", "to_month", metavar="MONTH", help="The last month, included; default: the last one."
)
@asks("site", "county", "region")
@click.option("--open", "only_open", is_flag=True, help="Only months to review, or reopened.")
@click.option("--check", is_flag=True, help="Exit 3 if a month is to be reviewed, or reopened.")
@formatted
def reviews(
    program: Program,
    from_month: str | None,
    to_month: str | None,
    question: Question,
    only_open: bool,
    check: bool,
    form: Form,
) -> int:
    """Which months of which sites are to be reviewed, and which are signed.

    A month counts once it is over. One that was signed is reopened by what is stored later about
    a day of it; touched_by names the entries, or says register. The table tells what waits, the
    oldest month first; JSON and CSV have every month unless --open is given.
    """
    usual = usual_span(question.on or program.today())
    last = read_month(to_month, "--to") if to_month else usual[1]
    first = read_month(from_month, "--from") if from_month else min(usual[0], last)
    if last < first:
        problem = f"{last} lies before --from {first}"
        raise BadInput([Fault("--to", None, None, problem, "give the later month as --to")])
    with program.store.begin() as record:
        check_names(record, question.narrow)
        found = review_rows(record, program.public_holidays, first, last, question)
    waiting = [row for row in found if row.state != SIGNED]
    rows = map(attrgetter(*COLUMNS), waiting if only_open else found)
    show_rows(COLUMNS, rows, form, lambda: reviews_table(found, first, last))
    return ended(found=check and bool(waiting))


def reviews_table(rows: Sequence[ReviewRow], first: str, last: str) -> str:
    """The months that wait, the oldest first, and the commands for the first of them."""
    span = f"from {month_words(first_day(first))} to {month_words(first_day(last))}"
    signed = sum(row.state == SIGNED for row in rows)
    if not rows:
        return f"No site had a chart {span}."
    waiting = sorted((row for row in rows if row.state != SIGNED), key=_urgency)
    if not waiting:
        return f"All {counted(signed, 'month')} {span} are signed."
    counts = Counter(row.state for row in waiting)
    told = joined([f"{count:,} {state}" for state, count in counts.most_common()])
    headings = ["month", "site", "state", "charts back", "gaps"]
    lines = [_line(row) for row in waiting]
    widths = fitted([headings, *lines], folding=[1, 2])
    parts: list[RenderableType] = [heading(f"{counted(len(waiting), 'month')} {span}: {told}"), ""]
    parts += [grid(lines, headings, widths), "", *_first(waiting[0])]
    if signed:
        parts += ["", f"{counted(signed, 'month is', 'months are')} signed."]
    return printed(*parts)


def _urgency(row: ReviewRow) -> tuple[str, bool, bool, str]:
    """The oldest month first; in it what is reopened, then what can be looked at."""
    return row.month, row.state != REOPENED, row.returned_on is None, row.site


def _line(row: ReviewRow) -> list[str]:
    place = ", ".join(filter(None, (row.site, county(row.county))))
    back = "not noted" if row.returned_on is None else day(row.returned_on)
    return [row.month, place, row.state, back, f"{row.gaps:,}" if row.gaps else "none"]


def _first(row: ReviewRow) -> list[RenderableType]:
    """What to do about the month that comes first: look, then sign."""
    site = shlex.quote(row.site)
    name = f"{row.site}, {month_words(first_day(row.month))}"
    span = f"--from {first_day(row.month)} --to {last_day(row.month)}"
    parts: list[RenderableType] = [heading(f"Start with {name}")]
    if row.state == REOPENED and row.signed_at:
        parts.append(f"  Signed by {row.reviewed_by} on {_day_of(row.reviewed_on)}; changed since:")
        parts.append(f"    {_some(row.touched_by or '')}")
    parts += ["  See what is open:", command(f"dueward gaps {span} --site {site}", _INDENT)]
    parts += ["  Note the day its charts came back:"] if row.returned_on is None else []
    if row.returned_on is None:
        words = f"dueward review {site} {row.month} --returned DATE"
        parts.append(command(words, _INDENT))
    words = f"dueward review {site} {row.month} --by NAME"
    return [*parts, "  Sign it:", command(words, _INDENT)]


def _day_of(on: dt.date | None) -> str:
    return day(on) if on else ""


def _some(touched_by: str) -> str:
    """What touched it, the first few of many."""
    names = touched_by.split("; ")
    more = f" and {len(names) - 5} more" if len(names) > 5 else ""
    return f"{', '.join(names[:5])}{more}"
