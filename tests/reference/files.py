"""How is a fleet of the reference written as the files of design section 7?"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterable, Mapping
from pathlib import Path

from tests.reference.records import HOLIDAY_YEARS, RefEntry, RefFleet, RefRule

__all__ = ["write_folder"]

DAY_NAMES = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")


def write_folder(fleet: RefFleet, folder: Path) -> None:
    """Write every file of the fleet, so that `dueward load FOLDER` reads it.

    ValueError for a site without a holiday of its own in one of `HOLIDAY_YEARS`: a library's
    holidays would come in for that year.
    """
    _refuse_missing_holidays(fleet)
    folder.mkdir(parents=True, exist_ok=True)
    tables = {
        "sites": _sites(fleet),
        "patterns": _patterns(fleet),
        "holidays": _holidays(fleet),
        "closures": _closures(fleet),
        "units": _units(fleet),
        "placements": _placements(fleet),
        "outages": _outages(fleet),
        "entries": [_entry(entry) for entry in fleet.entries],
    }
    for name, rows in tables.items():
        if rows:
            _write_table(folder / f"{name}.csv", rows)
    (folder / "rules.toml").write_text(rules_text(fleet.rules), encoding="utf-8")


def rules_text(rules: Iterable[RefRule]) -> str:
    """The rule book as TOML, kind by kind; only what differs from the defaults is written."""
    by_kind: dict[str, list[RefRule]] = {}
    for rule in rules:
        by_kind.setdefault(rule.kind, []).append(rule)
    lines = []
    for kind, versions in by_kind.items():
        lines += [f"[kind.{kind}]", f'name = "{kind.capitalize()}"', ""]
        for rule in versions:
            lines += [f"[[kind.{kind}.rule]]", *_rule_lines(rule), ""]
    return "\n".join(lines)


def _refuse_missing_holidays(fleet: RefFleet) -> None:
    stated = {(holiday.site, holiday.on.year) for holiday in fleet.holidays}
    for site in fleet.sites:
        for year in HOLIDAY_YEARS:
            if (site.site, year) not in stated:
                raise ValueError(f"site {site.site} states no holiday of its own in {year}")


def _write_table(path: Path, rows: list[dict[str, str]]) -> None:
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)


def _day(day: dt.date | None) -> str:
    return "" if day is None else day.isoformat()


def _week(open_days: tuple[int, ...]) -> str:
    return " ".join(DAY_NAMES[weekday] for weekday in open_days)


def _sites(fleet: RefFleet) -> list[dict[str, str]]:
    return [
        {
            "site": site.site,
            "name": f"{site.site} laboratory",
            "county": site.county,
            "region": site.region,
            "country": site.country,
            "subdivision": site.subdivision,
            "time_zone": site.time_zone,
            "open_days": _week(site.open_days),
            "latitude": "",
            "longitude": "",
            "postal_code": "",
            "lead_email": "",
        }
        for site in fleet.sites
    ]


def _patterns(fleet: RefFleet) -> list[dict[str, str]]:
    return [
        {"site": row.site, "from": _day(row.from_on), "open_days": _week(row.open_days)}
        for row in fleet.patterns
    ]


def _holidays(fleet: RefFleet) -> list[dict[str, str]]:
    places = {site.site: site for site in fleet.sites}
    return [
        {
            "site": row.site,
            "country": places[row.site].country,
            "subdivision": places[row.site].subdivision,
            "on": _day(row.on),
            "name": row.name,
        }
        for row in fleet.holidays
    ]


def _closures(fleet: RefFleet) -> list[dict[str, str]]:
    return [
        {
            "site": row.site,
            "from": _day(row.from_on),
            "to": "" if row.to_on == row.from_on else _day(row.to_on),
            "reason": row.reason,
            "open": "yes" if row.open else "",
        }
        for row in fleet.closures
    ]


def _units(fleet: RefFleet) -> list[dict[str, str]]:
    return [
        {
            "property_number": unit.property_number,
            "kind": unit.kind,
            "manufacturer": "Invented Works",
            "model": unit.model,
            "serial": f"S-{unit.property_number}",
            "site": unit.site,
            "in_service_on": _day(unit.in_service_on),
            "retired_on": _day(unit.retired_on),
            "record_from": _day(unit.record_from_on),
        }
        for unit in fleet.units
    ]


def _placements(fleet: RefFleet) -> list[dict[str, str]]:
    return [
        {"property_number": row.property_number, "site": row.site, "from": _day(row.from_on)}
        for row in fleet.placements
    ]


def _outages(fleet: RefFleet) -> list[dict[str, str]]:
    return [
        {
            "property_number": row.property_number,
            "from": _day(row.from_on),
            "to": _day(row.to_on),
            "reason": row.reason,
        }
        for row in fleet.outages
    ]


def _entry(entry: RefEntry) -> dict[str, str]:
    return {
        "property_number": entry.property_number,
        "task": entry.task,
        "on": _day(entry.on),
        "to": _day(entry.to_on),
        "mark": entry.mark or "",
        "initials": "QZ",
        "note": "",
        "reading": "",
        "recorded_at": entry.recorded_at.isoformat() if entry.recorded_at else "",
        "key": entry.key,
        "strikes": entry.strikes,
        "why": "entered on the wrong line" if entry.strikes else "",
    }


def _rule_lines(rule: RefRule) -> list[str]:
    fields: Mapping[str, object] = {
        "task": rule.task,
        "title": f"{rule.task} of the {rule.kind}",
        "source": "invented for the tests, no source",
        "each": rule.each,
        "every": str(rule.every) if rule.every else None,
        "anchor": rule.anchor_on,
        "early": rule.early or None,
        "grace": rule.grace or None,
        "roll": rule.roll if rule.roll != "following" else None,
        "keep_anchor": rule.keep_anchor or None,
        "due_after": sorted(rule.due_after) or None,
        "first": rule.first if rule.first != "after-interval" else None,
        "times": rule.times if rule.times != 1 else None,
        "from": rule.from_on,
        "until": rule.until_on,
        "models": list(rule.models) or None,
    }
    return [f"{name} = {_toml(value)}" for name, value in fields.items() if value is not None]


def _toml(value: object) -> str:
    if isinstance(value, dt.date | int):
        return str(value)
    if isinstance(value, list):
        return "[" + ", ".join(f'"{item}"' for item in value) + "]"
    return f'"{value}"'
