"""Where does a unit stand, when is it away, and on which days is a mark expected?"""

from __future__ import annotations

import numpy as np
import pytest

from schedules.calendars import CalendarIndex, SiteCalendar
from schedules.dates import FAR, NEVER, date_of, day_of
from schedules.units import STATES, Runs, UnitColumns, UnitSpan
from tests.outside import day
from tests.schedules.one_unit import EVERY_DAY, OneUnit, a_rule, a_site


def a_unit(
    in_service: str = "2026-03-02",
    retired: str = "",
    record_from: str = "",
    moves: tuple[tuple[str, int], ...] = (),
    outages: tuple[tuple[str, str], ...] = (),
) -> UnitColumns:
    return OneUnit(
        rules=[a_rule()],
        in_service=in_service,
        retired=retired,
        record_from=record_from,
        moves=moves,
        outages=outages,
    ).columns()


def standing(unit: UnitColumns, *texts: str) -> list[str]:
    return [STATES[unit.standing(day_of(day(text)))[0]] for text in texts]


def moved(unit: UnitColumns, text: str) -> str:
    """Where a date in March 2026 goes when it lies in an outage; 'never' for no return."""
    found = unit.after_outages(np.array([day_of(day(text))], dtype=np.int32), np.zeros(1, int))
    return "never" if found[0] == FAR else date_of(found[0]).isoformat()


def expected_days(unit: UnitColumns, *sites: SiteCalendar) -> list[int]:
    """The expected days of March 2026."""
    first_on, last_on = day("2026-03-01"), day("2026-03-31")
    index = CalendarIndex(sites, first_on, last_on)
    found = unit.expected(index, np.zeros(1, dtype=np.int64), day_of(first_on), 31)
    return (np.flatnonzero(found[0]) + 1).tolist()


def test_the_day_of_retirement_is_the_first_without_the_unit() -> None:
    unit = a_unit(retired="2026-03-20")

    assert standing(unit, "2026-03-19", "2026-03-20") == ["upcoming", "retired"]
    assert expected_days(unit, a_site(EVERY_DAY)) == list(range(2, 20))


def test_the_day_of_issue_is_the_first_in_service() -> None:
    assert standing(a_unit(), "2026-03-01", "2026-03-02") == ["not in service yet", "upcoming"]


def test_retired_is_said_before_not_yet_and_not_yet_before_out_of_service() -> None:
    unit = a_unit(retired="2026-03-10", outages=(("2026-02-25", "2026-03-12"),))

    assert standing(unit, "2026-02-26", "2026-03-02", "2026-03-09", "2026-03-10") == [
        "not in service yet", "out of service", "out of service", "retired",
    ]  # fmt: skip


def test_a_unit_retired_before_its_first_day_is_retired() -> None:
    """Doubtful, but possible: the first state of design 4.3 that holds."""
    assert standing(a_unit(retired="2026-02-20"), "2026-02-19", "2026-02-25") == [
        "not in service yet", "retired",
    ]  # fmt: skip


def test_the_day_of_return_is_back_in_service() -> None:
    unit = a_unit(outages=(("2026-03-10", "2026-03-12"),))

    assert standing(unit, "2026-03-09", "2026-03-10", "2026-03-11", "2026-03-12") == [
        "upcoming", "out of service", "out of service", "upcoming",
    ]  # fmt: skip
    assert [moved(unit, f"2026-03-{n:02}") for n in (9, 10, 11, 12)] == [
        "2026-03-09", "2026-03-12", "2026-03-12", "2026-03-12",
    ]  # fmt: skip
    assert 9 in expected_days(unit, a_site(EVERY_DAY))
    assert not {10, 11} & set(expected_days(unit, a_site(EVERY_DAY)))
    assert 12 in expected_days(unit, a_site(EVERY_DAY))


def test_outages_that_touch_are_one() -> None:
    touching = (("2026-03-10", "2026-03-12"), ("2026-03-12", "2026-03-15"))
    apart = (("2026-03-10", "2026-03-12"), ("2026-03-13", "2026-03-15"))

    assert moved(a_unit(outages=touching), "2026-03-10") == "2026-03-15"
    assert moved(a_unit(outages=touching[::-1]), "2026-03-10") == "2026-03-15"
    assert moved(a_unit(outages=apart), "2026-03-10") == "2026-03-12"
    assert moved(a_unit(outages=apart), "2026-03-13") == "2026-03-15"
    assert standing(a_unit(outages=apart), "2026-03-12") == ["upcoming"]
    assert standing(a_unit(outages=touching), "2026-03-12") == ["out of service"]


def test_an_outage_without_an_end_has_no_return() -> None:
    unit = a_unit(outages=(("2026-03-05", "2026-03-07"), ("2026-03-10", "")))

    assert [moved(unit, f"2026-03-{n:02}") for n in (6, 9, 10, 31)] == [
        "2026-03-07", "2026-03-09", "never", "never",
    ]  # fmt: skip
    assert standing(unit, "2026-03-09", "2026-03-10", "2030-01-01") == [
        "upcoming", "out of service", "out of service",
    ]  # fmt: skip
    assert expected_days(unit, a_site(EVERY_DAY)) == [2, 3, 4, 7, 8, 9]


@pytest.mark.parametrize(
    "outages",
    [
        (),
        (("2026-03-05", "2026-03-08"),),
        (("2026-03-05", "2026-03-08"), ("2026-03-08", "2026-03-11"), ("2026-03-20", "2026-03-22")),
        (("2026-03-05", "2026-03-08"), ("2026-03-10", "")),
    ],
)
def test_a_day_comes_out_of_an_outage_before_another_where_it_lies_before_its_beginning(
    outages: tuple[tuple[str, str], ...],
) -> None:
    unit = a_unit(outages=outages)
    march = np.arange(day_of(day("2026-03-01")), day_of(day("2026-03-31")), dtype=np.int32)
    rows = np.zeros(len(march), dtype=np.int64)
    comes_out = unit.after_outages(march, rows)
    begins = unit.before_outages(march, rows)

    for place in range(len(march)):
        assert np.array_equal(comes_out < march[place], march < begins[place])


def test_the_site_where_the_unit_then_stands_decides_each_day() -> None:
    unit = a_unit(moves=(("2026-03-10", 1), ("2026-03-17", 2), ("2026-03-24", 0)))
    sites = a_site({0}), a_site({1}), a_site({6})

    texts = ("2026-01-01", "2026-03-09", "2026-03-10", "2026-03-16", "2026-03-17", "2026-03-24")
    stands = [int(unit.calendars_on(day_of(day(text)))[0]) for text in texts]
    assert stands == [0, 0, 1, 1, 2, 0]
    assert expected_days(unit, *sites) == [2, 9, 10, 22, 30]


def test_days_before_the_record_are_not_expected() -> None:
    unit = a_unit(record_from="2026-03-20")

    assert expected_days(unit, a_site(EVERY_DAY)) == list(range(20, 32))
    assert standing(unit, "2026-03-19") == ["upcoming"]


def test_the_units_of_a_fleet_do_not_lend_each_other_moves_or_outages() -> None:
    start = day_of(day("2026-03-02"))
    spans = [
        UnitSpan(start, FAR, start, 0),
        UnitSpan(start, FAR, start, 0, ((start + 5, 1),), ((start + 3, start + 9),)),
        UnitSpan(start, FAR, start, 1),
        UnitSpan(start, FAR, start, 1, ((start + 2, 0), (start + 20, 1)), ((start + 4, FAR),)),
    ]
    fleet = UnitColumns.build(spans)
    alone = [UnitColumns.build([span]) for span in spans]

    for on in range(start - 2, start + 30):
        assert fleet.standing(on).tolist() == [int(unit.standing(on)[0]) for unit in alone]
        assert fleet.calendars_on(on).tolist() == [int(u.calendars_on(on)[0]) for u in alone]
        days = np.full(4, on, dtype=np.int32)
        assert fleet.after_outages(days, np.arange(4)).tolist() == [
            int(unit.after_outages(days[:1], np.zeros(1, int))[0]) for unit in alone
        ]


def test_the_latest_of_a_run_is_not_after_the_day() -> None:
    runs = Runs.build([[], [3, 5], [4], []])

    assert runs.latest(2).tolist() == [NEVER, NEVER, NEVER, NEVER]
    assert runs.latest(3).tolist() == [NEVER, 3, NEVER, NEVER]
    assert runs.latest(4).tolist() == [NEVER, 3, 4, NEVER]
    assert runs.latest(9).tolist() == [NEVER, 5, 4, NEVER]
    assert Runs.build([[], []]).latest(9).tolist() == [NEVER, NEVER]


def test_every_day_of_return_is_an_event_also_where_outages_touch() -> None:
    unit = a_unit(outages=(("2026-03-10", "2026-03-12"), ("2026-03-12", "2026-03-15")))

    assert [date_of(n).day for n in unit.returns.days.tolist()] == [12, 15]
