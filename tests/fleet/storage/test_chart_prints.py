"""Prints are kept as they left the printer, and nothing happens to them unseen."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from fleet.domain.chain import Flaw
from fleet.domain.evidence import Renumbering
from fleet.domain.prints import Print
from fleet.domain.register import Change
from fleet.errors import StoreError
from fleet.services.ports import Stamp
from fleet.storage import (
    SqlStore,
    access_schema,
    append_only,
    create,
    job_schema,
    lifecycle,
    mail_schema,
    schema_state,
    upgrade,
    visit_schema,
)
from fleet.storage.schema import HEAD
from tests.fleet.storage.examples import STAMP, engine_of, load_units, moved, open_now
from tests.fleet.storage.print_examples import chart_print
from tests.fleet.storage.tampering import tamper

_LATER = [
    "kept_tick",
    *(
        getattr(module, name).name
        for module in (access_schema, job_schema, mail_schema, visit_schema)
        for name in module.__all__
    ),
    *("webhook_delivery", "webhook_overdue", "webhook_read", "webhook"),
    *("scan_cell", "scan_sheet", "scan_file"),
]
"""The tables that came after version 0003, what points at others first."""
"""The tables that came later."""


def keep(store: SqlStore, *prints: Print, stamp: Stamp = STAMP) -> None:
    with store.begin(write=True) as record:
        record.change([Change(old=None, new=one, initial=False) for one in prints], stamp)
        record.commit()


def kept(store: SqlStore, known_at: dt.datetime | None = None) -> list[Print]:
    with store.begin() as record:
        return list(record.register(known_at).prints.values())


def flaws(store: SqlStore) -> list[Flaw]:
    with store.begin() as record:
        return list(record.flaws(lambda _: None))


@pytest.mark.parametrize("rows", [0, 1, 21])
def test_a_print_comes_back_as_it_was_kept_however_many_rows_it_has(
    store: SqlStore, rows: int
) -> None:
    load_units(store, "M-001")
    one = chart_print(year=2028, rows=rows)

    keep(store, one)

    assert kept(store) == [one]
    assert len(one.cells) == max(0, rows * 367 - 1)
    assert flaws(store) == []


def test_a_print_is_known_from_the_instant_it_was_kept(store: SqlStore) -> None:
    load_units(store, "M-001")
    first, second = chart_print(), chart_print(number="ZZZZZZZ0", replaces="7K2M9QXA")
    keep(store, first, stamp=moved(STAMP, 1))
    keep(store, second, stamp=moved(STAMP, 2))

    assert [kept(store, moved(STAMP, days).at) for days in (0, 1, 2)] == [
        [],
        [first],
        [first, second],
    ]


def test_a_number_is_given_once_and_only_to_a_unit_that_is_known(store: SqlStore) -> None:
    load_units(store, "M-001")
    keep(store, chart_print())

    for other in (chart_print(year=2027), chart_print(number="A" * 8, property_number="M-404")):
        with pytest.raises(StoreError, match="the database refused"):
            keep(store, other)

    assert kept(store) == [chart_print()]
    assert flaws(store) == []


def test_the_prints_of_a_renumbered_unit_are_shown_under_its_present_number(
    store: SqlStore,
) -> None:
    load_units(store, "M-001", "M-002")
    keep(store, chart_print(), chart_print(number="B" * 8, property_number="M-002"))
    former = Renumbering(former="M-001", property_number="N-001", from_on=dt.date(2026, 3, 4))
    with store.begin(write=True) as record:
        record.change([Change(old=None, new=former, initial=False)], moved(STAMP, 2))
        record.commit()
    keep(store, chart_print(number="C" * 8, property_number="N-001"))

    shown = {one.number: one.property_number for one in kept(store)}

    assert shown == {"7K2M9QXA": "N-001", "B" * 8: "M-002", "C" * 8: "N-001"}
    assert flaws(store) == []


@pytest.mark.parametrize(
    ("harm", "problem"),
    [
        (
            "UPDATE chart_print SET cells = replace(cells, 'W', '.')",
            "the table chart_print has it otherwise than the change lines add up to",
        ),
        (
            "DELETE FROM chart_print",
            "the table chart_print lacks it, though the change lines have it",
        ),
        (
            "UPDATE change_line SET new = replace(new, 'letter', 'a4') WHERE chain = 'chart_print'",
            "it was changed after it was written",
        ),
    ],
    ids=["its cells", "the print", "its line"],
)
def test_a_print_that_was_changed_behind_the_program_is_named(
    store: SqlStore, harm: str, problem: str
) -> None:
    load_units(store, "M-001")
    keep(store, chart_print())

    tamper(store, harm)

    assert [flaw.problem for flaw in flaws(store)][:1] == [problem]
    assert {flaw.chain for flaw in flaws(store)} == {"register/chart_print"}


def _migrated(url: str, revision: str) -> None:
    """Bring an empty database to a version, and no further."""
    config = Config()
    config.set_main_option("script_location", str(Path(lifecycle.__file__).parent / "migrations"))
    engine = engine_of(url)
    with engine.connect() as connection, connection.begin():
        config.attributes["connection"] = connection
        command.upgrade(config, revision)
    engine.dispose()


def _columns(url: str) -> dict[str, list[Any]]:
    engine = engine_of(url)
    with engine.connect() as connection:
        look = sa.inspect(connection)
        found = {name: look.get_columns(name) for name in look.get_table_names()}
    engine.dispose()
    return {name: [(c["name"], str(c["type"])) for c in some] for name, some in found.items()}


def _rows(url: str) -> dict[str, list[Any]]:
    engine = engine_of(url)
    with engine.connect() as connection:
        names = sa.inspect(connection).get_table_names()
        found = {n: connection.exec_driver_sql(f"SELECT * FROM {n}").all() for n in names}  # noqa: S608
    engine.dispose()
    return {name: sorted(map(repr, rows)) for name, rows in found.items()}


def test_a_populated_database_of_version_0002_comes_through_an_upgrade(
    rich: str, other_url: Callable[[str], str]
) -> None:
    engine = engine_of(rich)
    with engine.begin() as connection:
        for words in (
            "DROP TABLE chart_print",
            *(f"DROP TABLE {table}" for table in _LATER),
            "DELETE FROM chain_head WHERE chain = 'register/chart_print'",
            *_without_triggers(connection),
            "DELETE FROM change_line WHERE chain = 'chart_print'",
            "UPDATE alembic_version SET version_num = '0002'",
        ):
            connection.exec_driver_sql(words)
        append_only.install(connection)
    engine.dispose()
    empty = other_url("sqlite" if rich.startswith("sqlite") else "postgresql")
    _migrated(empty, "0002")
    assert _columns(rich) == _columns(empty)
    assert schema_state(rich) == "older"
    before = _rows(rich)

    copy = upgrade(rich)

    after = _rows(rich)
    assert (copy is not None) == rich.startswith("sqlite")
    assert [after.pop(table) for table in ("chart_print", *_LATER)] == [[]] * (len(_LATER) + 1)
    assert after == {**before, "alembic_version": [f"('{HEAD}',)"]}
    with closing(open_now(rich)) as store:
        assert flaws(store) == []
        keep(store, replace(chart_print(), property_number="00417"))
        assert flaws(store) == []


def _without_triggers(connection: sa.Connection) -> list[str]:
    if connection.dialect.name == "sqlite":
        return ["DROP TRIGGER change_line_no_delete"]
    return ["DROP TRIGGER change_line_no_change ON change_line"]


def test_a_new_database_has_what_an_upgraded_one_has(
    empty_url: str, other_url: Callable[[str], str]
) -> None:
    other = other_url("sqlite" if empty_url.startswith("sqlite") else "postgresql")
    _migrated(other, "0002")
    upgrade(other)
    create(empty_url)

    assert _columns(other) == _columns(empty_url)
