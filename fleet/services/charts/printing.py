"""How are charts printed? Facts, prints, files that wait; then the record, then their names.

The record is read in one unit of work and the prints are kept in another, which begins when all is
drawn: nobody who marks waits for a drawing. Whoever printed the same charts in between wins, and
nothing of this printing is kept.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass
from typing import Protocol

from fleet.domain.prints import Print
from fleet.errors import BadInput, ChartTooLong, Fault, StoreError
from fleet.services.charts.facts import PrintedChart, YearChart
from fleet.services.charts.prints import Layout, current_prints, keep_prints, prints_of
from fleet.services.charts.status import MissingChart, missing_charts
from fleet.services.charts.years import ChartQuestion, year_charts
from fleet.services.narrow import check_names, numbers_now
from fleet.services.ports import PublicHolidays, Record, Stamp, Store
from fleet.services.questions import Question

__all__ = [
    "Means",
    "ToPrint",
    "WaitingFiles",
    "keep_and_place",
    "missing_of",
    "missing_prints",
    "year_prints",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Means:
    """With what charts are printed."""

    public_holidays: PublicHolidays
    layout: Layout
    number: Callable[[], str]
    """Draws the number of a print."""
    paper: str
    step: Callable[[int], None]
    """Is told of each chart that was looked up."""


@dataclass(frozen=True, slots=True)
class ToPrint:
    """Prints that are not kept yet, in the order of year, county, site and unit."""

    printed: Sequence[PrintedChart]
    passed_over: Sequence[str]
    """Why units have no chart, in sentences."""
    failures: Sequence[str]
    """What should have a chart and was left out, in sentences."""


class WaitingFiles(Protocol):
    """The files of a printing, drawn and whole, before they have their names."""

    def check(self) -> None:
        """Refuse where a name was taken meanwhile (BadInput)."""
        ...

    def place(self) -> None:
        """Give the files their names: the prints are kept. What cannot be named is not lost."""
        ...


def year_prints(record: Record, asked: ChartQuestion, means: Means) -> ToPrint:
    """Make the charts of a year prints.

    Raises BadInput as `year_charts`, and where no chart that was asked for fits on paper.
    """
    answer = year_charts(record, means.public_holidays, asked, means.step)
    charts, failures = _fitting(answer.charts, means.layout)
    printed = prints_of(
        charts,
        record.register().prints.values(),
        means.layout,
        means.number,
        means.paper,
        asked.known_at,
        asked.now,
    )
    return ToPrint(printed, answer.passed_over, [*answer.failures, *failures])


def missing_of(
    record: Record,
    public_holidays: PublicHolidays,
    question: Question,
    numbers: Sequence[str],
    year: int | None,
) -> list[MissingChart]:
    """As `missing_charts`, of some units alone; no number: of all.

    Raises BadInput for names and numbers that are not known.
    """
    check_names(record, question.narrow)
    wanted = set(numbers_now(record.register(), numbers))
    rows = missing_charts(record, public_holidays, question, year)
    return [row for row in rows if not wanted or row.property_number in wanted]


def missing_prints(
    record: Record, question: Question, numbers: Sequence[str], year: int | None, means: Means
) -> ToPrint:
    """Make prints of exactly the charts that `missing_of` names; of none where all are in hand.

    Raises BadInput as that, and where none of them fits on paper.
    """
    wanted: dict[int, set[tuple[str, str]]] = defaultdict(set)
    for row in missing_of(record, means.public_holidays, question, numbers, year):
        wanted[row.year].add((row.property_number, row.site))
    charts: list[YearChart] = []
    failures: list[str] = []
    for one, pairs in sorted(wanted.items()):
        asked = ChartQuestion(
            year=one,
            now=question.now,
            numbers=tuple(sorted({number for number, _ in pairs})),
        )
        answer = year_charts(record, means.public_holidays, asked, means.step)
        charts += (
            chart
            for chart in answer.charts
            if (chart.unit.property_number, chart.site.site) in pairs
        )
        failures += answer.failures
    fitting, too_long = _fitting(charts, means.layout)
    earlier = record.register().prints.values()
    printed = prints_of(
        fitting, earlier, means.layout, means.number, means.paper, None, question.now
    )
    return ToPrint(printed, (), [*dict.fromkeys(failures), *too_long])


def _fitting(charts: Iterable[YearChart], layout: Layout) -> tuple[list[YearChart], list[str]]:
    """The charts that paper holds, and a sentence for each sort that it does not."""
    fitting: list[YearChart] = []
    too_long: dict[str, list[ChartTooLong]] = defaultdict(list)
    for chart in charts:
        try:
            layout.laid(chart)
        except ChartTooLong as refused:
            too_long[str(refused)].append(refused)
        else:
            fitting.append(chart)
    firsts = [some[0] for some in too_long.values()]
    if firsts and not fitting:
        raise BadInput(
            [Fault(f"kind {one.kind}", None, None, one.problem, one.mend) for one in firsts]
        )
    return fitting, [
        f"{len(some)} chart{'' if len(some) == 1 else 's'} left out, {sentence}"
        for sentence, some in too_long.items()
    ]


def keep_and_place(
    store: Store, printed: Sequence[PrintedChart], stamp: Stamp, files: WaitingFiles
) -> None:
    """Keep the prints, and then give their files their names.

    Raises StoreError where another printing came first, and BadInput where a file's name was taken
    meanwhile: then nothing is kept, and no file has its name.
    """
    with store.begin(write=True) as record:
        _check_first(record.register().prints.values(), printed)
        files.check()
        keep_prints(record, printed, stamp)
        record.commit()
        files.place()


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
