"""Prints come in by files as they were exported, and not otherwise."""

from __future__ import annotations

import csv
import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from pathlib import Path

import pytest

from fleet.charts.geometry import LAYOUT, geometry_of
from fleet.domain.prints import Print
from fleet.services.load_ports import TableCount
from fleet.services.load_prints import LAYOUTS
from tests.fakes import FakeStore
from tests.fleet.charts.charts_made import microscope
from tests.fleet.services.load_files import loaded, refusal, write_fleet
from tests.fleet.storage.print_examples import chart_print

ONE = replace(chart_print(), site="alder")
OTHER = replace(ONE, number="00000012", replaces=ONE.number)
LAID = {"box_rows": 1, "layout": "1", "months": 3, "row": 8.1, "rows": ["day"] * 3, "slots": 2}


def geometry(**changes: object) -> str:
    return json.dumps(LAID | changes)


def rows(*told: object) -> str:
    return json.dumps(told)


def row(role: str, each: str | None = None, **other: object) -> dict[str, object]:
    return {"role": role, "each": each, "task": "look", "title": "Look", **other}


def written(folder: Path, *prints: Mapping[str, object]) -> Path:
    """The small fleet, and a file of prints."""
    write_fleet(folder)
    with (folder / "prints.csv").open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, list(prints[0]))
        writer.writeheader()
        writer.writerows(prints)
    return folder


def prints_in(store: FakeStore) -> list[Print]:
    with store.begin() as record:
        return list(record.register().prints.values())


def test_prints_come_in_byte_for_byte_and_a_second_load_changes_nothing(tmp_path: Path) -> None:
    store, copy = FakeStore(), replace(OTHER, number="Z" * 8, known_at="2026-03-02T10:00:00+00:00")
    folder = written(tmp_path, asdict(OTHER), asdict(ONE), asdict(copy))

    first, second = loaded(store, folder), loaded(store, folder)

    assert prints_in(store) == [OTHER, ONE, copy]
    assert first.tables["prints"] == TableCount(new=3)
    assert second.tables["prints"] == TableCount(unchanged=3)


def test_a_chart_without_rows_has_no_cells(tmp_path: Path) -> None:
    bare = replace(ONE, rows="[]", cells="", geometry=geometry(rows=[]))
    store = FakeStore()

    loaded(store, written(tmp_path, asdict(bare)))

    assert prints_in(store) == [bare]


REFUSED: dict[str, tuple[dict[str, object], str]] = {
    "a short number": (
        {"number": "7K2M9QX"},
        "number: '7K2M9QX' is no number of a print; write its 8 characters of 0-9 and A-Z",
    ),
    "a number in small letters": (
        {"number": "7k2m9qxa"},
        "number: '7k2m9qxa' is no number of a print; write its 8 characters of 0-9 and A-Z",
    ),
    "an unknown unit": (
        {"property_number": "M-404"},
        "property_number: no unit 'M-404'; add it to units, or correct the number",
    ),
    "an unknown site": ({"site": "aldr"}, "site: no site 'aldr'; did you mean 'alder'?"),
    "a year before all": ({"year": "1949"}, "year: '1949' is no year; write one from 1950 to 2099"),
    "a year too late": ({"year": "2100"}, "year: '2100' is no year; write one from 1950 to 2099"),
    "no year": ({"year": "26"}, "year: '26' is no year; write one from 1950 to 2099"),
    "another paper": ({"paper": "A4"}, "paper: 'A4' is no paper; write letter or a4"),
    "no layout": (
        {"layout": "v1"},
        "layout: 'v1' is no layout; write the one character that stands on the chart",
    ),
    "no page": ({"pages": "0"}, "pages: '0' is no number of pages; write one from 1 to 12"),
    "pages without end": (
        {"pages": "13"},
        "pages: '13' is no number of pages; write one from 1 to 12",
    ),
    "geometry that is none": (
        {"geometry": "[8.1]"},
        "geometry: '[8.1]' is no geometry in JSON; write it as it was exported",
    ),
    "rows cut short": (
        {"rows": '[{"title"'},
        "rows: '[{\"title\"' is no list of rows in JSON; write it as it was exported",
    ),
    "rows nested beyond reason": (
        {"rows": "[" * 9_000},
        f"rows: '{'[' * 59}…' is no list of rows in JSON; write it as it was exported",
    ),
    "a sign that there is none of": (
        {"days": "." * 364 + "?"},
        f"days: '{'.' * 59}…' are no signs of days; write it as it was exported",
    ),
    "a day too few": (
        {"days": "." * 364},
        "days: it tells of 364 days, and 2026 has 365; write it as it was exported",
    ),
    "a row too few": (
        {"cells": "... ..."},
        "cells: it tells of 2 rows, and rows of 3; write it as it was exported",
    ),
    "rows that are numbers": (
        {"rows": "[1,2,3]"},
        "rows: it does not tell of rows of a chart; write it as it was exported",
    ),
    "rows without a title": (
        {"rows": rows(*[{"role": "day", "task": "look"}] * 3)},
        "rows: it does not tell of rows of a chart; write it as it was exported",
    ),
    "a row that is nothing known": (
        {"rows": rows(row("day"), row("day"), row("hour"))},
        "rows: it does not tell of rows of a chart; write it as it was exported",
    ),
    "a cell too few": (
        {"cells": " ".join([ONE.days, ONE.days, ONE.days[1:]])},
        "cells: row 3 (optics) tells of 364 cells, and as a row of sort 'day' of 2026 it has 365;"
        " write it as it was exported",
    ),
    "days in a row of weeks": (
        {
            "rows": rows(row("week", "week"), row("week", "week"), row("week", "week")),
            "cells": " ".join(["." * 53, "." * 53, "." * 52]),
            "geometry": geometry(rows=["week"] * 3),
        },
        "cells: row 3 (look) tells of 52 cells, and as a row of sort 'week' of 2026 it has 53;"
        " write it as it was exported",
    ),
    "months in a row of quarters": (
        {
            "rows": rows(row("day"), row("box", "month"), row("box", "quarter")),
            "cells": " ".join([ONE.days, "." * 12, "." * 12]),
            "geometry": geometry(rows=["day", "month", "quarter"]),
        },
        "cells: row 3 (look) tells of 12 cells, and as a row of quarters of 2026 it has 4; write"
        " it as it was exported",
    ),
    "a layout of tomorrow": (
        {"layout": "7"},
        "layout: no layout '7' is known; write the one it was printed in, of 1",
    ),
    "a geometry without its keys": (
        {"geometry": '{"months":3}'},
        "geometry: layout 1 tells box_rows, layout, months, row, rows, slots; write it as it was"
        " exported",
    ),
    "a geometry of other rows": (
        {"geometry": geometry(rows=["day", "day"])},
        "geometry: it does not agree with layout, pages and rows; write it as it was exported",
    ),
    "a geometry of other pages": (
        {"geometry": geometry(months=2)},
        "geometry: it does not agree with layout, pages and rows; write it as it was exported",
    ),
    "a geometry of another layout": (
        {"geometry": geometry(layout="2")},
        "geometry: it does not agree with layout, pages and rows; write it as it was exported",
    ),
    "a geometry in words": (
        {"geometry": geometry(months="three")},
        "geometry: it does not agree with layout, pages and rows; write it as it was exported",
    ),
    "an instant without a zone": (
        {"known_at": "2026-03-02T10:00:00"},
        "known_at: '2026-03-02T10:00:00' has no time zone; write date, time and zone, as"
        " 2026-03-02T14:05:00Z or 2026-03-02T08:05:00-06:00",
    ),
    "its own number": (
        {"replaces": ONE.number},
        "replaces: it is the print's own number; leave it empty",
    ),
    "an unknown former print": (
        {"replaces": "A" * 8},
        "replaces: no print 'AAAAAAAA'; add it to prints, or leave it empty",
    ),
}


@pytest.mark.parametrize(("change", "told"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_have_left_a_printer_is_refused(
    tmp_path: Path, change: dict[str, object], told: str
) -> None:
    store = FakeStore()

    faults = refusal(store, written(tmp_path, asdict(ONE) | change))

    assert faults == [f"prints.csv row 2, {told}"]


def test_a_print_that_stands_is_not_changed(tmp_path: Path) -> None:
    store = FakeStore()
    loaded(store, written(tmp_path, asdict(ONE)))

    faults = refusal(store, written(tmp_path, asdict(replace(ONE, pages=2))))

    assert faults == [
        "prints.csv row 2, number: print 7K2M9QXA stands in the record and says otherwise;"
        " a print is never changed: take the row out, or write it as it was exported"
    ]


def test_a_print_is_not_withdrawn(tmp_path: Path) -> None:
    faults = refusal(FakeStore(), written(tmp_path, asdict(ONE) | {"withdrawn": "yes"}))

    assert faults == [
        "prints.csv row 1: unknown column 'withdrawn'; write one of: cells, days, geometry,"
        " known_at, layout, number, pages, paper, printed_on, property_number, replaces, rows,"
        " site, year"
    ]


def test_a_print_takes_the_place_of_one_of_the_same_chart_only(tmp_path: Path) -> None:
    next_year = replace(chart_print(year=2027), site="alder", number="Z" * 8, replaces=ONE.number)

    faults = refusal(FakeStore(), written(tmp_path, asdict(ONE), asdict(next_year)))

    assert faults == [
        "prints.csv row 3, replaces: print 7K2M9QXA is of M-001 alder 2026; write the number of"
        " one of the same unit, site and year"
    ]


def test_the_instant_of_a_copy_is_the_same_in_every_zone(tmp_path: Path) -> None:
    store, local = FakeStore(), asdict(ONE) | {"known_at": "2026-03-02T04:00:00-06:00"}

    loaded(store, written(tmp_path, local))
    again = loaded(store, written(tmp_path, local | {"known_at": "2026-03-02T10:00:00Z"}))

    assert [one.known_at for one in prints_in(store)] == ["2026-03-02T10:00:00+00:00"]
    assert again.tables["prints"] == TableCount(unchanged=1)


def test_prints_do_not_replace_each_other_in_a_ring(tmp_path: Path) -> None:
    ring = [
        replace(ONE, replaces="Z" * 8),
        OTHER,
        replace(ONE, number="Z" * 8, replaces="00000012"),
    ]
    beside = replace(ONE, number="Y" * 8, replaces=ONE.number)

    faults = refusal(FakeStore(), written(tmp_path, *map(asdict, (beside, *ring))))

    assert faults == [
        "prints.csv row 3, replaces: prints would replace each other: 7K2M9QXA, ZZZZZZZZ,"
        " 00000012; leave it empty in the one that was printed first"
    ]


def test_the_geometry_of_what_is_printed_now_is_known() -> None:
    assert LAYOUTS[LAYOUT] == LAID.keys() == json.loads(geometry_of(microscope())).keys()


def test_rows_of_dated_duties_have_no_cells(tmp_path: Path) -> None:
    store = FakeStore()
    told = replace(
        ONE,
        rows=rows(row("day"), row("dated"), row("dated", turn=2)),
        cells=f"{ONE.days}  ",
        geometry=geometry(rows=["day", "dated", "dated"]),
    )

    loaded(store, written(tmp_path, asdict(told)))

    assert prints_in(store) == [told]
