"""How long are the legs between places, on the sphere and by a table?"""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from schedules.visits.roads import (
    EARTH_MILES,
    great_circle_legs,
    great_circle_miles,
    table_legs,
    unknown_legs,
)
from tests.studies.visit_instance import FROM_ON, study_order

POINTS = st.tuples(st.floats(-90, 90), st.floats(-180, 180))
LINCOLN, OMAHA = (40.8, -96.7), (41.3, -96.0)
TABLE = {("a", "b"): 1250, ("b", "a"): 1300, ("a", "c"): 0, ("c", "a"): 7, ("c", "b"): 9}


def test_a_degree_of_the_equator_is_a_360th_of_the_circle() -> None:
    degree = 2 * math.pi * EARTH_MILES / 360

    assert great_circle_miles((0, 10), (0, 11)) == pytest.approx(degree)
    assert great_circle_miles((89, 0), (89, 180)) == pytest.approx(2 * degree)


@given(POINTS, POINTS)
def test_the_great_circle_is_the_angle_between_the_places_vectors(
    a: tuple[float, float], b: tuple[float, float]
) -> None:
    def vector(point: tuple[float, float]) -> np.ndarray:
        north, east = map(math.radians, point)
        return np.array(
            [math.cos(north) * math.cos(east), math.cos(north) * math.sin(east), math.sin(north)]
        )

    across, along = np.linalg.norm(np.cross(vector(a), vector(b))), vector(a) @ vector(b)
    angle = math.atan2(float(across), float(along))

    assert great_circle_miles(a, b) == pytest.approx(EARTH_MILES * angle, abs=1e-3)


def test_miles_are_rounded_half_up_and_minutes_up() -> None:
    whole = great_circle_miles(LINCOLN, OMAHA)

    legs = great_circle_legs([LINCOLN, OMAHA], 1.4, 55)

    assert legs.miles == ((0, round(140 * whole)), (round(140 * whole), 0))
    assert legs.minutes == ((0, math.ceil(84 * whole / 55)), (math.ceil(84 * whole / 55), 0))


def test_the_study_has_the_same_legs_reckoned_apart() -> None:
    order = study_order(93, 1)
    points = [(s.latitude, s.longitude) for s in order.stands]
    points += [(d.latitude, d.longitude) for d in order.depots]

    assert order.from_on == FROM_ON
    assert great_circle_legs(points, 1.4, 55) == (order.miles, order.minutes)


def test_a_table_may_differ_between_there_and_back() -> None:
    legs = table_legs(["b", "a"], TABLE, {("a", "b"): 20, ("b", "a"): 25})

    assert legs.miles == ((0, 1300), (1250, 0))
    assert legs.minutes == ((0, 25), (20, 0))


def test_what_a_table_lacks_is_named_in_the_order_of_the_places() -> None:
    assert list(unknown_legs(["a", "b", "c", "d"], TABLE)) == [
        ("a", "d"),
        ("b", "c"),
        ("b", "d"),
        ("c", "d"),
        ("d", "a"),
        ("d", "b"),
        ("d", "c"),
    ]
    assert list(unknown_legs(["a", "b"], TABLE)) == []
