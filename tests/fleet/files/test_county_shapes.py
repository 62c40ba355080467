"""Are the shipped boundaries those of the counties, in the right places and of the right areas?

`nebraska_topology.json` holds the counties of Nebraska as the source has them (its first field
says from where), so that the shipped file can be made again and measured.
"""

from __future__ import annotations

import csv
import json
import math
import re
from collections import defaultdict
from functools import cache
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from fleet.files.boundaries.build import WIDTH, albers, states_of, write
from fleet.files.county_shapes import StateShapes, county_shapes

Point = tuple[float, float]
Pixel = tuple[int, int]
ROOT = Path(__file__).resolve().parents[3]
BOUNDARIES = ROOT / "fleet/files/boundaries"
SOURCE = Path(__file__).with_name("nebraska_topology.json")
STATES = sorted(path.stem[3:] for path in BOUNDARIES.glob("US-*.json"))
PATH = re.compile(r"(M\d+ \d+l-?\d+([ -]\d+| -\d+){3,}z)+")


def shapes_of(state: str) -> StateShapes:
    found = county_shapes("US", state)
    assert found is not None
    return found


def rings(path: str) -> list[list[Pixel]]:
    """The rings of an SVG path of the form M..l..z, whose steps are relative."""
    found = []
    for ring in path.removesuffix("z").split("z"):
        numbers = [int(number) for number in re.findall(r"-?\d+", ring)]
        points = [(0, 0)]
        for dx, dy in zip(numbers[::2], numbers[1::2], strict=True):
            points.append((points[-1][0] + dx, points[-1][1] + dy))
        found.append(points[1:])
    return found


def edges(path: str) -> list[frozenset[Pixel]]:
    """The sides of a path's rings, which have no direction."""
    return [frozenset(side) for ring in rings(path) for side in pairwise([*ring, ring[0]])]


def area(points: list[Point]) -> float:
    """By the shoelace formula."""
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in pairwise([*points, points[0]]))) / 2


def area_on_sphere(points: list[Point]) -> float:
    """In squared radii, between great circles: a fan of triangles, each by its solid angle.

    A. van Oosterom and J. Strackee, The Solid Angle of a Plane Triangle, 1983. It shares nothing
    with the projection.
    """
    unit = []
    for longitude, latitude in points:
        east, north = math.radians(longitude), math.radians(latitude)
        flat = math.cos(north)
        unit.append((flat * math.cos(east), flat * math.sin(east), math.sin(north)))
    return abs(sum(solid_angle(unit[0], b, c) for b, c in pairwise(unit[1:])))


def solid_angle(a: tuple[float, ...], b: tuple[float, ...], c: tuple[float, ...]) -> float:
    def dot(p: tuple[float, ...], q: tuple[float, ...]) -> float:
        return sum(m * n for m, n in zip(p, q, strict=True))

    cross = (b[1] * c[2] - b[2] * c[1], b[2] * c[0] - b[0] * c[2], b[0] * c[1] - b[1] * c[0])
    return 2 * math.atan2(dot(a, cross), 1 + dot(a, b) + dot(b, c) + dot(c, a))


def is_inside(point: Point, path: str) -> bool:
    """By counting the sides that a ray to the right crosses."""
    inside = False
    for ring in rings(path):
        for (x1, y1), (x2, y2) in pairwise([*ring, ring[0]]):
            if (y1 > point[1]) != (y2 > point[1]):
                inside ^= point[0] < (x2 - x1) * (point[1] - y1) / (y2 - y1) + x1
    return inside


@cache
def nebraska_in_degrees() -> dict[str, list[Point]]:
    """The outline of each county by its code, decoded here a second time.

    By the TopoJSON specification: steps are added up, ~n is arc n backwards, and the point where
    two arcs meet stands in both. No county of Nebraska has an island or a hole.
    """
    topology = json.loads(SOURCE.read_text(encoding="utf-8"))
    (kx, ky), (tx, ty) = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs: list[list[Point]] = []
    for steps in topology["arcs"]:
        xs = [sum(step[0] for step in steps[: n + 1]) for n in range(len(steps))]
        ys = [sum(step[1] for step in steps[: n + 1]) for n in range(len(steps))]
        arcs.append([(x * kx + tx, y * ky + ty) for x, y in zip(xs, ys, strict=True)])
    outlines: dict[str, list[Point]] = {}
    for county in topology["objects"]["counties"]["geometries"]:
        (ring,) = county["arcs"]
        walked = [arcs[n] if n >= 0 else arcs[~n][::-1] for n in ring]
        outlines[county["id"]] = [point for arc in walked for point in arc[:-1]]
    return outlines


def square(code: str, name: str, *arcs: int) -> dict[str, Any]:
    return {"id": code, "type": "Polygon", "arcs": [list(arcs)], "properties": {"name": name}}


def topology_of(*counties: dict[str, Any]) -> dict[str, Any]:
    """Two squares of one degree that share arc 0, and a speck in the middle of the western one."""
    return {
        "transform": {"scale": [0.0001, 0.0001], "translate": [-100, 40]},
        "arcs": [
            [[10_000, 0], [0, 10_000]],
            [[10_000, 10_000], [-10_000, 0], [0, -10_000], [10_000, 0]],
            [[10_000, 0], [10_000, 0], [0, 10_000], [-10_000, 0]],
            [[5_000, 5_000], [1, 0], [0, 1], [-1, -1]],
        ],
        "objects": {"counties": {"geometries": counties}},
    }


def test_every_county_of_fifty_states_and_the_district_is_there() -> None:
    counts = {state: len(shapes_of(state).counties) for state in STATES}
    assert len(STATES) == 51
    # The Census Bureau counted 3,142 counties and their equivalents in 2017.
    assert sum(counts.values()) == 3_142
    assert (counts["NE"], counts["VA"], counts["CT"], counts["DC"]) == (93, 133, 8, 1)


@pytest.mark.parametrize("state", STATES)
def test_paths_parse_and_stay_on_the_picture(state: str) -> None:
    shapes = shapes_of(state)
    assert shapes.width == WIDTH
    for county in shapes.counties:
        assert PATH.fullmatch(county.path), county.name
        for ring in rings(county.path):
            xs, ys = zip(*ring, strict=True)
            assert 0 <= min(xs) <= max(xs) <= shapes.width, county.name
            assert 0 <= min(ys) <= max(ys) <= shapes.height, county.name


@pytest.mark.parametrize("state", STATES)
def test_no_two_counties_of_a_state_have_one_name_or_code(state: str) -> None:
    counties = shapes_of(state).counties
    assert len({county.name.casefold() for county in counties}) == len(counties)
    assert len({county.code for county in counties}) == len(counties)


@pytest.mark.parametrize(
    ("country", "state"), [("US", "ZZ"), ("CA", "ON"), ("US", "../NE"), ("", "")]
)
def test_another_place_has_no_map(country: str, state: str) -> None:
    assert county_shapes(country, state) is None


def test_a_file_is_read_once() -> None:
    assert county_shapes("US", "NE") is county_shapes("US", "NE")


def test_the_shipped_file_is_what_the_script_makes_of_the_source(tmp_path: Path) -> None:
    (tmp_path / "counties-10m.json").write_bytes(SOURCE.read_bytes())
    write(tmp_path, tmp_path)
    assert (tmp_path / "US-NE.json").read_bytes() == (BOUNDARIES / "US-NE.json").read_bytes()


def test_the_projection_keeps_the_area_of_every_county() -> None:
    outlines = nebraska_in_degrees()
    project = albers(point for outline in outlines.values() for point in outline)
    for code, outline in outlines.items():
        flat = area([project(point) for point in outline])
        assert flat == pytest.approx(area_on_sphere(outline), rel=1e-3), code


def test_the_standard_parallels_keep_their_length_and_north_is_up() -> None:
    """On a standard parallel the scale is 1 (Snyder, section 14): Δx is Δλ·cos φ."""
    south, north = 40.0, 43.0
    project = albers([(-104.0, south), (-95.0, north)])
    for part in (1 / 6, 5 / 6):
        latitude = south + part * (north - south)
        (x1, y1), (x2, y2) = project((-99.51, latitude)), project((-99.49, latitude))
        wanted = math.radians(0.02) * math.cos(math.radians(latitude))
        assert math.hypot(x2 - x1, y2 - y1) == pytest.approx(wanted, rel=1e-6)
    assert project((-99.5, 42.0))[1] > project((-99.5, 41.0))[1]


def test_every_centre_that_is_kept_of_a_county_lies_in_its_shape() -> None:
    """The centres are from another source (demo_data/SOURCES.md)."""
    lines = (ROOT / "demo_data/nebraska_counties.csv").read_text(encoding="utf-8").splitlines()
    centres = {row["fips"]: row for row in csv.DictReader(lines)}
    shapes = {county.code: county for county in shapes_of("NE").counties}
    assert shapes.keys() == centres.keys()
    points = [point for outline in nebraska_in_degrees().values() for point in outline]
    project = albers(points)
    xs, ys = zip(*map(project, points), strict=True)
    size = (WIDTH - 4) / (max(xs) - min(xs))
    for code, row in centres.items():
        assert shapes[code].name == row["county"]
        x, y = project((float(row["longitude"]), float(row["latitude"])))
        place = ((x - min(xs)) * size + 2, (max(ys) - y) * size + 2)
        assert is_inside(place, shapes[code].path), row["county"]


def test_neighbours_share_their_border_and_no_gap_opens() -> None:
    """Sides of one county alone make one closed line, the state's; a gap would make another."""
    owners: dict[frozenset[Pixel], int] = defaultdict(int)
    for county in shapes_of("NE").counties:
        for side in edges(county.path):
            owners[side] += 1
    assert set(owners.values()) == {1, 2}
    ends: dict[Pixel, set[Pixel]] = defaultdict(set)
    for a, b in (tuple(side) for side, count in owners.items() if count == 1):
        ends[a].add(b)
        ends[b].add(a)
    assert {len(others) for others in ends.values()} == {2}
    seen, ahead = set(), [min(ends)]
    while ahead:
        point = ahead.pop()
        seen.add(point)
        ahead += ends[point] - seen
    assert seen == ends.keys()


def test_a_topology_is_read_by_its_steps_and_its_arcs_both_ways() -> None:
    west, east = square("31001", "West", 0, 1), square("31003", "East", 2, -1)
    elsewhere = square("72001", "Not here", 0, 1)
    (state,) = states_of(topology_of(west, east, elsewhere)).values()
    assert [county["name"] for county in state["counties"]] == ["West", "East"]
    one, other = (county["path"] for county in state["counties"])
    assert len(set(edges(one)) & set(edges(other))) == 1
    assert len(rings(one)[0]) == len(rings(other)[0]) == 4


def test_a_county_smaller_than_a_pixel_keeps_a_mark() -> None:
    around, speck = square("51059", "Around", 0, 1), square("51610", "Speck", 3)
    state = states_of(topology_of(around, speck))["VA"]
    path = state["counties"][1]["path"]
    xs, ys = zip(*rings(path)[0], strict=True)
    assert (max(xs) - min(xs), max(ys) - min(ys)) == (2, 2)
    assert is_inside((sum(xs) / len(xs), sum(ys) / len(ys)), state["counties"][0]["path"])


def test_an_independent_city_is_told_from_the_county_of_its_name() -> None:
    baltimore, city = square("24005", "Baltimore", 0, 1), square("24510", "Baltimore", 2, -1)
    (state,) = states_of(topology_of(city, baltimore)).values()
    assert [county["name"] for county in state["counties"]] == ["Baltimore", "Baltimore city"]


def test_a_state_across_the_date_line_is_not_torn_apart() -> None:
    shapes = shapes_of("AK")
    (westernmost,) = (county for county in shapes.counties if county.code == "02016")
    xs = [x for ring in rings(westernmost.path) for x, _ in ring]
    assert min(xs) == 2
    assert max(xs) < shapes.width / 2
