"""Which files are charts printed as, and what are they called?"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final
from urllib.parse import quote

from fleet.charts.html import chart_html, index_html
from fleet.charts.layout import ChartLayout
from fleet.charts.pdf import chart_pdf
from fleet.cli.chart_options import ChartOptions
from fleet.cli.interrupts import uninterrupted
from fleet.cli.output import note
from fleet.cli.progress import rows_told
from fleet.domain.numbers import present_numbers
from fleet.errors import StoreError
from fleet.files.staging import NotPlaced, Staging, check_free, distinct_stems, safe, staged
from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.printing import (
    Means,
    ToPrint,
    keep_and_place,
    missing_prints,
    year_prints,
)
from fleet.services.charts.years import ChartQuestion
from fleet.services.disk import disk_told
from fleet.services.narrow import check_names

if TYPE_CHECKING:
    from fleet.domain.register import Register
    from fleet.services.ports import Record
    from fleet.wiring import Program

__all__ = ["Printed", "PrintedFile", "print_charts"]

_INDEX: Final = "index"
_MOST_NAMES: Final = 2
"""A file is called after so many things that were named, and after none of more."""


@dataclass(frozen=True, slots=True)
class PrintedFile:
    """One PDF, and the charts in it in the order of its pages."""

    name: str
    """Without its ending."""
    charts: Sequence[PrintedChart]


@dataclass(frozen=True, slots=True)
class Printed:
    """What was printed: files with at least one chart each."""

    files: Sequence[PrintedFile]
    failures: Sequence[str]


def print_charts(program: Program, options: ChartOptions) -> Printed:
    """Print the charts asked for and keep their prints; what was passed over is told on stderr.

    Raises BadInput where a file stands in the way, and as `year_prints` and `missing_prints`;
    StoreError where another printing came first, or the disk is full. Then nothing is kept and no
    file stays.
    """
    with program.store.begin() as record:
        found = _gathered(program, record, options)
        files = _files(found.printed, options, record.register(), f"{program.today()}")
    for sentence in found.passed_over:
        note(sentence)
    if files:
        names = [file.name for file in files]
        pdfs, folders = [f"{name}.pdf" for name in names], names if options.html else ()
        check_free(options.folder, pdfs, folders, replace=options.replace)
        _draw_and_keep(program, files, options)
    return Printed(files, found.failures)


def _gathered(program: Program, record: Record, options: ChartOptions) -> ToPrint:
    question, numbers = options.question, options.property_numbers
    with rows_told("charts looked up", program.stopwatch) as rows:
        means = Means(
            public_holidays=program.public_holidays,
            layout=ChartLayout(),
            number=program.draw_number,
            paper=options.size,
            step=rows.step,
        )
        if options.missing:
            return missing_prints(record, question, numbers, options.year, means)
        check_names(record, question.narrow)
        asked = ChartQuestion(
            year=options.year or program.today().year,
            now=question.now,
            known_at=question.known_at,
            numbers=numbers,
            narrow=question.narrow,
        )
        return year_prints(record, asked, means)


def _files(
    printed: Iterable[PrintedChart], options: ChartOptions, register: Register, today: str
) -> list[PrintedFile]:
    """A file a year, or a site and year."""
    whole = _stem(register, options)
    groups: dict[str, list[PrintedChart]] = {}
    for one in printed:
        stem = f"charts-{safe(one.print.site)}" if options.each_site else whole
        groups.setdefault(f"{stem}-{one.print.year}", []).append(one)
    last = f"-missing-{today}" if options.missing else ""
    stems = distinct_stems(f"{stem}{last}" for stem in groups)
    return [PrintedFile(stem, some) for stem, some in zip(stems, groups.values(), strict=True)]


def _stem(register: Register, options: ChartOptions) -> str:
    """What a file is called before its year; after what was named, where that is little."""
    numbers, names = options.property_numbers, options.names
    if not names or len(names) > _MOST_NAMES or len(numbers) > 1:
        return "charts"
    present = present_numbers(register.renumberings.values())
    known = [present.get(name, name) for name in numbers]
    known += [_as_known(register, name) for name in names[len(numbers) :]]
    return "-".join(["chart" if numbers else "charts", *map(safe, known)])


def _as_known(register: Register, name: str) -> str:
    """A name with the capitals that the record has it in."""
    known = [site.site for site in register.sites.values()]
    known += [site.county for site in register.sites.values()]
    known += [site.region for site in register.sites.values()]
    known += [unit.kind for unit in register.units.values()]
    found = {one.casefold(): one for one in reversed(known)}
    return found.get(name.casefold(), name)


def _draw_and_keep(program: Program, files: Sequence[PrintedFile], options: ChartOptions) -> None:
    with staged(options.folder, ".charts-") as staging:
        with disk_told(options.folder):
            _draw(program, staging, files, options)
        printed = [one for file in files for one in file.charts]
        with uninterrupted():
            stamp, waiting = program.stamp("command"), _Waiting(staging, replace=options.replace)
            keep_and_place(program.store, printed, stamp, waiting)


class _Waiting:
    """Implements `fleet.services.charts.printing.WaitingFiles`."""

    def __init__(self, staging: Staging, *, replace: bool) -> None:
        self._staging, self._replace = staging, replace

    def check(self) -> None:
        self._staging.check(replace=self._replace)

    def place(self) -> None:
        try:
            self._staging.place(replace=self._replace)
        except NotPlaced as refused:
            raise StoreError(
                f"{refused.target}: {refused.said}; the prints are kept, and their files wait in"
                f" {refused.waiting}; move them, or print again"
            ) from refused


def _draw(
    program: Program, staging: Staging, files: Sequence[PrintedFile], options: ChartOptions
) -> None:
    with rows_told("charts drawn", program.stopwatch) as rows:
        for file in files:
            pdf = chart_pdf(file.charts, options.size, options.question.now, rows.step)
            staging.put(f"{file.name}.pdf", pdf)
            if options.html:
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
