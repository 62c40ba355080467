"""What shape has each county of a state (`boundaries/`; its source stands in NOTICE.txt)?"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources

__all__ = ["CountyShape", "StateShapes", "county_shapes"]


@dataclass(frozen=True, slots=True)
class CountyShape:
    """One county: its FIPS code, its name, and its outline as an SVG path in pixels."""

    code: str
    name: str
    path: str


@dataclass(frozen=True, slots=True)
class StateShapes:
    """One state's counties on a picture of so many pixels."""

    width: int
    height: int
    counties: Sequence[CountyShape]


@cache
def county_shapes(country: str, subdivision: str) -> StateShapes | None:
    """The counties of a state of the United States; None for another place."""
    if not re.fullmatch(r"[A-Z]{2}", country) or not re.fullmatch(r"[A-Z]{2}", subdivision):
        return None
    place = resources.files("fleet.files.boundaries").joinpath(f"{country}-{subdivision}.json")
    if not place.is_file():
        return None
    told = json.loads(place.read_text(encoding="utf-8"))
    counties = tuple(CountyShape(**county) for county in told["counties"])
    return StateShapes(told["width"], told["height"], counties)
