"""Which single marks were struck, doubled or made on a closed day?

Each comes with the audit's word for the flaw it plants, or with '' where it only helps one.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace

from demo_data.scenario.charts import Chart
from demo_data.scenario.instruments import unit_of
from fleet.domain.records import Entry, Mark, Unit

__all__ = ["further_entries", "give_keys"]

_REPLACED = ("wayne", "microscope", dt.date(2026, 9, 22))
_STRUCK_ON_A_SUNDAY = ("burt", "microscope", dt.date(2026, 5, 3))
_DOUBLED = ("colfax", "microscope", dt.date(2026, 8, 19))
_ON_A_SUNDAY = ("antelope", "microscope", dt.date(2026, 10, 11))


def give_keys(unit: Unit, task: str, chart: Chart) -> None:
    """Make the mark that will be replaced a row of its own, with a key to name it by."""
    site, kind, on = _REPLACED
    if unit == unit_of(site, kind) and on in chart:
        chart[on] = replace(
            chart[on], mark=Mark.DONE, key=_key(unit, task, on, "first"), recorded_at=_at(on, 0)
        )


def further_entries(unit: Unit, task: str, chart: Chart) -> Iterator[tuple[Entry, str]]:
    """The further entries of a unit's daily chart, each with its flaw's word."""
    site, kind, on = _REPLACED
    if unit == unit_of(site, kind) and on in chart:
        said, key = chart[on], _key(unit, task, on, "replaced")
        new = _entry(unit, task, on, key, Mark.UNUSED, said.initials, recorded_at=_at(on, 2))
        yield replace(new, strikes=said.key, why="not in use that day"), "corrected"
    site, kind, on = _STRUCK_ON_A_SUNDAY
    if unit == unit_of(site, kind):
        hand, key = next(iter(chart.values())).initials, _key(unit, task, on, "sunday")
        yield _entry(unit, task, on, key, Mark.DONE, hand, recorded_at=_at(on, 1)), ""
        struck = _entry(unit, task, on, f"{key}-struck", None, hand, recorded_at=_at(on, 2))
        yield replace(struck, strikes=key, why="the wrong day"), "corrected"
    site, kind, on = _DOUBLED
    if unit == unit_of(site, kind) and on in chart:
        key, hand = _key(unit, task, on, "second"), chart[on].initials
        yield _entry(unit, task, on, key, Mark.UNUSED, hand, "not in use after all"), "conflict"
    site, kind, on = _ON_A_SUNDAY
    if unit == unit_of(site, kind):
        key, hand = _key(unit, task, on, "sunday"), next(iter(chart.values())).initials
        yield _entry(unit, task, on, key, Mark.DONE, hand, "in on a day off"), "conflict"


def _key(unit: Unit, task: str, on: dt.date, word: str) -> str:
    return f"{unit.property_number}/{task}/{on}/{word}"


def _at(on: dt.date, days_later: int) -> dt.datetime:
    """A quarter past eight in the evening, UTC, so many days later: afternoon in Nebraska."""
    moment = dt.datetime(on.year, on.month, on.day, 20, 15, tzinfo=dt.UTC)
    return moment + dt.timedelta(days=days_later)


def _entry(
    unit: Unit,
    task: str,
    on: dt.date,
    key: str,
    mark: Mark | None,
    initials: str,
    note: str = "",
    recorded_at: dt.datetime | None = None,
) -> Entry:
    return Entry(
        key=key,
        property_number=unit.property_number,
        task=task,
        on=on,
        mark=mark,
        initials=initials,
        note=note,
        recorded_at=recorded_at,
    )
