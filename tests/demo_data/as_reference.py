"""What is the demo to the literal engine? Its files as a fleet of `tests/reference`."""

from __future__ import annotations

import csv
import datetime as dt
from dataclasses import replace
from functools import cache

import demo_data
from demo_data.scenario.opening import public_holidays
from schedules.rulebook import shipped_book
from schedules.rules import Rule
from tests.reference.records import (
    RefClosure,
    RefEntry,
    RefEvery,
    RefFleet,
    RefHoliday,
    RefOutage,
    RefPattern,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
)

Row = dict[str, str]

_WEEKDAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_YEARS = range(2023, 2029)


@cache
def table(name: str) -> tuple[Row, ...]:
    """The rows of every file of this table, the parts of a split one in order."""
    parts = sorted(
        (part for part in demo_data.files().iterdir() if part.name.split(".")[0].startswith(name)),
        key=lambda part: part.name,
    )
    rows: list[Row] = []
    for part in parts:
        rows += csv.DictReader(part.read_text(encoding="utf-8").splitlines())
    return tuple(rows)


@cache
def planted() -> tuple[Row, ...]:
    """The rows of planted.csv."""
    return tuple(csv.DictReader(demo_data.planted().read_text(encoding="utf-8").splitlines()))


def day(text: str) -> dt.date:
    """A date as the files write it."""
    return dt.date.fromisoformat(text)


def day_or_none(text: str) -> dt.date | None:
    """A date as the files write it, None where the cell is empty."""
    return day(text) if text else None


def instant(text: str) -> dt.datetime | None:
    """An instant as the files write it, None where the cell is empty."""
    return dt.datetime.fromisoformat(text) if text else None


def keys() -> list[str]:
    """The key of every entry, as `load` would give it where the file gives none (design 7)."""
    found: list[str] = []
    counts: dict[tuple[str, str, str], int] = {}
    for row in table("entries"):
        triple = row["property_number"], row["task"], row["on"]
        counts[triple] = counts.get(triple, 0) + 1
        found.append(row.get("key") or "/".join((*triple, str(counts[triple]))))
    return found


@cache
def demo_fleet() -> RefFleet:
    """The demo under the shipped rule book, for questions about the years 2024 to 2027."""
    return RefFleet(
        sites=[_site(row) for row in table("sites")],
        units=[_unit(row) for row in table("units")],
        rules=[_rule(rule) for kind in shipped_book().kinds.values() for rule in kind.rules],
        patterns=[
            RefPattern(site=r["site"], from_on=day(r["from"]), open_days=_week(r["open_days"]))
            for r in table("patterns")
        ],
        holidays=[h for row in table("sites") for h in _holidays(row["site"])],
        closures=[_closure(row) for row in table("closures")],
        placements=[
            RefPlacement(
                property_number=r["property_number"], site=r["site"], from_on=day(r["from"])
            )
            for r in table("placements")
        ],
        outages=[
            RefOutage(
                property_number=r["property_number"],
                from_on=day(r["from"]),
                to_on=day_or_none(r["to"]),
                reason=r["reason"],
            )
            for r in table("outages")
        ],
        entries=[_entry(row, key) for row, key in zip(table("entries"), keys(), strict=True)],
    )


@cache
def fleet_of(property_number: str) -> RefFleet:
    """The demo cut down to one unit and the sites it has stood at: the same answers, sooner."""
    whole = demo_fleet()
    (unit,) = [u for u in whole.units if u.property_number == property_number]
    moves = [p for p in whole.placements if p.property_number == property_number]
    sites = {unit.site, *(move.site for move in moves)}
    return replace(
        whole,
        units=[unit],
        sites=[site for site in whole.sites if site.site in sites],
        holidays=[h for site in sorted(sites) for h in _holidays(site)],
        placements=moves,
        entries=_entries_by_unit().get(property_number, []),
    )


@cache
def _entries_by_unit() -> dict[str, list[RefEntry]]:
    found: dict[str, list[RefEntry]] = {}
    for entry in demo_fleet().entries:
        found.setdefault(entry.property_number, []).append(entry)
    return found


def _week(open_days: str) -> tuple[int, ...]:
    return tuple(_WEEKDAYS.index(name) for name in open_days.split())


def _site(row: Row) -> RefSite:
    return RefSite(
        site=row["site"],
        county=row["county"],
        region=row["region"],
        open_days=_week(row["open_days"]),
        time_zone=row["time_zone"],
    )


def _unit(row: Row) -> RefUnit:
    return RefUnit(
        property_number=row["property_number"],
        kind=row["kind"],
        model=row["model"],
        site=row["site"],
        in_service_on=day(row["in_service_on"]),
        retired_on=day_or_none(row["retired_on"]),
        record_from_on=day_or_none(row["record_from"]),
    )


def _rule(rule: Rule) -> RefRule:
    text = rule.every.text if rule.every else ""
    return RefRule(
        kind=rule.kind,
        task=rule.task,
        each=rule.each and rule.each.value,
        every=RefEvery(int(text[1:-1]), text[-1]) if text else None,
        anchor_on=rule.anchor_on,
        early=rule.early,
        grace=rule.grace,
        roll=rule.roll.value,
        keep_anchor=rule.keep_anchor,
        due_after=frozenset(event.value for event in rule.due_after),
        first=rule.first.value,
        times=rule.times,
        from_on=rule.from_on,
        until_on=rule.until_on,
        models=rule.models,
    )


def _holidays(site: str) -> list[RefHoliday]:
    own = [row for row in table("holidays") if row["site"] == site]
    own_years = {day(row["on"]).year for row in own}
    found = [RefHoliday(site=site, on=day(row["on"]), name=row["name"]) for row in own]
    for year in _YEARS:
        if year not in own_years:
            for on, name in public_holidays(year).items():
                found.append(RefHoliday(site=site, on=on, name=name))
    return found


def _closure(row: Row) -> RefClosure:
    return RefClosure(
        site=row["site"],
        from_on=day(row["from"]),
        to_on=day(row["to"]),
        reason=row["reason"],
        open=row["open"] == "yes",
    )


def _entry(row: Row, key: str) -> RefEntry:
    return RefEntry(
        key=key,
        property_number=row["property_number"],
        task=row["task"],
        on=day(row["on"]),
        to_on=day_or_none(row.get("to", "")),
        mark=row["mark"] or None,
        recorded_at=instant(row.get("recorded_at", "")),
        strikes=row.get("strikes", ""),
    )
