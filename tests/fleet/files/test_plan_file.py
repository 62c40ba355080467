"""Is a plan file read as it was written, and refused with every fault at once?"""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from fleet.domain.plan_file import GivenDepot, GivenTechnician, PlanFile, Roads
from fleet.errors import BadInput
from fleet.files.county_centres import county_centres
from fleet.files.plan_file import read_plan_file, read_sources
from schedules.visits.model import Depot, Prices

DEMO = Path(__file__).resolve().parents[3] / "demo_data"
PLAN = """\
[[depot]]
name = "home"
latitude = 40.7837
longitude = -96
time_zone = "America/Chicago"

[[technician]]
name = "Tatum Fenwald"
vendor = "Ovandel Service"
depot = "home"

[money]
mile = 70
hour = 9500
trip = 15000
night = 14000
visit = 4000
"""
TECHNICIAN = '[[technician]]\nname = "Robin"\nvendor = "V"\ndepot = "home"\n'


def written(folder: Path, text: str = PLAN, **others: str) -> Path:
    path = folder / "plan.toml"
    path.write_text(text, encoding="utf-8")
    for name, content in others.items():
        (folder / f"{name}.csv").write_text(content, encoding="utf-8")
    return path


def refusal(path: Path) -> list[str]:
    with pytest.raises(BadInput) as refused:
        read_plan_file(path)
    return [str(fault) for fault in refused.value.faults]


def test_what_is_left_out_is_a_plain_week_a_state_s_roads_and_four_weeks(tmp_path: Path) -> None:
    read = read_plan_file(written(tmp_path))

    assert read == PlanFile(
        file="plan.toml",
        sha256=read.sha256,
        depots=(
            GivenDepot(
                depot=Depot(depot="home", latitude=40.7837, longitude=-96.0),
                time_zone="America/Chicago",
            ),
        ),
        technicians=(
            GivenTechnician(
                name="Tatum Fenwald",
                vendor="Ovandel Service",
                depot="home",
                open_days="Mon Tue Wed Thu Fri",
                day_minutes=480,
                begins_at=dt.time(8),
                max_nights=4,
            ),
        ),
        roads=Roads(road_factor=1.4, miles_an_hour=55.0),
        prices=Prices(mile=70, hour=9500, trip=15000, night=14000, visit=4000),
        catch_up_days=28,
    )


def test_all_that_can_be_said_is_read(tmp_path: Path) -> None:
    text = (
        PLAN
        + "change = 2500\nlost_day = 100\n[roads]\nroad_factor = 1.25\nmiles_an_hour = 48.5\n"
        + "[window]\ncatch_up_days = 14\n"
        + TECHNICIAN
        + 'open_days = "Thu Mon"\nday_minutes = 540\nbegins_at = 07:30:00\nmax_nights = 0\n'
        + 'kinds = ["balance"]\ndays_off = [2027-03-15, ["2027-07-05", 2027-07-16]]\n'
        + 'holidays = { country = "us", subdivision = "Nebraska" }\n'
    )

    read = read_plan_file(written(tmp_path, text))

    assert read.technicians[1] == GivenTechnician(
        name="Robin",
        vendor="V",
        depot="home",
        open_days="Mon Thu",
        day_minutes=540,
        begins_at=dt.time(7, 30),
        max_nights=0,
        kinds=("balance",),
        days_off=(
            (dt.date(2027, 3, 15), dt.date(2027, 3, 15)),
            (dt.date(2027, 7, 5), dt.date(2027, 7, 16)),
        ),
        holidays=("US", "NE"),
    )
    assert (read.prices.change, read.prices.lost_day, read.catch_up_days) == (2500, 100, 14)
    assert read.roads == Roads(road_factor=1.25, miles_an_hour=48.5)


@pytest.mark.parametrize(
    ("old", "new", "told"),
    [
        (
            "latitude = 40.7837",
            'latitude = "north"',
            "depot 'home', latitude: 'north' is not a number from -90 to 90; write it in digits,"
            " without quotes, as 40.78",
        ),
        (
            "latitude = 40.7837\n",
            "",
            "depot 'home': there is no latitude; add it, as latitude = 40.7837",
        ),
        (
            "America/Chicago",
            "America/Chicgo",
            "depot 'home', time_zone: 'America/Chicgo' is no time zone; did you mean"
            " 'America/Chicago'?",
        ),
        (
            'depot = "home"',
            'depot = "hoem"',
            "technician 'Tatum Fenwald', depot: there is no depot 'hoem'; write one of home",
        ),
        (
            "[money]\n",
            "max_nigths = 2\n[money]\n",
            "technician 'Tatum Fenwald': 'max_nigths' is not a name of a technician; did you mean"
            " 'max_nights'?",
        ),
        (
            "[money]\n",
            "max_nights = 7\n[money]\n",
            "technician 'Tatum Fenwald', max_nights: 7 is not a whole number from 0 to 6; write it"
            " in digits, without quotes",
        ),
        (
            "[money]\n",
            'begins_at = "08:30"\nday_minutes = 940\n[money]\n',
            "technician 'Tatum Fenwald', day_minutes: 940 minutes from 08:30 end after 24:00; begin"
            " earlier, or make the day shorter",
        ),
        (
            "[money]\n",
            'begins_at = "8 am"\n[money]\n',
            "technician 'Tatum Fenwald', begins_at: '8 am' is no time of day; write it as"
            ' "08:00"',
        ),
        (
            "[money]\n",
            "days_off = [[2027-03-02, 2027-03-01]]\n[money]\n",
            "technician 'Tatum Fenwald', days_off: 2027-03-01 is before 2027-03-02; exchange the"
            " two days of the span",
        ),
        (
            "[money]\n",
            'days_off = ["2027-02-30"]\n[money]\n',
            "technician 'Tatum Fenwald', days_off: '2027-02-30' is no day of the calendar; check"
            " its month and day (YYYY-MM-DD)",
        ),
        (
            "[money]\n",
            'holidays = { subdivision = "NE" }\n[money]\n',
            "technician 'Tatum Fenwald', holidays: no country is named; write { country ="
            ' "US", subdivision = "NE" }',
        ),
        (
            "[money]\n",
            "kinds = []\n[money]\n",
            "technician 'Tatum Fenwald', kinds: an empty list names no kind; write kinds of the"
            ' rule book, as ["microscope"], or leave it out to mean all',
        ),
        (
            "mile = 70",
            "mile = 0.70",
            "money, mile: 0.70 is not a whole number from 0 to 100,000,000; write whole cents,"
            " without quotes, as 70 for $0.70",
        ),
        (
            "[money]\n",
            "[roads]\nroad_factor = 0.9\n[money]\n",
            "roads, road_factor: 0.9 is not a number from 1 to 5; write it in digits, without"
            " quotes, as 40.78",
        ),
        (
            "[[technician]]",
            "[[technicians]]",
            "plan.toml: 'technicians' is not a name of a plan file; did you mean 'technician'?",
        ),
        (
            "[money]\n",
            TECHNICIAN.replace("Robin", "Tatum Fenwald") + "[money]\n",
            "technician 'Tatum Fenwald': 2 of them bear this name; give each its own",
        ),
    ],
)
def test_a_fault_is_told_in_one_line(tmp_path: Path, old: str, new: str, told: str) -> None:
    lines = refusal(written(tmp_path, PLAN.replace(old, new, 1)))

    assert (told if told.startswith("plan.toml") else f"plan.toml, {told}") in lines
    assert len(lines) == 1 or new == "[[technicians]]"


def test_every_fault_is_told_at_once(tmp_path: Path) -> None:
    assert refusal(written(tmp_path, "[window]\ncatch_up_days = -1\n")) == [
        "plan.toml, depot: there is no depot; write one as [[depot]]",
        "plan.toml, technician: there is no technician; write one as [[technician]]",
        "plan.toml, money: there is no mile; add it, as mile = 70",
        "plan.toml, money: there is no hour; add it, as hour = 9500",
        "plan.toml, money: there is no trip; add it, as trip = 15000",
        "plan.toml, money: there is no night; add it, as night = 14000",
        "plan.toml, money: there is no visit; add it, as visit = 4000",
        "plan.toml, window, catch_up_days: -1 is not a whole number from 0 to 366; write it in"
        " digits, without quotes",
    ]


def test_what_is_no_toml_says_where(tmp_path: Path) -> None:
    (line,) = refusal(written(tmp_path, "[[depot]]\nname = home\n"))

    assert line == (
        "plan.toml: this is not TOML (Invalid value (at line 2, column 8)); put text in double"
        " quotes, lists in square brackets, dates as 2027-03-01"
    )


def test_a_file_that_is_not_there_is_told_by_its_path(tmp_path: Path) -> None:
    path = tmp_path / "plam.toml"

    assert refusal(path) == [
        f"{path}: it cannot be opened (No such file or directory); check the path and who may read"
        " it"
    ]


def test_a_list_that_is_a_table_is_told(tmp_path: Path) -> None:
    assert refusal(written(tmp_path, PLAN.replace("[[depot]]", "[depot]"))) == [
        "plan.toml, depot: it is not a list of tables; write each in double square brackets, as"
        " [[depot]]"
    ]


def test_a_distance_table_is_read_from_rows(tmp_path: Path) -> None:
    rows = "from,to,miles,minutes\nhome,alder,12.345,20\nalder,home,12,25\n"
    path = written(tmp_path, PLAN + '[roads]\ntable = "roads.csv"\n', roads=rows)

    table = read_plan_file(path).roads.table

    assert table is not None
    assert table.miles == {("home", "alder"): 1235, ("alder", "home"): 1200}
    assert table.minutes == {("home", "alder"): 20, ("alder", "home"): 25}


def test_a_square_of_miles_takes_its_minutes_from_the_speed(tmp_path: Path) -> None:
    square = "place,home,alder\nhome,0,44\nalder,44.01,0\n"
    text = PLAN + '[roads]\ntable = "roads.csv"\nmiles_an_hour = 60\n'

    table = read_plan_file(written(tmp_path, text, roads=square)).roads.table

    assert table is not None
    assert table.miles["alder", "home"] == 4401
    assert table.minutes["home", "alder"] == 44
    assert table.minutes["alder", "home"] == 45


@pytest.mark.parametrize(
    ("table", "told"),
    [
        (
            "place,home,alder\nhome,0,44\n",
            ["roads.csv: not square: 'alder' has a column and no row; add a row alder,…"],
        ),
        (
            "place,home\nhome,0\nalder,44\n",
            ["roads.csv: not square: 'alder' has a row and no column; add a column alder"],
        ),
        (
            "place,home,alder\nhome,0\nalder,44,0\n",
            [
                "roads.csv row 2: the row has 2 cells, the header 3; write as many as the header"
                " has",
                "roads.csv: not square: 'home' has a column and no row; add a row home,…",
            ],
        ),
        (
            "from,to,miles,minutes\nhome,alder,x,20\nhome,alder,1,2.5\n",
            [
                "roads.csv row 2, miles: 'x' is not a number; write digits with a decimal point,"
                " as 4.5 or -20",
                "roads.csv row 3: from 'home' to 'alder' is told already; keep one of the two rows",
                "roads.csv row 3, minutes: '2.5' is no whole number from 0 to 20,000; write whole"
                " minutes in digits",
            ],
        ),
        (
            "a,b\n1,2\n",
            [
                "roads.csv row 1: its columns are 'a', 'b'; write from,to,miles,minutes, a row a"
                " leg; or place and a column a place, in miles"
            ],
        ),
        ("", ["roads.csv: the table is empty; write its header and its rows"]),
    ],
)
def test_a_distance_table_that_cannot_be_used_is_refused(
    tmp_path: Path, table: str, told: list[str]
) -> None:
    path = written(tmp_path, PLAN + '[roads]\ntable = "roads.csv"\n', roads=table)

    assert refusal(path) == told


def test_a_distance_table_that_is_not_there_is_sought_beside_the_plan_file(tmp_path: Path) -> None:
    assert refusal(written(tmp_path, PLAN + '[roads]\ntable = "roads.csv"\n')) == [
        "roads.csv: it cannot be opened (No such file or directory); table is a path from the plan"
        " file's own folder"
    ]


def test_the_hash_is_of_all_that_was_read(tmp_path: Path) -> None:
    text = PLAN + '[roads]\ntable = "roads.csv"\n'
    rows = "from,to,miles,minutes\nhome,alder,1,2\n"
    first = read_plan_file(written(tmp_path, text, roads=rows)).sha256

    assert read_plan_file(written(tmp_path, text, roads=rows)).sha256 == first
    assert read_plan_file(written(tmp_path, text, roads=rows.replace("1", "3"))).sha256 != first


def test_a_plan_file_is_read_again_from_its_texts(tmp_path: Path) -> None:
    (tmp_path / "tables").mkdir()
    rows = "from,to,miles,minutes\nhome,alder,12.35,20\nalder,home,12,25\n"
    (tmp_path / "tables" / "roads.csv").write_text(rows, encoding="utf-8")
    path = written(tmp_path, PLAN + '[roads]\ntable = "tables/roads.csv"\n')
    first = read_plan_file(path)

    assert list(first.sources) == ["plan.toml", "tables/roads.csv"]
    assert read_sources(first.sources) == first


def test_an_area_holds_a_subdivision_or_a_whole_country(tmp_path: Path) -> None:
    everywhere = read_plan_file(written(tmp_path, PLAN))
    state = read_plan_file(
        written(tmp_path, PLAN + '[area]\ncountry = "us"\nsubdivision = "US-NE"\n')
    )
    country = read_plan_file(written(tmp_path, PLAN + '[area]\ncountry = "US"\n'))

    asked = [("US", "NE"), ("US", "IA"), ("CA", "ON")]
    assert [everywhere.holds(*place) for place in asked] == [True, True, True]
    assert [state.holds(*place) for place in asked] == [True, False, False]
    assert [country.holds(*place) for place in asked] == [True, True, False]


def test_the_demo_s_plan_file_can_be_used() -> None:
    assert len(read_plan_file(DEMO / "plan.toml").technicians) == 2


def test_the_centres_are_those_of_the_demo_s_counties() -> None:
    rows = (DEMO / "nebraska_counties.csv").read_text(encoding="utf-8").splitlines()[1:]
    told = [row.split(",") for row in rows]

    assert county_centres() == {
        ("US", "NE", county.casefold()): (float(latitude), float(longitude))
        for _, county, latitude, longitude, _ in told
    }
