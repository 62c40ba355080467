"""Are the shipped boundaries those of the counties, in the right places and of the right areas?"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from fleet.files.boundaries.build import albers, states_of
from fleet.files.county_shapes import StateShapes, county_shapes

Point = tuple[float, float]
Project = Callable[[Point], Point]
ROOT = Path(__file__).resolve().parents[3]
STATES = sorted(path.stem[3:] for path in (ROOT / "fleet/files/boundaries").glob("US-*.json"))


def rings(path: str) -> list[list[Point]]:
    """The rings of an SVG path of the form M..l..z, whose steps are relative."""
    found = []
    for start, steps in re.findall(r"M([\d.]+ ?-?[\d.]+)l([^z]*)z", path):
        numbers = [int(n) for n in re.findall(r"-?\d+", f"{start} {steps}")]
        pairs = list(zip(numbers[::2], numbers[1::2], strict=True))
        x, y = pairs[0]
        points = [(float(x), float(y))]
        for dx, dy in pairs[1:]:
            x, y = x + dx, y + dy
            points.append((float(x), float(y)))
        found.append(points)
    return found


def area(points: list[Point]) -> float:
    """By the shoelace formula."""
    ahead = [*points[1:], points[0]]
    return abs(sum(a[0] * b[1] - b[0] * a[1] for a, b in zip(points, ahead, strict=True))) / 2


def is_inside(point: Point, path: str) -> bool:
    """By counting crossings of a ray (W. R. Franklin's point in polygon)."""
    inside = False
    for ring in rings(path):
        for (x1, y1), (x2, y2) in zip(ring, [*ring[1:], ring[0]], strict=True):
            if (y1 > point[1]) != (y2 > point[1]):
                inside ^= point[0] < (x2 - x1) * (point[1] - y1) / (y2 - y1) + x1
    return inside


def nebraska() -> StateShapes:
    found = county_shapes("US", "NE")
    assert found is not None
    return found


def test_fifty_states_and_the_district_have_their_counties() -> None:
    assert len(STATES) == 51
    counts = {state: len(county_shapes("US", state).counties) for state in STATES}  # type: ignore[union-attr]
    # Numbers of counties and their equivalents in the Census Bureau's edition of 2017, by memory:
    # they are compared with nothing but a whole.
    assert counts["NE"] == 93
    assert 3_130 <= sum(counts.values()) <= 3_150


@pytest.mark.parametrize(
    ("country", "state"), [("US", "ZZ"), ("CA", "ON"), ("US", "../NE"), ("", "")]
)
def test_another_place_has_no_map(country: str, state: str) -> None:
    assert county_shapes(country, state) is None


def test_every_centre_that_is_kept_of_a_county_lies_in_its_shape() -> None:
    """The centres are from another source (demo_data/SOURCES.md)."""
    lines = (ROOT / "demo_data/nebraska_counties.csv").read_text(encoding="utf-8").splitlines()
    centres = {row["fips"]: row for row in csv.DictReader(lines)}
    shapes = {county.code: county for county in nebraska().counties}
    assert shapes.keys() == centres.keys()
    project, size, left, top = fitted(centres)
    for code, row in centres.items():
        assert shapes[code].name == row["county"]
        x, y = project((float(row["longitude"]), float(row["latitude"])))
        assert is_inside((x * size + left, top - y * size), shapes[code].path), row["county"]


def fitted(centres: dict[str, dict[str, str]]) -> tuple[Project, float, float, float]:
    """The projection and the scale by which the picture was made, from the picture itself.

    The least square fit of the counties' middles to their projected centres: four unknowns.
    """
    points = [(float(r["longitude"]), float(r["latitude"])) for r in centres.values()]
    project = albers([*points, (-104.053, 40.0), (-95.308, 43.0)])
    middles = {}
    for county in nebraska().counties:
        ring = max(rings(county.path), key=area)
        xs, ys = zip(*ring, strict=True)
        middles[county.code] = ((min(xs) + max(xs)) / 2, (min(ys) + max(ys)) / 2)
    flat = [project(point) for point in points]
    seen = [middles[code] for code in centres]
    fx, fy = (sum(v) / len(flat) for v in zip(*flat, strict=True))
    sx, sy = (sum(v) / len(seen) for v in zip(*seen, strict=True))
    over = sum(
        (p[0] - fx) * (s[0] - sx) - (p[1] - fy) * (s[1] - sy)
        for p, s in zip(flat, seen, strict=True)
    )
    under = sum((p[0] - fx) ** 2 + (p[1] - fy) ** 2 for p in flat)
    size = over / under
    return project, size, sx - fx * size, sy + fy * size


def test_the_projection_keeps_areas() -> None:
    """An equal-area projection (Snyder, USGS Professional Paper 1395, section 14): the area of a
    small quadrangle is that on the sphere, R²·Δλ·(sin φ2 - sin φ1), wherever it lies.
    """
    project = albers([(-104.0, 40.0), (-95.3, 43.0)])
    step = 0.05
    for longitude in (-104.0, -99.5, -95.4):
        for latitude in (40.0, 41.5, 42.9):
            corners = [(longitude, latitude), (longitude + step, latitude)]
            corners += [(longitude + step, latitude + step), (longitude, latitude + step)]
            on_sphere = math.radians(step) * (
                math.sin(math.radians(latitude + step)) - math.sin(math.radians(latitude))
            )
            assert area([project(c) for c in corners]) == pytest.approx(on_sphere, rel=1e-3)


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


def test_neighbours_share_their_border_and_no_gap_opens() -> None:
    """The shapes fill the state: their areas add up to that of its outline's box less the rest."""
    used: dict[frozenset[Point], int] = {}
    for county in nebraska().counties:
        for ring in rings(county.path):
            for edge in zip(ring, [*ring[1:], ring[0]], strict=True):
                used[frozenset(edge)] = used.get(frozenset(edge), 0) + 1
    assert max(used.values()) == 2
    inner = sum(count == 2 for count in used.values())
    assert inner > 0.6 * len(used), "most edges are between two counties"


def test_a_topology_is_read_by_its_steps_and_its_arcs_both_ways() -> None:
    """Two squares of one degree that share an arc, by the TopoJSON specification 2.1."""
    topology = {
        "transform": {"scale": [1, 1], "translate": [-100, 40]},
        "arcs": [
            [[1, 0], [0, 1]],
            [[1, 1], [-1, 0], [0, -1], [1, 0]],
            [[1, 0], [1, 0], [0, 1], [-1, 0]],
        ],
        "objects": {
            "counties": {
                "geometries": [
                    {
                        "id": "31001",
                        "type": "Polygon",
                        "arcs": [[0, 1]],
                        "properties": {"name": "West"},
                    },
                    {
                        "id": "31003",
                        "type": "Polygon",
                        "arcs": [[2, -1]],
                        "properties": {"name": "East"},
                    },
                    {
                        "id": "72001",
                        "type": "Polygon",
                        "arcs": [[0, 1]],
                        "properties": {"name": "Not here"},
                    },
                ]
            }
        },
    }
    (state,) = states_of(topology).values()
    assert state["width"] == 720
    assert [county["name"] for county in state["counties"]] == ["West", "East"]
    west, east = (rings(county["path"])[0] for county in state["counties"])
    assert len(set(west) & set(east)) == 2
    assert area(west) == pytest.approx(area(east), rel=0.02)
