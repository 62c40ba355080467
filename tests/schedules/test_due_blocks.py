"""Does a long run of one rule, worked with scalars, give what many short runs give?"""

from __future__ import annotations

import dataclasses
import datetime as dt
import random
from typing import NamedTuple

import numpy as np
import pytest

from schedules import due as engine
from schedules.calendars import CalendarIndex, Spell
from schedules.dates import FAR, NEVER, day_of
from schedules.due import DueColumns, DueRows, due, nominals
from schedules.rules import Roll, Rule
from schedules.units import DUE, OVERDUE, UPCOMING, UnitColumns, UnitSpan
from tests.schedules.one_unit import EVERY_DAY, MON_TO_FRI, a_fixed_rule, a_rule, a_site, closed

ROWS, UNITS = 4_000, 600
ON = dt.date(2026, 7, 1)
EVERIES = ("P45D", "P1M", "P2W", "P6M", "P1Y")


class Asked(NamedTuple):
    rules: list[Rule]
    rows: DueRows
    units: UnitColumns
    calendars: CalendarIndex


def some_rules(chance: random.Random) -> list[Rule]:
    """Twenty anchored rules and twelve fixed ones, of days and of months."""
    anchored = [
        a_rule(every, roll=roll, early=chance.choice([0, 30]), grace=chance.choice([0, 15]))
        for every in EVERIES
        for roll in Roll
    ]
    fixed = [
        a_fixed_rule(anchor, every, roll=roll, early=chance.choice([0, 45]), grace=5)
        for anchor, every in (("2024-02-29", "P1M"), ("2025-03-31", "P1Y"), ("2026-01-01", "P20D"))
        for roll in Roll
    ]
    return anchored + fixed


def some_units(chance: random.Random) -> UnitColumns:
    on = day_of(ON)

    def a_unit() -> UnitSpan:
        start = on - chance.randint(-30, 700)
        first = on - chance.randint(-60, 120)
        middle = first + chance.randint(1, 60)
        end = FAR if chance.random() < 0.2 else middle + chance.randint(1, 90)
        outages = ((first, middle), (middle, end)) if chance.random() < 0.4 else ()
        moves = ((on - chance.randint(-10, 200), chance.randrange(4)),)
        return UnitSpan(
            in_service=start,
            retired=FAR if chance.random() < 0.9 else on + chance.randint(-20, 20),
            record_from=start + chance.choice([0, 0, 100]),
            calendar=chance.randrange(4),
            moves=moves if chance.random() < 0.3 else (),
            outages=outages,
        )

    return UnitColumns.build([a_unit() for _ in range(UNITS)])


@pytest.fixture(scope="module")
def asked() -> Asked:
    """Four thousand rows of 32 rules at four sites, one of them shut for two years."""
    chance = random.Random(20260701)
    rules, units, on = some_rules(chance), some_units(chance), day_of(ON)
    lengths = [chance.choice([1, 5, 40, 300]) for _ in rules]
    rule = np.repeat(np.arange(len(rules)), lengths)
    rule = np.sort(np.concatenate([rule, [chance.randrange(32) for _ in range(ROWS - len(rule))]]))
    rows = DueRows(
        rule=rule[:ROWS].astype(np.int32),
        unit=np.array([chance.randrange(UNITS) for _ in range(ROWS)]),
        base=np.array([on - chance.randint(0, 500) for _ in range(ROWS)], dtype=np.int32),
        steps=np.array([chance.randint(0, 3) for _ in range(ROWS)], dtype=np.int32),
        last=np.array(
            [chance.choice([NEVER, on - chance.randint(0, 90)]) for _ in range(ROWS)],
            dtype=np.int32,
        ),
        event=np.array(
            [chance.choice([NEVER, on - chance.randint(0, 90)]) for _ in range(ROWS)],
            dtype=np.int32,
        ),
    )
    sites = [
        a_site(MON_TO_FRI),
        a_site({2}, site="Birch"),
        a_site(EVERY_DAY, closed("2025-11-01", "2026-04-30"), site="Cedar"),
        a_site(EVERY_DAY, Spell(dt.date(2026, 3, 1), dt.date(2028, 2, 29), "shut"), site="Dell"),
    ]
    return Asked(rules, rows, units, CalendarIndex(sites, dt.date(2023, 1, 1), dt.date(2031, 1, 1)))


def worked(asked: Asked, monkeypatch: pytest.MonkeyPatch, long_run: int, block: int) -> DueColumns:
    monkeypatch.setattr(engine, "_LONG_RUN", long_run)
    monkeypatch.setattr(engine, "_BLOCK", block)
    return due(asked.rules, asked.rows, asked.units, asked.calendars, day_of(ON))


def assert_equal(found: DueColumns, expected: DueColumns) -> None:
    for name in (field.name for field in dataclasses.fields(DueColumns)):
        if name != "failures":
            assert np.array_equal(getattr(found, name), getattr(expected, name)), name
    assert {row: str(error) for row, error in found.failures.items()} == {
        row: str(error) for row, error in expected.failures.items()
    }


@pytest.mark.parametrize(("long_run", "block"), [(1, 64), (20, 64), (20, 7), (200, 1_000)])
def test_scalar_and_gathered_blocks_give_the_same_answers(
    asked: Asked, monkeypatch: pytest.MonkeyPatch, long_run: int, block: int
) -> None:
    gathered = worked(asked, monkeypatch, ROWS + 1, ROWS + 1)
    assert len(np.unique(gathered.state)) >= 5
    assert len(gathered.failures) > 50
    assert gathered.missed.max() > 3

    assert_equal(worked(asked, monkeypatch, long_run, block), gathered)


def test_a_row_alone_is_answered_as_among_many(asked: Asked) -> None:
    together = due(asked.rules, asked.rows, asked.units, asked.calendars, day_of(ON))

    for row in range(0, ROWS, 37):
        part = asked.rows.part(slice(row, row + 1))
        alone = due(asked.rules, part, asked.units, asked.calendars, day_of(ON))
        assert [str(error) for error in alone.failures.values()] == [
            str(error) for place, error in together.failures.items() if place == row
        ]
        for name in ("state", "nominal", "opens", "due", "limit", "days_past_due", "missed"):
            assert getattr(alone, name)[0] == getattr(together, name)[row], name


def test_nominal_dates_need_no_calendar_and_are_those_of_the_answers(asked: Asked) -> None:
    found = nominals(asked.rules, asked.rows, asked.units)
    answers = due(asked.rules, asked.rows, asked.units, asked.calendars, day_of(ON))

    dated = answers.nominal != FAR
    assert dated.sum() > ROWS / 2
    assert np.array_equal(found[dated], answers.nominal[dated])


def test_no_rows_have_no_answers(asked: Asked) -> None:
    nothing = asked.rows.part(slice(0, 0))

    assert len(due(asked.rules, nothing, asked.units, asked.calendars, day_of(ON)).state) == 0


def test_nothing_is_missed_while_a_unit_is_not_at_work(asked: Asked) -> None:
    answers = due(asked.rules, asked.rows, asked.units, asked.calendars, day_of(ON))

    at_work = np.isin(answers.state, [UPCOMING, DUE, OVERDUE])
    assert answers.missed[at_work].max() > 3
    assert answers.missed[~at_work].max() == 0
