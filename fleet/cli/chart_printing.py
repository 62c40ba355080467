"""How is a year printed? Facts, prints, files that wait; then the record, then their names.

The record is read in one unit of work and the prints are kept in another, which begins when every
file is written: nobody who marks waits for a drawing. Whoever printed the same charts in between
wins, and nothing of this printing is kept.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from fleet.charts.html import chart_html, index_html
from fleet.charts.layout import ChartLayout
from fleet.charts.pdf import chart_pdf
from fleet.cli.chart_files import (
    Staging,
    check_free,
    distinct_stems,
    safe,
    staged,
    uninterrupted,
)
from fleet.cli.chart_wanted import Wanted
from fleet.cli.output import note
from fleet.cli.progress import rows_told
from fleet.domain.numbers import present_numbers
from fleet.domain.prints import Print
from fleet.errors import StoreError
from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.prints import current_prints, keep_prints, prints_of
from fleet.services.charts.years import ChartQuestion, ChartsAnswer, year_charts
from fleet.services.narrow import check_names

if TYPE_CHECKING:
    from fleet.domain.register import Register
    from fleet.services.ports import Record
    from fleet.wiring import Program

__all__ = ["Printed", "PrintedFile", "print_year"]

_INDEX: Final = "index"


@dataclass(frozen=True, slots=True)
class PrintedFile:
    """One PDF, and the charts in it in the order of its pages."""

    name: str
    """Without its ending."""
    charts: Sequence[PrintedChart]


@dataclass(frozen=True, slots=True)
class Printed:
    """What was printed: at least one file with at least one chart."""

    year: int
    files: Sequence[PrintedFile]
    failures: Sequence[str]


def print_year(program: Program, wanted: Wanted) -> Printed:
    """Print the charts asked for and keep their prints; what was left out is told on stderr.

    Raises BadInput where a file stands in the way, and as `year_charts`; StoreError where another
    printing came first. Then nothing is kept and no file stays.
    """
    now = wanted.question.now
    year = wanted.year or (wanted.question.on or program.today()).year
    with program.store.begin() as record:
        stem = _stem(record.register(), wanted, year)
        if not wanted.each_site:
            _check(wanted, [stem])
        answer = _facts(program, record, wanted, year)
        earlier = list(record.register().prints.values())
    for sentence in answer.passed_over:
        note(sentence)
    printed = prints_of(
        answer.charts,
        earlier,
        ChartLayout(),
        program.draw_number,
        wanted.size,
        wanted.question.known_at,
        now,
    )
    files = _by_site(printed, year) if wanted.each_site else [PrintedFile(stem, printed)]
    if wanted.each_site:
        _check(wanted, [file.name for file in files])
    with staged(wanted.folder) as staging:
        _draw(program, staging, files, wanted)
        with uninterrupted(), program.store.begin(write=True) as record:
            _check_first(record.register().prints.values(), printed)
            keep_prints(record, printed, program.stamp("command"))
            record.commit()
            staging.place()
    return Printed(year, files, answer.failures)


def _facts(program: Program, record: Record, wanted: Wanted, year: int) -> ChartsAnswer:
    question = wanted.question
    check_names(record, question.narrow)
    asked = ChartQuestion(
        year=year,
        now=question.now,
        on=question.on,
        known_at=question.known_at,
        numbers=wanted.property_numbers,
        narrow=question.narrow,
    )
    with rows_told("charts looked up", program.stopwatch) as rows:
        return year_charts(record, program.public_holidays, asked, rows.step)


def _stem(register: Register, wanted: Wanted, year: int) -> str:
    """What the one file is called; after what was named, where that is one thing."""
    if len(wanted.names) != 1:
        return f"charts-{year}"
    (name,) = wanted.names
    if wanted.property_numbers:
        present = present_numbers(register.renumberings.values())
        return f"chart-{safe(present.get(name, name))}-{year}"
    return f"charts-{safe(_as_known(register, name))}-{year}"


def _as_known(register: Register, name: str) -> str:
    """A name with the capitals that the record has it in."""
    known = [site.site for site in register.sites.values()]
    known += [site.county for site in register.sites.values()]
    known += [site.region for site in register.sites.values()]
    known += [unit.kind for unit in register.units.values()]
    found = {one.casefold(): one for one in reversed(known)}
    return found.get(name.casefold(), name)


def _by_site(printed: Sequence[PrintedChart], year: int) -> list[PrintedFile]:
    by_site: dict[str, list[PrintedChart]] = {}
    for one in printed:
        by_site.setdefault(one.print.site, []).append(one)
    stems = distinct_stems(f"charts-{safe(site)}-{year}" for site in by_site)
    return [PrintedFile(stem, by_site[site]) for stem, site in zip(stems, by_site, strict=True)]


def _check(wanted: Wanted, stems: Sequence[str]) -> None:
    names, folders = [f"{stem}.pdf" for stem in stems], stems if wanted.html else ()
    check_free(wanted.folder, names, folders, replace=wanted.replace)


def _draw(program: Program, staging: Staging, files: Sequence[PrintedFile], wanted: Wanted) -> None:
    with rows_told("charts drawn", program.stopwatch) as rows:
        for file in files:
            pdf = chart_pdf(file.charts, wanted.size, wanted.question.now, rows.step)
            staging.put(f"{file.name}.pdf", pdf)
            if wanted.html:
                staging.put_folder(file.name, _pages(file))


def _pages(file: PrintedFile) -> Mapping[str, str]:
    """The HTML twins of a file's charts and the page that leads to them, by name."""
    of = [one.print for one in file.charts]
    stems = distinct_stems(
        [_INDEX, *(f"{safe(one.property_number)}-{safe(one.site)}" for one in of)]
    )
    names = [f"{stem}.html" for stem in stems]
    told = [f"{one.property_number} at {one.site}, {one.year}" for one in of]
    pages = dict(zip(names[1:], map(chart_html, file.charts), strict=True))
    return {names[0]: index_html(zip(told, map(quote, names[1:]), strict=True)), **pages}


def _check_first(standing: Collection[Print], printed: Sequence[PrintedChart]) -> None:
    """Refuse where another printing of the same charts was kept since they were read."""
    known = {one.number for one in standing}
    current = current_prints(standing)
    for one in (chart.print for chart in printed):
        now = current.get((one.property_number, one.site, one.year))
        is_behind = not one.known_at and (now.number if now else "") != one.replaces
        if one.number in known or is_behind:
            raise StoreError(
                f"chart of {one.property_number} at {one.site}: another was printed meanwhile, and"
                " nothing of this printing was kept; print again if it is still needed"
            )
