"""A record with a line in every chain, and a way to change it behind the program."""

from __future__ import annotations

import datetime as dt
import hashlib
import json
from dataclasses import replace

import sqlalchemy as sa

from fleet.domain.chain import Line, Seal
from fleet.domain.evidence import Attachment
from fleet.domain.records import REMOVED, Outage
from fleet.domain.register import Change
from fleet.services.ports import HolidayYear
from fleet.storage import SqlStore, append_only
from fleet.storage.chains import append_lines
from fleet.storage.record import SqlRecord
from fleet.storage.schema import APPEND_ONLY, METADATA, tombstone
from tests.fleet.storage.examples import ENTRY, STAMP, add, load_units

__all__ = ["CONTENT", "FULL_ENTRY", "WHOLE", "bury", "fill", "left_of", "stand", "tamper"]

CONTENT = b"%PDF-1.7 an invented certificate"
SHA256 = hashlib.sha256(CONTENT).hexdigest()

FULL_ENTRY = replace(
    ENTRY,
    key="full",
    on=dt.date(2026, 3, 3),
    to_on=dt.date(2026, 3, 5),
    initials='Ä"B\\',
    note="line\ntab\t\x01\x7f\u2028 😀",
    reading="4.5",
    recorded_at=dt.datetime(2026, 3, 3, 8, 0, tzinfo=dt.timezone(dt.timedelta(hours=-6))),
    strikes=ENTRY.key,
    why="wrong day",
)

WHOLE = {
    "attachment": 1,
    "entry/M-001": 4,
    "entry/M-002": 2,
    "holiday_year": 2,
    "register/outage": 2,
    "register/site": 1,
    "register/unit": 3,
    "rule_book": 2,
    "seal": 1,
    "tombstone": 1,
}
"""The chains of such a record and how many lines each has."""


def fill(store: SqlStore) -> Seal:
    """Write such a record; answers the seal, which covers all of it."""
    load_units(store, "M-001", "M-002", "M-003")
    outage = Outage(property_number="M-001", from_on=ENTRY.on, to_on=None, reason="lamp")
    back = replace(outage, to_on=dt.date(2026, 3, 9))
    with store.begin(write=True) as record:
        record.change([Change(old=None, new=outage, initial=False)], STAMP)
        record.change([Change(old=outage, new=back, initial=False)], STAMP)
        record.add_book("first", "1" * 64, True, STAMP)
        record.add_book("second", "2" * 64, False, STAMP)
        names = {dt.date(2026, 1, 1): "New Year's Day"}
        years = [HolidayYear("US", "NE", year, names, "by hand") for year in (2026, 2027)]
        record.add_holiday_years(years, STAMP)
        certificate = Attachment(SHA256, "report.pdf", "application/pdf", len(CONTENT))
        record.attach(certificate, CONTENT, STAMP)
        record.commit()
    add(store, ENTRY, FULL_ENTRY, *(replace(ENTRY, key=key) for key in ("third", "disposed")))
    others = [replace(ENTRY, property_number="M-002", key=key) for key in ("other", "other-2")]
    add(store, *others)
    bury(store, "entry/M-001", 4, "disposed")
    with store.begin(write=True) as record:
        sealed = record.seal(STAMP)
        record.commit()
    return sealed


def bury(store: SqlStore, chain: str, seq: int, key: str) -> None:
    """Leave a tombstone for a line, as its disposal does."""
    with store.begin(write=True) as record:
        (line,) = (line for line in record.lines([chain]) if line.seq == seq)
        stand(record, chain, seq, key, line.hash.hex(), left_of(line))
        record.commit()


def stand(record: SqlRecord, *named: str | int) -> None:
    """Append a tombstone that names a chain, a number, a key, a hash and that of what is left."""
    columns = ("of_chain", "of_seq", "key", "of_hash", "left_hash", "reason")
    stone = (*named, "its time was over")
    append_lines(record._connection, tombstone, columns, [stone], STAMP)


def left_of(line: Line) -> str:
    """The SHA-256 (FIPS 180-4) of what a disposal leaves of a line, built here from its text."""
    cells = json.loads(line.content)
    if line.chain.startswith("entry/"):
        cells |= dict.fromkeys(("by", "initials", "note", "reading", "why"), "")
        cells["source"] = REMOVED
    text = json.dumps(cells, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def tamper(store: SqlStore, *statements: str, **values: object) -> None:
    """Run statements as one who owns the database: with no trigger and no foreign key heeded.

    The triggers are put back afterwards, as one would who does not want to be found out.
    """
    with store._engine.connect() as connection:
        connection = connection.execution_options(dueward_write=True)
        if connection.dialect.name == "sqlite":
            driver = connection.connection.driver_connection
            assert driver is not None
            driver.execute("PRAGMA foreign_keys=OFF")
            for name in _triggers(connection):
                connection.exec_driver_sql(f"DROP TRIGGER {name}")
        else:
            for table in (*APPEND_ONLY, *(METADATA.tables.keys() - {*APPEND_ONLY})):
                connection.exec_driver_sql(f"ALTER TABLE {table} DISABLE TRIGGER ALL")
        for statement in statements:
            connection.execute(sa.text(statement), values)
        if connection.dialect.name != "sqlite":
            for table in METADATA.tables:
                connection.exec_driver_sql(f"ALTER TABLE {table} ENABLE TRIGGER ALL")
        append_only.install(connection)
        connection.commit()


def _triggers(connection: sa.Connection) -> list[str]:
    query = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    return list(connection.exec_driver_sql(query).scalars())
