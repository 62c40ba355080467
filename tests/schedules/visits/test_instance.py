"""Is the study's instance the one its figures were measured on?"""

from __future__ import annotations

import pytest

from schedules.visits.model import Order
from tests.studies.visit_instance import FROM_ON, study_order, working_days

# What must come out was written down with the instance's recipe, before this rebuild of it.


def test_the_year_has_274_working_days_in_58_weeks() -> None:
    days = working_days()

    assert len(days) == 274
    assert len({(on - FROM_ON).days // 7 for on in days}) == 58


@pytest.mark.parametrize(
    ("units", "technicians", "hours", "due", "window", "closures"),
    [(280, 2, 210.93, (22, 384), (16, 45), 372), (2000, 5, 1501.55, (20, 384), (14, 45), 371)],
)
def test_a_rebuild_draws_the_same_units(
    units: int,
    technicians: int,
    hours: float,
    due: tuple[int, int],
    window: tuple[int, int],
    closures: int,
) -> None:
    order = study_order(units, technicians)

    assert (len(order.needs), len(order.technicians), len(order.stands)) == (units, technicians, 93)
    assert round(sum(need.minutes for need in order.needs) / 60, 2) == hours
    due_days = [(need.due_on - FROM_ON).days for need in order.needs]
    assert (min(due_days), max(due_days)) == due
    widths = _open_days_of_windows(order)
    assert (min(widths), max(widths)) == window
    assert sum(len(working_days()) - len(stand.open_on) for stand in order.stands) == closures


def test_the_farthest_site_is_587_minutes_away_and_51_can_be_done_in_a_day() -> None:
    order = study_order(280, 2)
    out = order.minutes[-1][:-1]

    assert max(out) == 587
    assert sum(2 * one_way + 45 <= 480 for one_way in out) == 51


def _open_days_of_windows(order: Order) -> list[int]:
    open_on = {stand.site: stand.open_on for stand in order.stands}
    return [
        sum(need.opens_on <= on <= need.limit_on for on in open_on[need.site])
        for need in order.needs
    ]
