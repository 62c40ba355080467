"""A small invented fleet to store: one site, two units."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest
import sqlalchemy as sa

from fleet.domain.records import Entry, Mark, Site, Unit
from fleet.domain.register import Change
from fleet.errors import StoreError
from fleet.services.ports import Stamp
from fleet.storage import SqlStore, open_store
from fleet.storage.engines import WRITE, make_engine, parse_url

__all__ = [
    "ENTRY",
    "SITE",
    "STAMP",
    "UNIT",
    "add",
    "engine_of",
    "load_units",
    "moved",
    "new",
    "open_now",
    "refusal_of_opening",
]

STAMP = Stamp(at=dt.datetime(2026, 3, 2, 12, 0, tzinfo=dt.UTC), by="r.alder", source="command")

SITE = Site(
    site="alder-creek",
    name="Alder Creek",
    county="Cass",
    region="East",
    country="US",
    subdivision="NE",
    time_zone="America/Chicago",
    open_days="Tue Thu",
    latitude=41.25,
    longitude=-95.9,
)

UNIT = Unit(
    property_number="M-001",
    kind="microscope",
    manufacturer="",
    model="",
    serial="",
    site="alder-creek",
    in_service_on=dt.date(2024, 1, 2),
)

ENTRY = Entry(
    key="M-001/optics/2026-03-02/1",
    property_number="M-001",
    task="optics",
    on=dt.date(2026, 3, 2),
    mark=Mark.DONE,
    initials="RA",
)


def new(record: Site | Unit) -> Change:
    """A record as it comes with a first load."""
    return Change(old=None, new=record, initial=True)


def moved(stamp: Stamp, days: int) -> Stamp:
    """The same author, so many days later."""
    return replace(stamp, at=stamp.at + dt.timedelta(days=days))


def load_units(store: SqlStore, *numbers: str) -> None:
    """Load one site and these units."""
    units = [new(replace(UNIT, property_number=number)) for number in numbers or ("M-001",)]
    with store.begin(write=True) as record:
        record.change([new(SITE), *units], STAMP)
        record.commit()


def add(store: SqlStore, *entries: Entry, stamp: Stamp = STAMP) -> None:
    """Append entries in a unit of work of their own."""
    with store.begin(write=True) as record:
        record.append(entries, stamp)
        record.commit()


def engine_of(url: str) -> sa.Engine:
    """Another way into the same database: one that knows nothing of our rules but may write."""
    return make_engine(parse_url(url)).execution_options(**{WRITE: True})


def open_now(url: str) -> SqlStore:
    return open_store(url, clock=lambda: STAMP.at)


def refusal_of_opening(url: str) -> str:
    with pytest.raises(StoreError) as refusal:
        open_now(url)
    return str(refusal.value)
