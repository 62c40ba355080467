"""What is said of charts that were printed? Rows for machines; for people what to do next."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Final

from rich.console import RenderableType

from fleet.cli.grids import command, fitted, grid, heading, printed
from fleet.cli.output import Value
from notifications.digests.words import counted, joined

if TYPE_CHECKING:
    from fleet.cli.chart_files import Printed, PrintedFile
    from fleet.cli.chart_options import ChartOptions
    from fleet.services.charts.facts import PrintedChart

__all__ = ["COLUMNS", "answer_rows", "answer_table"]

COLUMNS: Final = (
    *("property_number", "site", "year", "print", "pages", "replaces", "differs", "file"),
)
_INDENT: Final = 4
_LISTED: Final = 12
"""So many charts are told one by one; of more only how many they are."""
_DIFFERING: Final = 20


def answer_rows(made: Printed, options: ChartOptions) -> Iterator[list[Value]]:
    """A row a chart, in the order of the files and their pages."""
    for file in made.files:
        for one in file.charts:
            kept = one.print
            yield [
                kept.property_number,
                kept.site,
                kept.year,
                kept.number,
                kept.pages,
                kept.replaces or None,
                "; ".join(one.differs) or None,
                _path(file, options),
            ]


def _path(file: PrintedFile, options: ChartOptions) -> str:
    return str(options.folder / f"{file.name}.pdf")


def answer_table(made: Printed, options: ChartOptions) -> str:
    """How much was printed, what differs from the charts it replaces, and what to do with it."""
    charts = [one for file in made.files for one in file.charts]
    if not charts:
        return "No chart was printed."
    pages, years = sum(one.print.pages for one in charts), sorted({c.print.year for c in charts})
    files, folder = len(made.files), "this folder" if options.out is None else str(options.out)
    place = _path(made.files[0], options) if files == 1 else folder
    of = joined([str(year) for year in years])
    told = f"{counted(len(charts), 'chart')} of {of}, {counted(pages, 'page')}"
    many = f", in {counted(files, 'file')}, one a {_each(options, years)}" if files > 1 else ""
    parts: list[RenderableType] = [heading(f"{told}{many}:"), command(place, _INDENT)]
    if len(charts) <= _LISTED:
        parts += ["", grid([_line(one, years) for one in charts])]
    return printed(*parts, *_differing(charts), *_next(charts, options))


def _each(options: ChartOptions, years: Sequence[int]) -> str:
    """What a file is of, where there are several."""
    if not options.each_site:
        return "year"
    return "site and year" if len(years) > 1 else "site"


def _line(one: PrintedChart, years: Sequence[int]) -> list[str]:
    kept = one.print
    return [
        kept.property_number,
        kept.site,
        *([f"{kept.year}"] if len(years) > 1 else []),
        counted(kept.pages, "page"),
        f"print {kept.number}",
        f"in the place of {kept.replaces}" if kept.replaces else "",
    ]


def _differing(charts: list[PrintedChart]) -> Iterator[RenderableType]:
    """The charts that are not what those hanging say, each with what is different."""
    some = [one for one in charts if one.differs]
    if not some:
        return
    one_or_more = counted(len(some), "chart differs", "charts differ")
    yield ""
    yield heading(f"{one_or_more} from the one printed before")
    lines = [
        [one.print.property_number, one.print.site, "; ".join(one.differs)]
        for one in some[:_DIFFERING]
    ]
    yield grid(lines, widths=fitted(lines, folding=[2]))
    if len(some) > _DIFFERING:
        yield f"and {len(some) - _DIFFERING:,} more; --format csv names them all"


def _next(charts: list[PrintedChart], options: ChartOptions) -> Iterator[RenderableType]:
    yield ""
    if options.question.known_at:
        yield "Copies for the file, as the record was known then: hang none of them up."
        return
    if all(one.chart.on > dt.date(one.chart.year, 12, 31) for one in charts):
        yield "The year is over: print them for the file, and hang none of them up."
        return
    yield "Print at 100 %, landscape; hang each chart by its unit."
    if any(one.print.replaces for one in charts):
        yield "Where an old chart hangs, take it down and return it: what stands on it counts."
