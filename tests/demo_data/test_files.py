"""Are the demo's files what the build makes, small, well formed and invented?"""

from __future__ import annotations

import csv
import datetime as dt
import math
from collections import Counter
from pathlib import Path

import pytest

import demo_data
from demo_data.build import build
from demo_data.scenario.opening import is_open, public_holidays
from schedules.rulebook import shipped_book
from tests import outside
from tests.demo_data.as_reference import day, keys, table

_ENDS = ("from", "to")

# By the time zone polygons of timezonefinder 9.0.0 and the postal codes of zipcodes 3.0.0, see
# demo_data/SOURCES.md; Cherry is divided, its centre lies here.
_ON_MOUNTAIN_TIME = {
    "Arthur", "Banner", "Box Butte", "Chase", "Cherry", "Cheyenne", "Dawes", "Deuel", "Dundy",
    "Garden", "Grant", "Hooker", "Keith", "Kimball", "Morrill", "Perkins", "Scotts Bluff",
    "Sheridan", "Sioux",
}  # fmt: skip

# Town points of tests/vectors/nebraska_pairs.csv and the county each lies in (county seats: public
# geography, from memory).
_COUNTY_OF_TOWN = {
    "Lincoln": "Lancaster",
    "Omaha": "Douglas",
    "Scottsbluff": "Scotts Bluff",
    "North Platte": "Lincoln",
}


def _rows(path: Path) -> list[dict[str, str]]:
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def test_the_committed_files_equal_a_rebuild() -> None:
    made = build()
    root = Path(str(demo_data.files())).parent

    kept = {path.relative_to(root).as_posix() for path in root.rglob("files/*.csv")}
    assert kept | {"planted.csv"} == set(made)
    stale = [name for name, text in made.items() if (root / name).read_bytes() != text.encode()]
    assert stale == [], "run python -m demo_data.build"


def test_the_files_stay_small() -> None:
    sizes = [len(part.read_bytes()) for part in demo_data.files().iterdir()]

    assert sum(sizes) < 2_500_000
    assert 10_000 < len(table("entries")) <= 150_000


def test_there_is_one_site_for_each_of_the_93_counties() -> None:
    """The Census Bureau numbers Nebraska's counties 31001 to 31185, odd numbers only."""
    counties = _rows(Path(demo_data.__file__).parent / "nebraska_counties.csv")

    assert [row["fips"] for row in counties] == [str(31000 + n) for n in range(1, 186, 2)]
    assert [row["county"] for row in table("sites")] == [row["county"] for row in counties]
    assert len({row["site"] for row in table("sites")}) == 93


def test_nineteen_centres_lie_in_mountain_time_and_the_rest_in_central() -> None:
    zones = {row["county"]: row["time_zone"] for row in table("sites")}

    assert set(zones.values()) == {"America/Chicago", "America/Denver"}
    west = {county for county, zone in zones.items() if zone == "America/Denver"}
    assert west == _ON_MOUNTAIN_TIME


@pytest.mark.parametrize(("town", "county"), _COUNTY_OF_TOWN.items())
def test_a_town_lies_near_its_countys_centre(town: str, county: str) -> None:
    pairs = outside.rows("nebraska_pairs")
    points = {row[end]: (row[f"{end}_lat"], row[f"{end}_lon"]) for row in pairs for end in _ENDS}
    latitude, longitude = map(float, points[town])
    (site,) = [row for row in table("sites") if row["county"] == county]

    north = (float(site["latitude"]) - latitude) * 111.2
    east = (float(site["longitude"]) - longitude) * 111.2 * math.cos(math.radians(latitude))
    assert math.hypot(north, east) < 25  # kilometres; counties are about 40 km wide


def test_the_storys_holidays_hold_those_of_the_statute() -> None:
    """tests/vectors/nebraska_holidays.csv: Neb. Rev. Stat. 62-301(1), check values C-16 to C-21."""
    statute = outside.rows("nebraska_holidays")
    missing = [
        row["observed_date"]
        for row in statute
        if day(row["observed_date"]) not in public_holidays(day(row["observed_date"]).year)
        and row["observed_date"] != "2027-12-31"
    ]

    assert len(statute) == 52
    assert missing == []


def test_a_year_in_nebraska_has_248_open_days() -> None:
    """Check value B-33: 248 working days in 2026 by the statute."""
    days = [dt.date(2026, 1, 1) + dt.timedelta(days=n) for n in range(365)]

    assert sum(is_open("adams", on) for on in days) == 248


def test_there_are_about_280_units_of_at_least_eight_kinds() -> None:
    kinds = Counter(row["kind"] for row in table("units"))

    assert 270 <= kinds.total() <= 290
    assert len(kinds) >= 8
    assert set(kinds) <= set(shipped_book().kinds)
    assert len({row["property_number"] for row in table("units")}) == kinds.total()


def test_every_row_names_what_exists() -> None:
    sites = {row["site"] for row in table("sites")}
    units = {row["property_number"]: row for row in table("units")}
    book = shipped_book()

    unknown = [
        row
        for name in ("patterns", "holidays", "closures", "units", "placements", "people")
        for row in table(name)
        if row["site"] not in sites | {""}
    ]
    unknown += [
        row for name in ("placements", "outages") for row in table(name)
        if row["property_number"] not in units
    ]  # fmt: skip
    tasks = {
        (number, task)
        for number, unit in units.items()
        for task in book.kinds[unit["kind"]].tasks(unit["model"])
    }
    unknown += [r for r in table("entries") if (r["property_number"], r["task"]) not in tasks]
    assert unknown == []


def test_every_entry_has_a_key_of_its_own_and_corrections_name_an_earlier_one() -> None:
    found = keys()

    assert len(set(found)) == len(found)
    struck = [row["strikes"] for row in table("entries") if row.get("strikes")]
    assert len(struck) == 2
    assert set(struck) <= set(found)


def test_nothing_is_dated_after_the_last_day_or_long_before_the_record() -> None:
    days = [day(row["on"]) for row in table("entries")]

    assert min(days) > dt.date(2023, 1, 1)
    assert max(days) == dt.date(2026, 11, 24)


def test_every_address_is_invented_and_every_deputy_is_somebody() -> None:
    people = table("people")
    addresses = {row["email"] for row in people}
    given = [row["deputy"] for row in people if row["deputy"]]
    given += [row["lead_email"] for row in table("sites")]

    assert [each for each in addresses if not each.endswith(".example")] == []
    assert set(given) <= addresses


def test_each_region_has_one_consultant_and_each_site_one_lead() -> None:
    people = table("people")
    regions = Counter(row["region"] for row in people if row["role"] == "consultant")
    leads = Counter(row["site"] for row in people if row["role"] == "site lead")

    assert regions == Counter({row["region"] for row in table("sites")})
    assert leads == Counter(row["site"] for row in table("sites"))
    assert sum(row["role"] == "manager" for row in people) == 1
