"""The smallest fleets a hand-worked example needs: one site open Monday to Friday, one unit."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from itertools import count

from tests.reference.answers import RefRow, status
from tests.reference.records import (
    RefEntry,
    RefFleet,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
    new_years_days,
)

__all__ = ["AT", "a_move", "an_entry", "day", "instant", "one_unit", "row"]

AT = RefSite(site="Alder", county="Cherry", region="West")
OTHER = RefSite(site="Birch", county="Grant", region="East", open_days=(2,))
_keys = count(1)


def day(text: str) -> dt.date:
    """The civil date written YYYY-MM-DD."""
    return dt.date.fromisoformat(text)


def instant(text: str) -> dt.datetime:
    """Noon UTC of the date written YYYY-MM-DD."""
    return dt.datetime.fromisoformat(f"{text}T12:00:00+00:00")


def one_unit(*rules: RefRule, start: str = "2025-03-17", **unit_fields: object) -> RefFleet:
    """Unit U-1 at Alder, in service from `start`; Birch (open on Wednesdays) is another site."""
    unit = RefUnit(property_number="U-1", kind="microscope", site="Alder", in_service_on=day(start))
    return RefFleet(
        sites=(AT, OTHER),
        units=(replace(unit, **unit_fields),),  # type: ignore[arg-type]
        rules=rules,
        holidays=new_years_days("Alder") + new_years_days("Birch"),
    )


def an_entry(
    on: str, mark: str | None = "done", task: str = "service", **fields: object
) -> RefEntry:
    """An entry of U-1 with a key of its own."""
    entry = RefEntry(
        key=f"k-{next(_keys)}", property_number="U-1", task=task, on=day(on), mark=mark
    )
    return replace(entry, **fields)  # type: ignore[arg-type]


def a_move(on: str, site: str = "Birch") -> RefPlacement:
    """U-1 moves to a site."""
    return RefPlacement(property_number="U-1", site=site, from_on=day(on))


def row(fleet: RefFleet, on: str, known_at: str | None = None) -> RefRow:
    """The only row of the fleet."""
    answer = status(fleet, day(on), instant(known_at) if known_at else None)
    assert answer.errors == []
    (only,) = answer.rows
    return only
