"""Which columns has each table of design 7, how is each read, and what must one row make sense of?

`read` turns a cell's text into a value; an empty cell, and a column left out, give `empty`. A
required column must be there and no cell of it empty. `checks` look at one record by itself; what
takes more than its own row to know is checked by `fleet.services.load`. A row with `withdrawn`
takes back the record of its key, and needs no other cell.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from fleet.domain import texts
from fleet.domain.records import (
    Closure,
    Holiday,
    Mark,
    Outage,
    Pattern,
    Person,
    Placement,
    Role,
    Site,
    Unit,
)
from fleet.files import cells
from fleet.files.evidence_tables import EVIDENCE_TABLES
from fleet.files.mail_tables import MAIL_TABLES
from fleet.files.places import country_code, subdivision_code
from fleet.files.prints_table import PRINTS
from fleet.files.table_shapes import (
    FROM,
    NUMBER,
    TASK,
    WITHDRAWN_COLUMN,
    Column,
    RowFault,
    Table,
    entry_key,
    name,
    notes,
    short,
)
from fleet.files.visit_tables import VISIT_TABLES

__all__ = ["ENTRIES", "TABLES"]


_initials = cells.text(texts.INITIALS_LENGTH)
_closed = "closed"


def _settle_place(values: dict[str, Any]) -> None:
    """Check the subdivision against its country, which the cell alone could not."""
    if values["country"] and values["subdivision"]:
        values["subdivision"] = subdivision_code(values["country"], values["subdivision"])


def _name_closure(values: dict[str, Any]) -> None:
    """An empty `to` means the day of `from`; a closure without a reason is called closed."""
    values["to_on"] = values["to_on"] or values["from_on"]
    if not values["reason"] and not values["open"]:
        values["reason"] = _closed


def _unit_faults(unit: Unit) -> Iterator[RowFault]:
    start = unit.in_service_on
    if unit.retired_on is not None and unit.retired_on <= start:
        yield RowFault(
            "retired_on",
            f"{unit.retired_on} is not after in_service_on {start}",
            "a unit is in service for a day at least: check both dates",
        )
    if unit.record_from_on is not None and unit.record_from_on < start:
        yield RowFault(
            "record_from",
            f"{unit.record_from_on} is before in_service_on {start}",
            "leave it empty if the record begins when the unit enters service",
        )


def _closure_faults(closure: Closure) -> Iterator[RowFault]:
    if closure.to_on < closure.from_on:
        problem = f"{closure.to_on} is before from {closure.from_on}"
        yield RowFault("to", problem, "check both dates; both are included")


def _outage_faults(outage: Outage) -> Iterator[RowFault]:
    if outage.to_on is not None and outage.to_on <= outage.from_on:
        yield RowFault(
            "to",
            f"{outage.to_on} is not after from {outage.from_on}",
            "'to' is the day of return, the first day back in service",
        )


def _holiday_faults(holiday: Holiday) -> Iterator[RowFault]:
    if not holiday.site and not holiday.country:
        yield RowFault(
            "country",
            "the row names neither a site nor a country",
            "name the site, or the country and subdivision whose sites all keep the day",
        )


def _person_faults(person: Person) -> Iterator[RowFault]:
    if person.role is Role.SITE_LEAD and not person.site:
        yield RowFault("site", "a site lead has no site", "name the site that is led")


_country = Column("country", country_code)
_subdivision = Column("subdivision", name)

TABLES: Mapping[str, Table] = {
    table.name: table
    for table in (
        Table(
            "sites",
            (
                Column("site", short, required=True),
                Column("name", name, required=True),
                Column("county", name, required=True),
                Column("region", name),
                Column("country", country_code, required=True),
                _subdivision,
                Column("time_zone", cells.time_zone, required=True),
                Column("open_days", cells.open_days, required=True),
                Column("latitude", cells.coordinate(90), empty=None),
                Column("longitude", cells.coordinate(180), empty=None),
                Column("postal_code", short),
                Column("lead_email", cells.email),
            ),
            Site,
            complete=_settle_place,
        ),
        Table(
            "patterns",
            (
                Column("site", short, required=True),
                FROM,
                Column("open_days", cells.open_days, required=True, is_key=False),
                WITHDRAWN_COLUMN,
            ),
            Pattern,
        ),
        Table(
            "holidays",
            (
                Column("site", short),
                _country,
                _subdivision,
                Column("on", cells.civil_date, required=True),
                Column("name", name, required=True, is_key=False),
                WITHDRAWN_COLUMN,
            ),
            Holiday,
            _holiday_faults,
            _settle_place,
        ),
        Table(
            "closures",
            (
                Column("site", short),
                FROM,
                Column("to", cells.civil_date, empty=None, field="to_on"),
                Column("reason", name),
                Column("open", cells.yes_or_no, empty=False),
                WITHDRAWN_COLUMN,
            ),
            Closure,
            _closure_faults,
            _name_closure,
        ),
        Table(
            "units",
            (
                NUMBER,
                Column("kind", short, required=True),
                Column("manufacturer", name),
                Column("model", name),
                Column("serial", name),
                Column("site", short, required=True),
                Column("in_service_on", cells.civil_date, required=True),
                Column("retired_on", cells.civil_date, empty=None),
                Column("record_from", cells.civil_date, empty=None, field="record_from_on"),
            ),
            Unit,
            _unit_faults,
        ),
        Table(
            "placements",
            (NUMBER, Column("site", short, required=True, is_key=False), FROM, WITHDRAWN_COLUMN),
            Placement,
        ),
        Table(
            "outages",
            (
                NUMBER,
                FROM,
                Column("to", cells.civil_date, empty=None, field="to_on"),
                Column("reason", name),
                WITHDRAWN_COLUMN,
            ),
            Outage,
            _outage_faults,
        ),
        Table(
            "people",
            (
                Column("email", cells.email, required=True),
                Column("name", name, required=True, is_key=False),
                Column("role", cells.choice(Role, "role"), required=True),
                Column("site", short),
                Column("region", name),
                Column("language", cells.language, empty="en"),
                Column("time_zone", cells.time_zone),
                Column("deputy", cells.email),
                WITHDRAWN_COLUMN,
            ),
            Person,
            _person_faults,
        ),
        *EVIDENCE_TABLES,
        PRINTS,
        *MAIL_TABLES,
        *VISIT_TABLES,
    )
}

ENTRIES = Table(
    "entries",
    (
        NUMBER,
        TASK,
        Column("on", cells.civil_date, required=True),
        Column("to", cells.civil_date, empty=None, field="to_on"),
        Column("mark", cells.choice(Mark, "mark"), empty=None),
        Column("initials", _initials),
        Column("note", notes),
        Column("reading", cells.reading),
        Column("recorded_at", cells.instant, empty=None),
        Column("key", entry_key),
        Column("strikes", entry_key),
        Column("why", notes),
    ),
)
