"""Which columns has each table of design 7, how is each read, and what must one row make sense of?

`read` turns a cell's text into a value; an empty cell, and a column left out, give `empty`. A
required column must be there and no cell of it empty. `checks` look at one record by itself; what
takes more than its own row to know is checked by `fleet.services.load`. A row with `withdrawn`
takes back the record of its key, and needs no other cell.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
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
    RegisterRecord,
    Role,
    Site,
    Unit,
)
from fleet.files import cells
from fleet.files.places import country_code, subdivision_code

__all__ = ["ENTRIES", "TABLES", "WITHDRAWN", "Column", "RowFault", "Table"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column: its name in the file and, where it differs, the field of the record."""

    name: str
    read: Callable[[str], object]
    required: bool = False
    is_key: bool = True
    """Whether a required cell is asked also of a row that is withdrawn."""
    empty: object = ""
    field: str = ""

    @property
    def target(self) -> str:
        """The field of the record that the column fills."""
        return self.field or self.name


@dataclass(frozen=True, slots=True)
class RowFault:
    """What is wrong between the cells of one row."""

    column: str
    problem: str
    mend: str


@dataclass(frozen=True, slots=True)
class Table:
    """One table: its columns, and for register tables the making and checking of a record."""

    name: str
    columns: tuple[Column, ...]
    record: Callable[..., RegisterRecord] | None = None
    checks: Callable[[Any], Iterator[RowFault]] = lambda record: iter(())
    complete: Callable[[dict[str, Any]], None] = lambda values: None
    """Settles values that hang together, in place; may raise CellError, told under
    `subdivision`."""

    @property
    def required(self) -> list[str]:
        """The names of the columns that must be there and filled."""
        return [column.name for column in self.columns if column.required]


_short, _name = cells.text(texts.WORD_LENGTH), cells.text(texts.NAME_LENGTH)
_notes = cells.prose(texts.PROSE_LENGTH)
_initials, _key = cells.text(texts.INITIALS_LENGTH), cells.text(texts.KEY_LENGTH)
_closed = "closed"
WITHDRAWN = "withdrawn"
_withdrawn = Column(WITHDRAWN, cells.yes_or_no, empty=False)


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
_subdivision = Column("subdivision", _name)
_number = Column("property_number", _short, required=True)
_from = Column("from", cells.civil_date, required=True, field="from_on")

TABLES: Mapping[str, Table] = {
    table.name: table
    for table in (
        Table(
            "sites",
            (
                Column("site", _short, required=True),
                Column("name", _name, required=True),
                Column("county", _name, required=True),
                Column("region", _name),
                Column("country", country_code, required=True),
                _subdivision,
                Column("time_zone", cells.time_zone, required=True),
                Column("open_days", cells.open_days, required=True),
                Column("latitude", cells.coordinate(90), empty=None),
                Column("longitude", cells.coordinate(180), empty=None),
                Column("postal_code", _short),
                Column("lead_email", cells.email),
            ),
            Site,
            complete=_settle_place,
        ),
        Table(
            "patterns",
            (
                Column("site", _short, required=True),
                _from,
                Column("open_days", cells.open_days, required=True, is_key=False),
                _withdrawn,
            ),
            Pattern,
        ),
        Table(
            "holidays",
            (
                Column("site", _short),
                _country,
                _subdivision,
                Column("on", cells.civil_date, required=True),
                Column("name", _name, required=True, is_key=False),
                _withdrawn,
            ),
            Holiday,
            _holiday_faults,
            _settle_place,
        ),
        Table(
            "closures",
            (
                Column("site", _short),
                _from,
                Column("to", cells.civil_date, empty=None, field="to_on"),
                Column("reason", _name),
                Column("open", cells.yes_or_no, empty=False),
                _withdrawn,
            ),
            Closure,
            _closure_faults,
            _name_closure,
        ),
        Table(
            "units",
            (
                _number,
                Column("kind", _short, required=True),
                Column("manufacturer", _name),
                Column("model", _name),
                Column("serial", _name),
                Column("site", _short, required=True),
                Column("in_service_on", cells.civil_date, required=True),
                Column("retired_on", cells.civil_date, empty=None),
                Column("record_from", cells.civil_date, empty=None, field="record_from_on"),
            ),
            Unit,
            _unit_faults,
        ),
        Table(
            "placements",
            (_number, Column("site", _short, required=True, is_key=False), _from, _withdrawn),
            Placement,
        ),
        Table(
            "outages",
            (
                _number,
                _from,
                Column("to", cells.civil_date, empty=None, field="to_on"),
                Column("reason", _name),
                _withdrawn,
            ),
            Outage,
            _outage_faults,
        ),
        Table(
            "people",
            (
                Column("email", cells.email, required=True),
                Column("name", _name, required=True, is_key=False),
                Column("role", cells.choice(Role, "role"), required=True),
                Column("site", _short),
                Column("region", _name),
                Column("language", cells.language, empty="en"),
                Column("time_zone", cells.time_zone),
                Column("deputy", cells.email),
                _withdrawn,
            ),
            Person,
            _person_faults,
        ),
    )
}

ENTRIES = Table(
    "entries",
    (
        _number,
        Column("task", _short, required=True),
        Column("on", cells.civil_date, required=True),
        Column("to", cells.civil_date, empty=None, field="to_on"),
        Column("mark", cells.choice(Mark, "mark"), empty=None),
        Column("initials", _initials),
        Column("note", _notes),
        Column("reading", cells.reading),
        Column("recorded_at", cells.instant, empty=None),
        Column("key", _key),
        Column("strikes", _key),
        Column("why", _notes),
    ),
)
