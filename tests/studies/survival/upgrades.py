"""Does a populated database of version 0001 come through `upgrade`, byte for byte?"""

from __future__ import annotations

import datetime as dt
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from fleet.domain.answers import FindingRow, StatusRow
from fleet.services.due import due_rows
from fleet.services.findings import finding_rows
from fleet.services.questions import Question
from fleet.storage import open_store, schema_state, upgrade
from fleet.storage.append_only import expected_triggers
from tests.studies.survival import version_0001
from tests.studies.survival.invented import STORED_AT, Invented, Row, invented
from tests.studies.survival.places import Place, loaded, problems
from tests.studies.survival.programs import program
from tests.studies.survival.raw import Tables, file_of, fingerprint, tables
from tests.studies.survival.results import Result, result_of

__all__ = ["answers", "cut_copies", "old_database", "study", "tried"]

UNCHANGED = ("entry", "change_line", "rule_book", "marked_year")
"""Tables whose rows an upgrade leaves as they are, hashes and all."""


def study(places: list[Place], units: int = 60, days: int = 180) -> list[Result]:
    """One upgrade of a fleet on each database."""
    fleet = invented(units, days)
    said = {place.name: tried(place, fleet) for place in places}
    remark = f"{units} units, {len(fleet.entries):,} entries; every hash as it was, answers alike"
    return [result_of("upgrade from 0001", name, [wrong], remark) for name, wrong in said.items()]


def tried(place: Place, fleet: Invented) -> list[str]:
    """What is not as it must be after an upgrade."""
    today = loaded(place, fleet)
    old = old_database(place, fleet, today)
    before = tables(old)
    copy = upgrade(old)
    said = _compared(before, tables(old)) + problems(old)
    if schema_state(old) != "current":
        said.append(f"the schema is {schema_state(old)}")
    if (copy is None) != (file_of(old) is None):
        said.append("a SQLite file is copied first, and only that")
    if copy is not None and tables(f"sqlite:///{copy}") != before:
        said.append("the copy is not what the database was")
    said += _trigger_flaws(old, today)
    if answers(old) != answers(today):
        said.append("due and gaps answer otherwise than of a fresh load")
    return said


def old_database(place: Place, fleet: Invented, today: str) -> str:
    """A database of version 0001 with a fleet; its holiday years are those of `today`."""
    url = place.fresh()
    years = sorted(tables(today)["holiday_year"], key=lambda row: int(row["seq"]))
    version_0001.build(url, fleet, years)
    return url


def answers(url: str) -> tuple[list[StatusRow], list[FindingRow]]:
    """All of due and gaps on some day."""
    of = program(url, STORED_AT)
    from_on, on = dt.date(2025, 9, 1), dt.date(2026, 3, 2)
    question = Question(now=STORED_AT, on=on)
    with closing(open_store(url, clock=of.clock)) as store, store.begin() as record:
        due = due_rows(record, of.public_holidays, question)
        return due.rows, finding_rows(record, of.public_holidays, from_on, on, question)


def cut_copies(url: str, before: str) -> list[str]:
    """Copies made before an upgrade that are not whole; `before`: what each must be."""
    file = file_of(url)
    copies = [] if file is None else sorted(file.parent.glob("*-before-*.db"))
    return [f"{copy.name} is a cut copy" for copy in copies if _print_of(copy) != before]


def _print_of(copy: Path) -> str:
    try:
        return fingerprint(tables(f"sqlite:///{copy}"))
    except sqlite3.Error as error:
        return str(error)


def _compared(before: Tables, after: Tables) -> list[str]:
    said = [f"table {name} changed" for name in UNCHANGED if before[name] != after[name]]
    said += [
        f"table {name} has {len(after[name])} rows, not {len(rows)}"
        for name, rows in before.items()
        if len(after[name]) != len(rows)
    ]
    register = set(before) - {*UNCHANGED, "holiday_year", "alembic_version"}
    said += [f"table {name} changed" for name in sorted(register) if before[name] != after[name]]
    if _years(before) != _years(after):
        said.append("holiday years changed")
    return said


def _years(found: Tables) -> list[list[Any]]:
    names = ("country", "subdivision", "year", "names", "origin", "stored_at")
    return sorted([row[name] for name in names] for row in found["holiday_year"])


def _trigger_flaws(old: str, today: str) -> list[str]:
    if triggers(old) != triggers(today):
        return ["the triggers are not those of a new database"]
    if file_of(old) is not None and triggers(old) != expected_triggers():
        return ["the triggers are not those expected"]
    return []


def triggers(url: str) -> dict[str, str]:
    """Name to statement on SQLite; on PostgreSQL to its definition."""
    file = file_of(url)
    if file is not None:
        query = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"
        with closing(sqlite3.connect(file)) as opened:
            return dict(opened.execute(query).fetchall())
    import psycopg

    query = "SELECT tgname, pg_get_triggerdef(oid) FROM pg_trigger WHERE NOT tgisinternal"
    with psycopg.connect(url) as connection:
        found: list[Row] = [{"n": n, "d": d} for n, d in connection.execute(query)]
    return {row["n"]: row["d"] for row in found}
