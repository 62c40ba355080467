"""Which charts are to be printed: a few units by name, many in a line with the command to copy?"""

from __future__ import annotations

import shlex
from collections import defaultdict
from collections.abc import Iterable, Sequence

from notifications.addresses import one_line
from notifications.digests.follow_up import place_words
from notifications.digests.sections import Line, Tone
from notifications.digests.words import counted, joined
from notifications.facts import ChartToPrint, WhyPrint

__all__ = ["print_command", "print_first", "print_lines"]

_NAMED_SINGLY = 3
"""So many units for one reason have a line each; more of them share one."""
_NUMBERS_IN_COMMAND = 12
_SITES_NAMED = 3
_WHY = {
    WhyPrint.CHANGED_DAYS: "a day ahead is crossed out and has to be marked now",
    WhyPrint.CHANGED_RULE: "what is asked for has changed since it was printed",
    WhyPrint.MOVED: "printed for another site only",
    WhyPrint.NEW_UNIT: "no chart of it was ever printed",
    WhyPrint.NEW_YEAR: "charts of other years only",
}
"""The reasons in words, the most pressing first."""
_ORDER = tuple(_WHY)


def print_lines(charts: Iterable[ChartToPrint], regions: Sequence[str]) -> list[Line]:
    """Lines by year and reason, the most pressing first.

    regions: those of the reader, for the command; none for all.
    """
    alike: dict[tuple[int, WhyPrint], list[ChartToPrint]] = defaultdict(list)
    for chart in charts:
        alike[chart.year, chart.why].append(chart)
    lines: list[Line] = []
    for _, some in sorted(alike.items(), key=lambda item: (item[0][0], _ORDER.index(item[0][1]))):
        if len(some) > _NAMED_SINGLY:
            lines.append(_line_of_many(some, regions))
        else:
            lines += (_line(chart, regions) for chart in sorted(some, key=_turn))
    return lines


def _turn(chart: ChartToPrint) -> tuple[str, str]:
    return chart.property_number, chart.place.site


def _line(chart: ChartToPrint, regions: Sequence[str]) -> Line:
    return Line(
        head=chart.property_number,
        about=f"{chart.kind}: {place_words(chart.place)}",
        when=f"Print its chart of {chart.year}",
        tone=Tone.SOON,
        beside=_WHY[chart.why],
        command=print_command(chart.year, [chart.property_number], regions),
    )


def _line_of_many(charts: Sequence[ChartToPrint], regions: Sequence[str]) -> Line:
    numbers = sorted({chart.property_number for chart in charts})
    sites = list(dict.fromkeys(chart.place.name for chart in charts))
    at = joined(sites) if len(sites) <= _SITES_NAMED else counted(len(sites), "site")
    year = charts[0].year
    return Line(
        head=counted(len(numbers), "unit"),
        about=f"At {at}",
        when=f"Print their charts of {year}",
        tone=Tone.SOON,
        beside=_WHY[charts[0].why],
        count=len(charts),
        command=print_command(year, numbers, regions, charts[0].why.value),
    )


def print_command(year: int, numbers: Sequence[str], regions: Sequence[str], why: str = "") -> str:
    """The command that prints charts: of the units if they are few, else of all in the regions.

    why: names the folder of the charts of several units, so that each command has its own.
    """
    folder = f"charts-{year}"
    if len(numbers) > _NUMBERS_IN_COMMAND:
        chosen = [f"--region {shlex.quote(one_line(region))}" for region in regions] or ["--all"]
    else:
        chosen = [shlex.quote(one_line(number)) for number in numbers]
        folder = "-".join([folder, *why.split()])
    to_folder = [f"--out {folder}"] if len(numbers) > 1 else []
    return " ".join(["dueward chart", *chosen, f"--year {year}", *to_folder])


def print_first(charts: Sequence[ChartToPrint]) -> str:
    """One sentence for a digest that has nothing more pressing to say."""
    if len(charts) == 1:
        one = charts[0]
        return (
            f"Print the chart of {one.year} of {one.property_number} ({one.kind}) for"
            f" {place_words(one.place)}."
        )
    years = joined([str(year) for year in sorted({chart.year for chart in charts})])
    return f"Print {counted(len(charts), 'chart')} of {years}, see below."
