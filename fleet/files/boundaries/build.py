"""How are the files of boundaries made? `python -m fleet.files.boundaries.build FOLDER`

FOLDER is the unpacked npm package us-atlas 3.0.1, with its counties-10m.json: each state on
Albers' equal-area projection of a sphere, with standard parallels at 1/6 and 5/6 of its own span of
latitudes (J. P. Snyder, Map Projections: A Working Manual, U.S. Geological Survey Professional
Paper 1395, 1987, section 14), in whole pixels of a picture 720 wide. Neighbours share their arcs,
so that no gap opens between them.
"""

from __future__ import annotations

import json
import math
import sys
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Any, Final

__all__ = ["WIDTH", "albers", "paths_of", "states_of", "write"]

WIDTH: Final = 720
_STATES: Final = {
    "01": "AL", "02": "AK", "04": "AZ", "05": "AR", "06": "CA", "08": "CO", "09": "CT", "10": "DE",
    "11": "DC", "12": "FL", "13": "GA", "15": "HI", "16": "ID", "17": "IL", "18": "IN", "19": "IA",
    "20": "KS", "21": "KY", "22": "LA", "23": "ME", "24": "MD", "25": "MA", "26": "MI", "27": "MN",
    "28": "MS", "29": "MO", "30": "MT", "31": "NE", "32": "NV", "33": "NH", "34": "NJ", "35": "NM",
    "36": "NY", "37": "NC", "38": "ND", "39": "OH", "40": "OK", "41": "OR", "42": "PA", "44": "RI",
    "45": "SC", "46": "SD", "47": "TN", "48": "TX", "49": "UT", "50": "VT", "51": "VA", "53": "WA",
    "54": "WV", "55": "WI", "56": "WY",
}  # fmt: skip
"""By the first two digits of a county's FIPS code."""

Point = tuple[float, float]
Project = Callable[[Point], Point]


def albers(points: Iterable[Point]) -> Project:
    """The projection for some points: longitude and latitude in degrees to x and y in radii.

    y grows to the north. The longitudes must not span the date line.
    """
    longitudes, latitudes = zip(*points, strict=True)
    south, north = min(latitudes), max(latitudes)
    first, second = (math.radians(south + part * (north - south)) for part in (1 / 6, 5 / 6))
    middle = math.radians((min(longitudes) + max(longitudes)) / 2)
    n = (math.sin(first) + math.sin(second)) / 2
    c = math.cos(first) ** 2 + 2 * n * math.sin(first)
    base = math.sqrt(c - 2 * n * math.sin(math.radians((south + north) / 2))) / n

    def project(point: Point) -> Point:
        turn = n * (math.radians(point[0]) - middle)
        radius = math.sqrt(c - 2 * n * math.sin(math.radians(point[1]))) / n
        return radius * math.sin(turn), base - radius * math.cos(turn)

    return project


def states_of(topology: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """What is written of each state, by its two letters: width, height, and its counties."""
    scale, shift = topology["transform"]["scale"], topology["transform"]["translate"]
    arcs = [_degrees(arc, scale, shift) for arc in topology["arcs"]]
    counties: dict[str, list[dict[str, Any]]] = defaultdict(list)
    for county in topology["objects"]["counties"]["geometries"]:
        if county["id"][:2] in _STATES:
            counties[_STATES[county["id"][:2]]].append(county)
    return {state: paths_of(some, arcs) for state, some in sorted(counties.items())}


def _degrees(arc: Sequence[Sequence[int]], scale: Point, shift: Point) -> list[Point]:
    """The points of an arc, which is kept as steps from one to the next."""
    x = y = 0
    points = []
    for step in arc:
        x, y = x + step[0], y + step[1]
        longitude = x * scale[0] + shift[0]
        # Alaska reaches over the date line: its far islands lie west of the others.
        points.append((longitude - 360 if longitude > 0 else longitude, y * scale[1] + shift[1]))
    return points


def paths_of(counties: Sequence[dict[str, Any]], arcs: Sequence[Sequence[Point]]) -> dict[str, Any]:
    """One state's picture: its size in pixels, and each county's code, name and path."""
    used = {_plain(n) for county in counties for ring in _rings(county) for n in ring}
    project = albers(point for number in used for point in arcs[number])
    flat = {number: [project(point) for point in arcs[number]] for number in used}
    xs = [x for points in flat.values() for x, _ in points]
    ys = [y for points in flat.values() for _, y in points]
    size = (WIDTH - 4) / (max(xs) - min(xs))
    pixels = {
        number: [
            (round((x - min(xs)) * size) + 2, round((max(ys) - y) * size) + 2) for x, y in some
        ]
        for number, some in flat.items()
    }
    made = [
        {
            "code": county["id"],
            "name": _name(county, counties),
            "path": "".join(_path(ring, pixels) for ring in _rings(county))
            or _speck(pixels[_plain(_rings(county)[0][0])][0]),
        }
        for county in sorted(counties, key=lambda one: str(one["id"]))
    ]
    height = round((max(ys) - min(ys)) * size) + 4
    return {"width": WIDTH, "height": height, "counties": made}


def _name(county: dict[str, Any], counties: Sequence[dict[str, Any]]) -> str:
    """A county's name; that of an independent city says so where a county is called the same.

    The source calls both 'Baltimore'. Independent cities have codes from 510 on (ANSI INCITS 31).
    """
    name = str(county["properties"]["name"])
    alike = sum(one["properties"]["name"] == name for one in counties)
    return f"{name} city" if alike > 1 and county["id"][2:] >= "510" else name


def _plain(number: int) -> int:
    """An arc's number; a negative one is the arc walked backwards (TopoJSON 2.1.4)."""
    return ~number if number < 0 else number


def _rings(county: dict[str, Any]) -> list[list[int]]:
    if county["type"] == "Polygon":
        return list(county["arcs"])
    return [ring for polygon in county["arcs"] for ring in polygon]


def _path(ring: Sequence[int], pixels: dict[int, list[tuple[int, int]]]) -> str:
    """A ring as an SVG path in steps; '' for one that is smaller than a pixel."""
    points: list[tuple[int, int]] = []
    for number in ring:
        arc = pixels[_plain(number)]
        points += arc[::-1] if number < 0 else arc
    kept = [p for p, before in zip(points, [None, *points], strict=False) if p != before]
    if len(set(kept)) < 3:
        return ""
    steps = [f"{b[0] - a[0]} {b[1] - a[1]}" for a, b in pairwise(kept[:-1])]
    return f"M{kept[0][0]} {kept[0][1]}l{' '.join(steps)}z".replace(" -", "-")


def _speck(point: tuple[int, int]) -> str:
    """A mark two pixels wide, for a county that is smaller than one (Falls Church, Virginia)."""
    return f"M{point[0] - 1} {point[1]}l1-1 1 1-1 1z"


def write(source: Path, target: Path) -> None:
    """Write a file a state into the folder target, from the folder source."""
    topology = json.loads((source / "counties-10m.json").read_text(encoding="utf-8"))
    for state, told in states_of(topology).items():
        text = json.dumps(told, separators=(",", ":")) + "\n"
        (target / f"US-{state}.json").write_text(text, encoding="utf-8", newline="\n")


if __name__ == "__main__":
    if len(sys.argv) != 2:
        sys.exit("Say where the unpacked us-atlas is: fleet.files.boundaries.build FOLDER")
    write(Path(sys.argv[1]), Path(__file__).parent)
