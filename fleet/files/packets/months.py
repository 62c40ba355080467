"""What is on the chart of a month? For each unit its rows, and why days of it are pre-marked."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from fleet.domain.answers import StatusRow
from fleet.domain.records import StoredEntry
from fleet.services.charts.cells import Chart, ChartCell, UnitCharts
from fleet.services.charts.days import Cause, Reason
from fleet.services.months import first_day, last_day, months
from fleet.services.packet_facts import PacketFacts
from schedules.rules import Each

__all__ = ["LETTERS", "Block", "Line", "MonthCharts", "chart_months", "reading"]

LETTERS = {
    Cause.WEEKDAY: "W",
    Cause.HOLIDAY: "H",
    Cause.CLOSURE: "C",
    Cause.OUT: "O",
    Cause.NOT_YET: "N",
    Cause.RETIRED: "R",
    Cause.BEFORE: "B",
    Cause.ELSEWHERE: "E",
}
_WORDS = {
    Each.OPEN_DAY: "each open day",
    Each.WEEK: "each week",
    Each.MONTH: "each month",
    Each.QUARTER: "each quarter",
    Each.HALF_YEAR: "each half-year",
    Each.YEAR: "each year",
}
Days = tuple[dt.date, dt.date]


@dataclass(frozen=True, slots=True)
class Line:
    """One row of the grid: its label, and cells of days or boxes across several."""

    label: str
    cells: Sequence[ChartCell]
    text: str = ""
    """For a dated duty, what is told of it."""
    is_tall: bool = False
    """Its cells hold two lines: a reading, or how many marks there are of how many."""


@dataclass(frozen=True, slots=True)
class Block:
    """A unit's rows of one month."""

    title: str
    told: str
    """Why days of this unit alone are pre-marked."""
    lines: Sequence[Line]


@dataclass(frozen=True, slots=True)
class MonthCharts:
    """One month, ready to be drawn."""

    month: str
    blocks: Sequence[Block]
    closed: str
    """Which holidays and closures the site had."""


def chart_months(facts: PacketFacts) -> Iterator[MonthCharts]:
    """The months of a packet in which a unit was at the site; others have no chart."""
    by_month = [_by_month(unit.charts) for unit in facts.charts]
    dated = _dated(facts)
    for month in months(facts.from_on, min(facts.to_on, facts.on)):
        end_on = min(last_day(month), facts.to_on, facts.on)
        days = max(first_day(month), facts.from_on), end_on
        blocks, reasons = [], []
        for charts, own in zip(facts.charts, by_month, strict=True):
            low = (days[0] - facts.from_on).days
            some = charts.reasons[low : low + (days[1] - days[0]).days + 1]
            reasons.append(some)
            duties = [
                (row, dated.get((row.property_number, row.task), ()))
                for row in facts.duties.get(month, ())
                if row.property_number == charts.unit.property_number
            ]
            if _is_at_site(some):
                blocks.append(_block(charts, own[month], duties, some, days))
        if blocks:
            yield MonthCharts(month, blocks, _closed_words(reasons, days[0]))


def _is_at_site(reasons: Sequence[Reason | None]) -> bool:
    """Say whether a unit was in service at the site on any of some days."""
    away = (Cause.NOT_YET, Cause.RETIRED, Cause.ELSEWHERE)
    return any(reason is None or reason.cause not in away for reason in reasons)


def _by_month(charts: Sequence[Chart]) -> Mapping[str, Mapping[str, list[ChartCell]]]:
    """Month to task to the cells that share a day with it."""
    found: dict[str, dict[str, list[ChartCell]]] = defaultdict(lambda: defaultdict(list))
    names: dict[dt.date, str] = {}
    for chart in charts:
        for cell in chart.cells:
            if cell.from_on == cell.to_on:
                if cell.from_on not in names:
                    names[cell.from_on] = f"{cell.from_on:%Y-%m}"
                found[names[cell.from_on]][chart.task].append(cell)
            else:
                for month in months(cell.from_on, cell.to_on):
                    found[month][chart.task].append(cell)
    return found


def _dated(facts: PacketFacts) -> Mapping[tuple[str, str], list[StoredEntry]]:
    """The live entries of each unit and task."""
    struck = {line.entry.strikes for line in facts.entries if line.entry.strikes}
    found: dict[tuple[str, str], list[StoredEntry]] = defaultdict(list)
    for line in facts.entries:
        if line.entry.mark and line.entry.key not in struck:
            found[line.entry.property_number, line.entry.task].append(line)
    return found


def _block(
    charts: UnitCharts,
    cells: Mapping[str, list[ChartCell]],
    duties: Sequence[tuple[StatusRow, Sequence[StoredEntry]]],
    reasons: Sequence[Reason | None],
    days: Days,
) -> Block:
    unit = charts.unit
    lines = []
    for chart in charts.charts:
        for each in Each:
            own = [cell for cell in cells.get(chart.task, ()) if cell.rule.each is each]
            if own:
                is_tall = each is Each.OPEN_DAY and any(
                    reading(cell) or cell.rule.times > 1 for cell in own
                )
                label = f"{chart.task} ({_WORDS[each]})"
                lines.append(Line(label, own, is_tall=is_tall))
    for row, entries in duties:
        lines.append(Line(f"{row.task} ({row.basis})", (), _duty_words(row, entries, days)))
    title = " · ".join(
        filter(None, (unit.property_number, unit.kind, unit.manufacturer, unit.model))
    )
    return Block(title, _unit_words(reasons, days[0]), lines)


def _duty_words(row: StatusRow, entries: Sequence[StoredEntry], days: Days) -> str:
    told = [
        f"{line.entry.mark} {line.entry.on}{_by(line)}"
        for line in entries
        if days[0] <= line.entry.on <= days[1]
    ]
    now = f"on {days[1]}: {row.state}"
    if row.due:
        now += f", due {row.due}" + (f" (limit {row.limit})" if row.limit != row.due else "")
    if row.last_done:
        now += f", last done {row.last_done}"
    return "; ".join([*told, now])


def _by(line: StoredEntry) -> str:
    return f" ({line.entry.initials})" if line.entry.initials else ""


def reading(cell: ChartCell) -> str:
    """The first reading of a cell's marks, '' where none was read."""
    return next((line.entry.reading for line in cell.marks if line.entry.reading), "")


def _unit_words(reasons: Sequence[Reason | None], first_on: dt.date) -> str:
    """Why days are pre-marked for a unit alone, as '3-9 out of service: repair'."""
    alone = (Cause.OUT, Cause.ELSEWHERE, Cause.BEFORE, Cause.NOT_YET, Cause.RETIRED)
    told = []
    for reason, days in _runs(reasons, first_on):
        if reason.cause in alone:
            words = f": {reason.words}" if reason.words else ""
            told.append(f"{days} {reason.cause}{words}")
    return "; ".join(told)


def _closed_words(reasons: Sequence[Sequence[Reason | None]], first_on: dt.date) -> str:
    """The site's holidays and closures, as any of its units has them."""
    told: dict[str, None] = {}
    for some in reasons:
        for reason, days in _runs(some, first_on):
            if reason.cause in (Cause.HOLIDAY, Cause.CLOSURE):
                told[f"{days} {LETTERS[reason.cause]} {reason.words}"] = None
    return "; ".join(sorted(told, key=lambda words: int(words.split("-")[0].split(" ")[0])))


def _runs(reasons: Sequence[Reason | None], first_on: dt.date) -> Iterator[tuple[Reason, str]]:
    """Days in a row with one reason, as days of the month."""
    start = 0
    for turn in range(1, len(reasons) + 1):
        if turn == len(reasons) or reasons[turn] != reasons[start]:
            reason = reasons[start]
            if reason is not None:
                first, last = first_on.day + start, first_on.day + turn - 1
                yield reason, f"{first}" if first == last else f"{first}-{last}"
            start = turn
