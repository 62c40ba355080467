"""Are the rows of `due` those that were asked for: the day, the names, the order, the roll-up?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from fleet.domain.answers import StatusRow
from fleet.services.due import due_rows, roll_up
from fleet.services.kept import rebuild
from fleet.services.ports import KeptYears
from fleet.services.questions import DueAnswer, Narrow, Question
from tests.outside import day
from tests.reference.bridge import BridgedRecord, NoPublicHolidays
from tests.reference.records import (
    RefClosure,
    RefEntry,
    RefEvery,
    RefFleet,
    RefOutage,
    RefPlacement,
    RefRule,
    RefSite,
    RefUnit,
)

NOON = dt.datetime(2026, 3, 20, 12, tzinfo=dt.UTC)
YEARLY = RefRule(kind="microscope", task="service", every=RefEvery(1, "Y"))
DAILY = RefRule(kind="centrifuge", task="spill-check", each="open-day")


def a_unit(number: str, site: str = "Alder", kind: str = "microscope") -> RefUnit:
    return RefUnit(property_number=number, kind=kind, site=site, in_service_on=day("2025-03-16"))


FLEET = RefFleet(
    sites=(
        RefSite(site="Birch", county="Grant", region="East"),
        RefSite(site="Alder", county="Cherry", region="West", time_zone="America/Denver"),
    ),
    units=(
        a_unit("U-2"),
        a_unit("U-3", "Birch", "centrifuge"),
        a_unit("U-1"),
        a_unit("U-4", kind="unheard-of"),
    ),
    rules=(YEARLY, DAILY),
)


def asked(fleet: RefFleet, on: str | None = "2026-03-20", now: dt.datetime = NOON, **narrow: tuple[
    str, ...
]) -> DueAnswer:  # fmt: skip
    record, library = BridgedRecord(fleet), NoPublicHolidays()
    rebuild(record, list(record.unit_ids().values()), library)  # type: ignore[arg-type]
    question = Question(now=now, on=day(on) if on else None, narrow=Narrow(**narrow))
    return due_rows(record, library, question)  # type: ignore[arg-type]


def numbers(answer: DueAnswer) -> list[str]:
    return [row.property_number for row in answer.rows]


def test_rows_stand_in_the_order_of_site_and_unit_and_unknown_kinds_bring_none() -> None:
    answer = asked(FLEET)

    assert numbers(answer) == ["U-1", "U-2", "U-3"]
    assert [(row.site, row.county, row.region) for row in answer.rows[1:]] == [
        ("Alder", "Cherry", "West"),
        ("Birch", "Grant", "East"),
    ]
    assert [(row.kind, row.task, row.basis) for row in answer.rows[1:]] == [
        ("microscope", "service", "anchored"),
        ("centrifuge", "spill-check", "cell"),
    ]


def test_a_question_is_narrowed_by_names_without_case() -> None:
    for narrow, found in (
        ({"sites": ("alder",)}, ["U-1", "U-2"]),
        ({"counties": ("GRANT",)}, ["U-3"]),
        ({"regions": ("West", "East")}, ["U-1", "U-2", "U-3"]),
        ({"kinds": ("Centrifuge",)}, ["U-3"]),
        ({"tasks": ("service",)}, ["U-1", "U-2"]),
        ({"states": ("Due",)}, []),
        ({"states": ("overdue",), "sites": ("Birch",)}, ["U-3"]),
    ):
        assert numbers(asked(FLEET, **narrow)) == found, narrow


def test_today_is_the_day_at_the_site_where_the_unit_stands() -> None:
    """At 05:30 UTC of the 20th it is the 20th in Chicago and still the 19th in Denver."""
    night = dt.datetime(2026, 3, 20, 5, 30, tzinfo=dt.UTC)
    late = [row.days_past_due for row in asked(FLEET, None, night, tasks=("service",)).rows]
    moved = replace(
        FLEET,
        placements=(RefPlacement(property_number="U-1", site="Birch", from_on=day("2026-03-20")),),
    )
    rows = asked(moved, None, night, tasks=("service",)).rows

    assert late == [3, 3]
    assert [(row.property_number, row.site, row.days_past_due) for row in rows] == [
        ("U-2", "Alder", 3),
        ("U-1", "Birch", 4),
    ]


def test_a_move_that_is_still_to_come_does_not_set_the_day() -> None:
    night = dt.datetime(2026, 3, 20, 5, 30, tzinfo=dt.UTC)
    moved = replace(
        FLEET,
        placements=(RefPlacement(property_number="U-1", site="Birch", from_on=day("2026-03-21")),),
    )

    rows = asked(moved, None, night, tasks=("service",)).rows

    assert [(row.property_number, row.site, row.days_past_due) for row in rows] == [
        ("U-1", "Alder", 3),
        ("U-2", "Alder", 3),
    ]


def test_moves_and_outages_count_in_the_order_of_their_days_whatever_that_of_the_file() -> None:
    moves = [
        RefPlacement(property_number="U-1", site=site, from_on=day(on))
        for site, on in (("Alder", "2026-03-10"), ("Birch", "2026-03-18"), ("Birch", "2026-03-02"))
    ]
    outages = [
        RefOutage(property_number="U-1", from_on=day(first), to_on=day(back))
        for first, back in (("2026-03-19", "2026-03-25"), ("2026-03-16", "2026-03-19"))
    ]
    fleet = replace(FLEET, placements=moves, outages=outages)

    found = {on: asked(fleet, on, tasks=("service",)).rows for on in ("2026-03-15", "2026-03-30")}

    assert [row.site for row in found["2026-03-15"] if row.property_number == "U-1"] == ["Alder"]
    (late,) = [row for row in found["2026-03-30"] if row.property_number == "U-1"]
    assert (late.site, late.nominal) == ("Birch", day("2026-03-25"))


def test_a_row_that_fails_is_named_and_the_others_are_answered() -> None:
    closure = RefClosure(
        site="Alder", from_on=day("2026-03-01"), to_on=day("2028-12-31"), reason="rebuilding"
    )
    answer = asked(replace(FLEET, closures=(closure,)))

    assert numbers(answer) == ["U-3"]
    assert sorted(answer.failures) == [
        f"unit {number}, service: site Alder: no open day within 366 days of 2026-03-16;"
        " check its closures and its weekly pattern"
        for number in ("U-1", "U-2")
    ]


class BatchesKept(BridgedRecord):
    """Remembers of which units each batch was, and which of them it kept."""

    def __init__(self, fleet: RefFleet) -> None:
        super().__init__(fleet)
        self.batches: list[tuple[list[int], list[int]]] = []

    def keep(self, unit_ids: Sequence[int], years: KeptYears) -> None:
        self.batches.append((list(unit_ids), list(years.unit_ids)))


def test_more_units_than_are_rebuilt_at_once_are_all_kept() -> None:
    units = tuple(a_unit(f"M-{n:03}") for n in range(260))
    entries = [
        RefEntry(key=unit.property_number, property_number=unit.property_number, task="service",
                 on=day("2026-03-16"), mark="done")
        for unit in units
    ]  # fmt: skip
    record = BatchesKept(replace(FLEET, units=units, entries=entries))
    numbers = list(record.unit_ids().values())

    rebuild(record, numbers, NoPublicHolidays())  # type: ignore[arg-type]

    assert [number for batch, _ in record.batches for number in batch] == numbers
    assert all(sorted(kept) == sorted(batch) for batch, kept in record.batches)
    assert len(record.batches) > 1


def test_a_roll_up_counts_units_rows_and_states_by_group() -> None:
    rows = asked(FLEET).rows
    assert roll_up(rows, "region") == [
        {"group": "East", "units": 1, "rows": 1, "upcoming": 0, "due": 0, "overdue": 1, "done": 0,
         "out_of_service": 0, "not_in_service_yet": 0, "retired": 0, "longest_days_past_due": None},
        {"group": "West", "units": 2, "rows": 2, "upcoming": 0, "due": 0, "overdue": 2, "done": 0,
         "out_of_service": 0, "not_in_service_yet": 0, "retired": 0, "longest_days_past_due": 4},
    ]  # fmt: skip


def test_the_longest_delay_of_a_roll_up_is_that_of_an_overdue_row() -> None:
    row = asked(FLEET).rows[0]

    def rolled(*some: StatusRow) -> list[int | str | None]:
        return [found["longest_days_past_due"] for found in roll_up(some, "kind")]

    within_grace = row._replace(state="due", days_past_due=9)
    assert rolled(row, within_grace, row._replace(days_past_due=7)) == [7]
    assert rolled(within_grace) == [None]
    assert [found["units"] for found in roll_up([row, row], "site")] == [1]
