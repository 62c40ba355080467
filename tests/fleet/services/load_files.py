"""A small invented fleet as files, and the loading of it into a store."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from pathlib import Path

from fleet.errors import BadInput
from fleet.files.public_holidays import PublicHolidayCalendar
from fleet.files.reader import read_tables
from fleet.services.load import load
from fleet.services.load_ports import LoadReport, TableCount
from fleet.services.ports import Record, Stamp, Store
from tests.fakes import NoProgress

__all__ = ["BOOK", "FLEET", "NEW", "SAME", "STAMP", "loaded", "refusal", "write_fleet"]

STAMP = Stamp(at=dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC), by="r.alder", source="file")
NEW, SAME = TableCount(new=1), TableCount(unchanged=1)

BOOK = """
[kind.microscope]
name = "Bench microscope"
[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces, top down"
each = "open-day"
source = "common practice, no source"
cautions = ["Unplug before any liquid comes near."]
[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
source = "common practice, no source"
"""

FLEET = {
    "rules.toml": BOOK,
    "sites.csv": "site,name,county,region,country,subdivision,time_zone,open_days,lead_email\n"
    "alder,Alder Creek,Cass,East,US,NE,America/Chicago,Tue Thu,lead@alder.example\n",
    "patterns.csv": "site,from,open_days\nalder,2026-01-01,Mon Tue Thu\n",
    "holidays.csv": "site,country,subdivision,on,name\nalder,,,2026-05-15,Fair day\n",
    "closures.csv": "site,from,to,reason,open\n,2026-01-20,,snow,\n",
    "units.csv": "property_number,kind,model,site,in_service_on,retired_on\n"
    "M-001,microscope,Hillside,alder,2024-01-02,\n",
    "placements.csv": "property_number,site,from\nM-001,alder,2025-01-02\n",
    "outages.csv": "property_number,from,to,reason\nM-001,2025-02-03,2025-02-10,lamp\n",
    "people.csv": "email,name,role,site,region,deputy\n"
    "east@agency.example,Robin Moss,consultant,,East,\n",
    "absences.csv": "email,from,to,deputy\n"
    "east@agency.example,2026-03-02,2026-03-06,lead@alder.example\n",
    "quiet_periods.csv": "site,from,to,reason\nalder,2026-12-24,2026-12-31,Year's end\n",
    "mail_settings.csv": "name,value\nsend_at,06:30\n",
    "entries.csv": "property_number,task,on,to,mark,key,strikes,why\n"
    "M-001,optics,2026-01-13,,done,,,\n",
}
"""One row of each table."""


def write_fleet(folder: Path, **changed: str) -> Path:
    """Write the fleet; `changed` replaces a table's file ('' leaves it out)."""
    files = {**FLEET, **{f"{name}.csv": text for name, text in changed.items()}}
    for name, text in files.items():
        if text:
            (folder / name).write_text(text, encoding="utf-8")
        else:
            (folder / name).unlink(missing_ok=True)
    return folder


def _leave(record: Record, unit_ids: Sequence[int]) -> None:
    """Rebuild nothing."""


def loaded(
    store: Store, *paths: Path, dry_run: bool = False, stamp: Stamp = STAMP, chunk_rows: int = 100
) -> LoadReport:
    """Load files with the shipped holidays and no rebuilding."""
    return load(
        store,
        read_tables(paths, chunk_rows=chunk_rows),
        PublicHolidayCalendar(),
        _leave,
        stamp=stamp,
        progress=NoProgress(),
        dry_run=dry_run,
    )


def refusal(store: Store, *paths: Path, chunk_rows: int = 100) -> list[str]:
    """The lines of the BadInput that a load ends with; [] where it ends well."""
    try:
        loaded(store, *paths, chunk_rows=chunk_rows)
    except BadInput as refused:
        return [str(fault) for fault in refused.faults]
    return []
