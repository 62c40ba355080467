"""Which charts are to be printed: a few units by name, many in a line with the command to copy?"""

from __future__ import annotations

import shlex
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace

from notifications.addresses import one_line
from notifications.digests.follow_up import place_words
from notifications.digests.items import print_item
from notifications.digests.sections import Line, Tone
from notifications.digests.words import counted, joined
from notifications.facts import ChartToPrint, WhyPrint
from notifications.languages import tr, trn

__all__ = ["missing_command", "print_command", "print_first", "print_lines"]

_NAMED_SINGLY = 3
"""So many units for one reason have a line each, and more of them share one; so many in all have a
command each, and more of them one together."""
_SITES_NAMED = 3
_ORDER = (
    WhyPrint.CHANGED_DAYS,
    WhyPrint.CHANGED_RULE,
    WhyPrint.MOVED,
    WhyPrint.NEW_UNIT,
    WhyPrint.NEW_YEAR,
)
"""The reasons, the most pressing first."""


def print_lines(charts: Sequence[ChartToPrint], regions: Sequence[str]) -> list[Line]:
    """Lines by year and reason, the most pressing first; what prints all of them before these.

    regions: those of the reader, for the command; none for all.
    """
    alike: dict[tuple[int, WhyPrint], list[ChartToPrint]] = defaultdict(list)
    for chart in charts:
        alike[chart.year, chart.why].append(chart)
    is_singly = len(charts) <= _NAMED_SINGLY
    lines: list[Line] = []
    for _, some in sorted(alike.items(), key=lambda item: (item[0][0], _ORDER.index(item[0][1]))):
        if len(some) > _NAMED_SINGLY:
            lines.append(_line_of_many(some))
        else:
            lines += (_line(one, names_command=is_singly) for one in sorted(some, key=_turn))
    if is_singly:
        return lines
    if len(lines) == 1:
        return [replace(lines[0], command=missing_command(regions))]
    return [_line_of_all(charts, regions), *lines]


def _why(chart: ChartToPrint) -> str:
    """The reason in words."""
    return {
        WhyPrint.CHANGED_DAYS: tr("a day ahead is crossed out and has to be marked now"),
        WhyPrint.CHANGED_RULE: tr("what is asked for has changed since it was printed"),
        WhyPrint.MOVED: tr("printed for another site only"),
        WhyPrint.NEW_UNIT: tr("no chart of it was ever printed"),
        WhyPrint.NEW_YEAR: tr("charts of other years only"),
    }[chart.why]


def _turn(chart: ChartToPrint) -> tuple[str, str]:
    return chart.property_number, chart.place.site


def _line(chart: ChartToPrint, *, names_command: bool) -> Line:
    return Line(
        head=chart.property_number,
        about=f"{chart.kind}: {place_words(chart.place)}",
        when=tr("Print its chart of {year}", year=chart.year),
        tone=Tone.SOON,
        beside=_why(chart),
        command=print_command(chart) if names_command else "",
        items=(print_item(chart),),
    )


def _line_of_many(charts: Sequence[ChartToPrint]) -> Line:
    numbers = {chart.property_number for chart in charts}
    return Line(
        head=counted(len(numbers), "unit"),
        about=tr("At {sites}", sites=_sites(charts)),
        when=tr("Print their charts of {year}", year=charts[0].year),
        tone=Tone.SOON,
        beside=_why(charts[0]),
        count=len(charts),
        items=tuple(map(print_item, charts)),
    )


def _line_of_all(charts: Sequence[ChartToPrint], regions: Sequence[str]) -> Line:
    return Line(
        head=trn("All {count} chart", "All {count} charts", len(charts)),
        about=tr("At {sites}", sites=_sites(charts)),
        when=tr("Print them with one command"),
        tone=Tone.SOON,
        count=0,
        command=missing_command(regions),
    )


def _sites(charts: Iterable[ChartToPrint]) -> str:
    sites = list(dict.fromkeys(chart.place.name for chart in charts))
    return joined(sites) if len(sites) <= _SITES_NAMED else counted(len(sites), "site")


def print_command(chart: ChartToPrint) -> str:
    """The command that prints a unit's chart at one site: at others it may hang as it should."""
    number, site = (
        shlex.quote(one_line(name)) for name in (chart.property_number, chart.place.site)
    )
    return f"dueward chart {number} --site {site} --year {chart.year}"


def missing_command(regions: Sequence[str]) -> str:
    """The command that prints the charts that are missing in some regions, and no others."""
    places = [f"--region {shlex.quote(one_line(region))}" for region in regions]
    return " ".join(["dueward chart --missing", *places, "--out charts"])


def print_first(charts: Sequence[ChartToPrint]) -> str:
    """One sentence for a digest that has nothing more pressing to say."""
    if len(charts) == 1:
        one = charts[0]
        return tr(
            "Print the chart of {year} of {number} ({kind}) for {place}.",
            year=one.year,
            number=one.property_number,
            kind=one.kind,
            place=place_words(one.place),
        )
    years = joined([str(year) for year in sorted({chart.year for chart in charts})])
    return tr(
        "Print {charts} of {years}, see below.",
        charts=counted(len(charts), "chart"),
        years=years,
    )
