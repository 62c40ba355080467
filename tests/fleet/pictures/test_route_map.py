"""A map of the trips is true to the places, draws each trip once, and takes whatever names come."""

from __future__ import annotations

import datetime as dt
import math
from itertools import combinations, pairwise

import pytest

from fleet.pictures.plan_words import PlanWords, SiteWords
from fleet.pictures.route_map import MOST_LINES, month_maps, route_map
from schedules.visits.model import Plan
from tests.fleet.pictures.made import (
    HOME,
    PLACES,
    a_plan,
    an_order,
    great_circle_miles,
    many_trips,
    some_words,
)
from tests.fleet.pictures.svg_read import (
    Node,
    boxes,
    called,
    dots,
    groups,
    lines,
    outside,
    read,
    texts,
)

EMPTY = Plan(())


def drawn(month: dt.date | None = None) -> Node:
    return read(route_map(an_order(), a_plan(), some_words(), month=month))


def site_at(root: Node) -> dict[str, tuple[float, float]]:
    return {called(group): dots(group)[:2] for group in groups(root, "site")}


def test_every_trip_is_drawn_once_and_says_what_it_is() -> None:
    assert [called(group) for group in groups(drawn(), "trip")] == [
        "Trip 1, Robin Mossgrove, from Tuesday 2 March 2027: 1 visit, 2 services",
        "Trip 2, Dana Lark, from Wednesday 10 March 2027: 2 visits, 2 services",
        "Trip 3, Robin Mossgrove, from Wednesday 31 March 2027: 2 visits, 2 services",
    ]


def test_a_trip_goes_from_its_depot_through_its_stops_and_back() -> None:
    root = drawn()
    (depot,) = groups(root, "depot")
    (left, top, wide, high), *_ = boxes(depot)
    home = (left + wide / 2, top + high / 2)
    way = lines(groups(root, "trip")[1])[0]
    for found, place in ((way[0], home), (way[-1], home)):
        assert math.dist(found, place) < 0.02
    stops = [site_at(root)[name] for name in ("Birch lab", "Cedar lab")]
    turns = [[math.dist(point, stop) < 0.02 for point in way].index(True) for stop in stops]
    assert turns == sorted(turns)


def test_a_site_without_a_visit_is_hollow() -> None:
    fills = {called(group): dots(group)[2] for group in groups(drawn(), "site")}
    assert fills == {
        "Ash lab": "#000000",
        "Birch lab": "#000000",
        "Cedar lab": "#000000",
        "Elm lab": "#ffffff",
    }


def test_north_is_up_and_miles_are_those_of_the_scale_bar() -> None:
    """Against the great circle by the haversine formula: within 1.5 % over a state's extent."""
    root = drawn()
    (scale,) = groups(root, "scale")
    (told,) = texts(scale)
    (left, _), (right, _) = lines(scale)[0]
    mile = (right - left) / int(told.removesuffix(" miles"))
    places = site_at(root)
    for one, other in combinations(PLACES, 2):
        here, there = places[f"{one.title()} lab"], places[f"{other.title()} lab"]
        miles = great_circle_miles(PLACES[one], PLACES[other])
        assert math.dist(here, there) / mile == pytest.approx(miles, rel=0.015)
        assert (here[1] < there[1]) == (PLACES[one][0] > PLACES[other][0])
        assert (here[0] < there[0]) == (PLACES[one][1] < PLACES[other][1])


def test_the_number_of_a_trip_stands_by_its_farthest_stop() -> None:
    root = drawn()
    places = site_at(root)
    for group, site in zip(
        groups(root, "number"), ("Ash lab", "Cedar lab", "Cedar lab"), strict=True
    ):
        ((left, top, wide, high),) = boxes(group)
        assert math.dist((left + wide / 2, top + high / 2), places[site]) < 12


def test_lines_of_one_map_differ_also_without_their_colours_from_the_next() -> None:
    root = read(
        route_map(an_order(units=28), a_plan(an_order(units=28), many_trips(28)), some_words())
    )
    looks = [
        (node.get("stroke"), node.get("stroke-dasharray"))
        for group in groups(root, "trip")
        for node in group
        if node.get("points")
    ]
    assert len(set(looks)) == MOST_LINES == len(looks)
    assert all(one[1] != other[1] for one, other in pairwise(looks))


def test_a_month_shows_the_trips_that_start_in_it() -> None:
    april = read(route_map(an_order(), a_plan(), some_words(), month=dt.date(2027, 4, 12)))
    march = drawn(dt.date(2027, 3, 31))
    assert len(groups(march, "trip")) == 3
    assert groups(april, "trip") == []
    assert texts(april)[:2] == [
        "Two months of visits, April 2027",
        "0 trips, 0 visits, 0 services, 0 miles",
    ]


def test_more_trips_than_lines_can_be_told_apart_are_a_map_a_month() -> None:
    order = an_order(units=40)
    text = route_map(order, a_plan(order, many_trips(36)), some_words())
    root = read(text)
    assert [called(group).split(":")[0] for group in groups(root, "month")] == [
        "March 2027",
        "April 2027",
    ]
    assert len(groups(root, "trip")) == 36
    assert list(outside(root)) == []
    assert text == month_maps(order, a_plan(order, many_trips(36)), some_words())


@pytest.mark.parametrize(
    ("sites", "plan"),
    [
        (PLACES, EMPTY),
        ({"ash": (41.0, -97.0)}, EMPTY),
        ({}, EMPTY),
        ({"ash": (HOME[1], HOME[2])}, EMPTY),
        (PLACES, None),
    ],
    ids=["no trip", "one site", "no site", "a site at the depot", "three trips"],
)
def test_nothing_leaves_the_sheet(sites: dict[str, tuple[float, float]], plan: Plan | None) -> None:
    order = an_order(sites)
    root = read(route_map(order, a_plan(order, plan), some_words()))
    assert len(groups(root, "site")) == len(sites)
    assert list(outside(root)) == []


def test_names_are_escaped_and_long_ones_stand_under_their_short_name() -> None:
    long = "Reed County Regional Laboratory of Public Health, North Wing"
    sites = {"ash": SiteWords(name='A<b> & "c"\x00\x1b'), "birch": SiteWords(name=long)}
    words = PlanWords(title="</text><script>alert(1)</script>" * 4, sites=sites)
    text = route_map(an_order(), a_plan(), words)
    root = read(text)
    assert "<script" not in text
    assert {called(group) for group in groups(root, "site")} >= {'A<b> & "c"??', long}
    assert {'A<b> & "c"??', "birch"} <= set(texts(root))
    assert texts(root)[0].endswith("…")


def test_a_state_on_both_sides_of_180_degrees_is_drawn_whole() -> None:
    places = {"west": (52.0, 179.0), "east": (52.5, -178.0)}
    order = an_order(places, home=("Oak depot", 52.2, -179.5))
    at = site_at(read(route_map(order, a_plan(order, EMPTY), PlanWords(title="Islands"))))
    assert 100 < at["east"][0] - at["west"][0] < 250


def test_the_same_plan_is_the_same_text() -> None:
    assert route_map(an_order(), a_plan(), some_words()) == route_map(
        an_order(), a_plan(), some_words()
    )
