"""What goes wrong on the charts, on purpose? A table of flaws, and what each does to a chart.

The words are those of the record audit (design 4.7) where it has one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from dataclasses import dataclass, replace

from demo_data.scenario.charts import Chart, DayMark
from demo_data.scenario.opening import LAST_ON
from fleet.domain.records import Mark

__all__ = ["CHART_FLAWS", "NEVER_REPORTED", "ChartFlaw", "spoil"]


@dataclass(frozen=True, slots=True)
class ChartFlaw:
    """One flaw of one unit's daily chart (of every chart of the site, where `kind` is '*')."""

    site: str
    kind: str
    flaw: str
    from_on: dt.date
    to_on: dt.date
    note: str


NEVER_REPORTED = ("boyd", "microscope")
"""Site and kind of the unit that nobody reports on."""


def _marked(chart: Chart, flaw: ChartFlaw) -> list[dt.date]:
    return [day for day in sorted(chart) if flaw.from_on <= day <= flaw.to_on]


def _evening(on: dt.date, *, days_later: int = 0, seconds: int = 0) -> dt.datetime:
    """Half past nine in the evening, UTC, so many days later: afternoon in Nebraska."""
    moment = dt.datetime(on.year, on.month, on.day, 21, 30, tzinfo=dt.UTC)
    return moment + dt.timedelta(days=days_later, seconds=seconds)


def _leave_empty(chart: Chart, flaw: ChartFlaw) -> None:
    for day in _marked(chart, flaw):
        del chart[day]


def _fill_at_once(chart: Chart, flaw: ChartFlaw) -> None:
    for place, day in enumerate(_marked(chart, flaw)):
        moment = _evening(flaw.to_on, days_later=1, seconds=place * 2)
        chart[day] = replace(chart[day], recorded_at=moment)


def _fill_late(chart: Chart, flaw: ChartFlaw) -> None:
    for place, day in enumerate(_marked(chart, flaw)):
        moment = _evening(day, days_later=6, seconds=place * 300)
        chart[day] = replace(chart[day], recorded_at=moment)


def _explain(chart: Chart, flaw: ChartFlaw) -> None:
    for place, day in enumerate(_marked(chart, flaw)):
        moment = _evening(flaw.to_on, days_later=9, seconds=place * 300)
        initials = chart[day].initials
        chart[day] = DayMark(Mark.EXPLAINED, initials, flaw.note, recorded_at=moment)


def _forget_initials(chart: Chart, flaw: ChartFlaw) -> None:
    for day in _marked(chart, flaw):
        chart[day] = replace(chart[day], initials="", recorded_at=_evening(day))


def _record_too_soon(chart: Chart, flaw: ChartFlaw) -> None:
    for day in _marked(chart, flaw):
        chart[day] = replace(chart[day], recorded_at=_evening(day, days_later=-7))


def _scan(chart: Chart, flaw: ChartFlaw) -> None:
    for day in _marked(chart, flaw):
        chart[day] = DayMark(Mark.FILLED, "", "read from a scan")


def _misread(chart: Chart, flaw: ChartFlaw) -> None:
    for day in _marked(chart, flaw):
        if chart[day].reading:
            chart[day] = replace(chart[day], reading=flaw.note.split()[0], note="lead told")


_CHANGES: dict[str, Callable[[Chart, ChartFlaw], None]] = {
    "gap": _leave_empty,
    "batch": _fill_at_once,
    "late": _fill_late,
    "explained": _explain,
    "no initials": _forget_initials,
    "impossible": _record_too_soon,
    "filled": _scan,
    "out of range": _misread,
}


def spoil(chart: Chart, flaw: ChartFlaw) -> None:
    """Change the chart as the flaw says."""
    _CHANGES[flaw.flaw](chart, flaw)


def _flaw(where: str, flaw: str, first: str, last: str, note: str) -> ChartFlaw:
    """One row of the table; `where` is site and kind."""
    site, kind = where.split()
    days = dt.date.fromisoformat(first), dt.date.fromisoformat(last)
    return ChartFlaw(site, kind, flaw, *days, note)


_END = LAST_ON.isoformat()

# The note of a flaw of readings begins with the reading.
CHART_FLAWS = (
    _flaw("frontier microscope", "gap", "2026-03-02", _END, "abandoned chart"),
    _flaw("garden *", "gap", "2026-11-02", _END, "November's chart not returned"),
    _flaw("polk *", "gap", "2026-11-16", _END, "lead on leave, nobody stood in"),
    _flaw("rock microscope", "gap", "2026-07-06", "2026-07-10", "a week not marked"),
    _flaw("perkins microscope", "gap", "2025-09-08", "2025-09-08", "one day"),
    _flaw("holt microscope", "batch", "2026-09-01", "2026-09-30", "the month at once"),
    _flaw("york microscope", "batch", "2026-02-02", "2026-02-13", "two weeks at once"),
    _flaw("saline microscope", "late", "2026-08-10", "2026-08-14", "six days on"),
    _flaw("otoe microscope", "explained", "2026-06-01", "2026-06-03", "staff at training"),
    _flaw("dawes microscope", "no initials", "2026-10-06", "2026-10-07", "two days unsigned"),
    _flaw("nance microscope", "impossible", "2026-09-18", "2026-09-18", "recorded a week before"),
    _flaw("pierce microscope", "filled", "2026-04-01", "2026-04-30", "a scan shows ink"),
    _flaw("hall refrigerator", "out of range", "2026-10-20", "2026-10-21", "10.4 at the top"),
    _flaw("sarpy refrigerator", "out of range", "2026-11-10", "2026-11-10", "0.6 by the vent"),
    _flaw("cass freezer", "out of range", "2026-11-03", "2026-11-03", "-4.0 door left open"),
)
