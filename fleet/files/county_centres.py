"""Where does a county have its centre (`counties/centres.csv`; its source stands beside it)?"""

from __future__ import annotations

import csv
from functools import cache
from importlib import resources

__all__ = ["county_centres"]


@cache
def county_centres() -> dict[tuple[str, str, str], tuple[float, float]]:
    """Latitude and longitude in degrees by country, subdivision and county, casefolded."""
    table = resources.files("fleet.files").joinpath("counties", "centres.csv")
    return {
        (row["country"], row["subdivision"], row["county"].casefold()): (
            float(row["latitude"]),
            float(row["longitude"]),
        )
        for row in csv.DictReader(table.read_text(encoding="utf-8").splitlines())
    }
