"""Every way in which files that can be read still do not fit each other or the store."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.fakes import FakeStore
from tests.fleet.services.load_files import BOOK, FLEET, loaded, refusal, write_fleet


def more(table: str, *rows: str) -> str:
    """The fleet's file of a table with further rows."""
    return FLEET[f"{table}.csv"] + "".join(f"{row}\n" for row in rows)


REFUSED: dict[str, tuple[dict[str, str], list[str]]] = {
    "the same row twice": (
        {"units": more("units", "M-001,microscope,Hillside,alder,2024-01-02,")},
        ["units.csv row 3: units.csv row 2 is already the same row for M-001; keep one of the two"],
    ),
    "one key, two rows": (
        {"placements": more("placements", "M-001,alder,2025-01-02", "M-001,birch,2025-01-02")},
        [
            "placements.csv row 3: placements.csv row 2 is already the same row for"
            " M-001 2025-01-02; keep one of the two",
            "placements.csv row 4: placements.csv row 2 is already another row for"
            " M-001 2025-01-02; keep one of the two",
        ],
    ),
    "unknown sites": (
        {
            "patterns": more("patterns", "aldr,2026-02-01,Mon"),
            "holidays": more("holidays", "nowhere,,,2026-05-15,Fair day"),
            "closures": more("closures", "nowhere,2026-05-15,,snow,"),
            "units": more("units", "M-002,microscope,Hillside,nowhere,2024-01-02,"),
            "placements": more("placements", "M-001,nowhere,2025-03-02"),
            "people": more("people", "w@b.example,Wren,bench,nowhere,,"),
        },
        [
            "patterns.csv row 3, site: no site 'aldr'; did you mean 'alder'?",
            *(
                f"{table}.csv row 3, site: no site 'nowhere'; add it to sites, or correct its name"
                for table in ("holidays", "closures", "units", "placements", "people")
            ),
        ],
    ),
    "a holiday that contradicts its site": (
        {"holidays": more("holidays", "alder,US,IA,2026-05-16,Fair day")},
        [
            "holidays.csv row 3, subdivision: site alder is not in 'IA' but in 'NE';"
            " leave it empty: the site tells it"
        ],
    ),
    "an unknown kind": (
        {"units": more("units", "M-002,microscop,Hillside,alder,2024-01-02,")},
        ["units.csv row 3, kind: no kind 'microscop' in the rule book; did you mean 'microscope'?"],
    ),
    "an unknown region": (
        {"people": more("people", "w@b.example,Wren,consultant,,Eest,")},
        ["people.csv row 3, region: no site lies in region 'Eest'; did you mean 'East'?"],
    ),
    "unknown units": (
        {
            "placements": more("placements", "M-009,alder,2025-03-02"),
            "outages": more("outages", "M-009,2025-03-02,,x"),
            "entries": more("entries", "M-009,optics,2026-01-13,,done,,,"),
        },
        [
            "placements.csv row 3, property_number: no unit 'M-009';"
            " add it to units, or correct the number",
            "outages.csv row 3, property_number: no unit 'M-009';"
            " add it to units, or correct the number",
            "entries.csv row 3, property_number: no unit 'M-009';"
            " add it to units, or correct the number",
        ],
    ),
    "a move on the first day": (
        {"placements": more("placements", "M-001,alder,2024-01-02")},
        [
            "placements.csv row 3, from: unit M-001 moves on 2024-01-02, not after it enters"
            " service on 2024-01-02;"
            " where it stands first is the site in units; a placement is a later move"
        ],
    ),
    "outages that overlap": (
        {
            "outages": more(
                "outages",
                "M-001,2025-02-10,2025-03-01,touches",
                "M-001,2025-02-28,2025-03-02,overlaps",
                "M-001,2026-02-01,,open",
                "M-001,2026-02-05,2026-02-06,inside the open one",
                "M-001,2026-03-05,2026-03-06,inside it too",
            )
        },
        [
            "outages.csv row 4, from: it overlaps the outage of unit M-001 from 2025-02-10 to"
            " 2025-03-01; outages of a unit may touch, not overlap ('to' is the day of return)",
            *(
                f"outages.csv row {row}, from: it overlaps the outage of unit M-001 from 2026-02-01"
                " without an end;"
                " outages of a unit may touch, not overlap ('to' is the day of return)"
                for row in (6, 7)
            ),
        ],
    ),
    "an unknown task": (
        {"entries": more("entries", "M-001,optic,2026-01-13,,done,,,")},
        [
            "entries.csv row 3, task: no task 'optic' for unit M-001; did you mean 'optics'?",
        ],
    ),
    "a span of a task without cells": (
        {"entries": more("entries", "M-001,annual-service,2026-01-13,2026-01-14,done,,,")},
        [
            "entries.csv row 3, to: 'annual-service' has no cells to mark from one day to another;"
            " leave 'to' empty; write a row for each day it was done",
        ],
    ),
    "strikes that miss": (
        {
            "units": more("units", "M-002,microscope,Hillside,alder,2024-01-02,"),
            "entries": more(
                "entries",
                "M-001,optics,2026-01-13,,,s1,nothing,slip",
                "M-002,optics,2026-01-13,,,s2,M-001/optics/2026-01-13/1,slip",
                "M-001,optics,2026-01-13,,,s3,k9,slip",
                "M-001,optics,2026-01-13,,done,k9,,",
            ),
        },
        [
            "entries.csv row 3, strikes: no earlier entry has the key 'nothing';"
            " write the key of an entry that stands before this one",
            "entries.csv row 4, strikes: 'M-001/optics/2026-01-13/1' is an entry of unit M-001;"
            " strike an entry of unit M-002, or correct the number",
            "entries.csv row 5, strikes: no earlier entry has the key 'k9';"
            " write the key of an entry that stands before this one",
        ],
    ),
    "one key, other content": (
        {
            "entries": more(
                "entries",
                "M-001,optics,2026-01-14,,done,k1,,",
                "M-001,optics,2026-01-15,2026-01-16,unused,k1,,",
            )
        },
        [
            "entries.csv row 4, key: key 'k1' already stands for another entry"
            " (on, to, mark differ); an entry is never changed: strike it and write a new one",
        ],
    ),
    "a total below the units": (
        {"units": more("units", ",2,,,,")},
        [
            "units.csv row 3, property_number: the cell is empty; fill it in",
            "units.csv row 3, site: the cell is empty; fill it in",
            "units.csv row 3, in_service_on: the cell is empty; fill it in",
        ],
    ),
    "a total so called": (
        {"units": more("units", "Total,2,,,,")},
        [
            "units.csv row 3: the row looks like a total: property_number, kind, site and"
            " in_service_on cannot be read from it;"
            " delete the row if it sums up others, else fill it in",
        ],
    ),
    "one bad site is told once": (
        {
            "sites": FLEET["sites.csv"].replace("Tue Thu", "Tuesday"),
            "units": more("units", "M-002,microscope,Hillside,alder,2024-01-02,"),
        },
        [
            "sites.csv row 2, open_days: 'Tuesday' is no weekday;"
            " write the open weekdays as Mon Tue Wed Thu Fri"
        ],
    ),
    "one bad unit is told once": (
        {"units": FLEET["units.csv"].replace("2024-01-02", "2024-01")},
        ["units.csv row 2, in_service_on: '2024-01' is not a date; write it as YYYY-MM-DD"],
    ),
    "one bad header is told once": (
        {"units": FLEET["units.csv"].replace("kind", "sort")},
        [
            "units.csv row 1: unknown column 'sort'; write one of: in_service_on, kind,"
            " manufacturer, model, property_number, record_from, retired_on, serial, site",
            "units.csv row 1: column 'kind' is missing; add it: units cannot be read without it",
        ],
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_files_that_do_not_fit_each_other_are_told(tmp_path: Path, case: str) -> None:
    changed, messages = REFUSED[case]

    assert refusal(FakeStore(), write_fleet(tmp_path, **changed)) == messages


LATER: dict[str, tuple[dict[str, str], list[str]]] = {
    "another kind": (
        {"units": FLEET["units.csv"].replace("microscope", "centrifuge")},
        [
            "units.csv row 2, kind: unit M-001 is a microscope and cannot become a centrifuge;"
            " retire it and enter the other instrument under its own property number"
        ],
    ),
    "in service after a move that stands": (
        {"units": FLEET["units.csv"].replace("2024-01-02", "2025-01-02"), "placements": ""},
        [
            "units.csv row 2, in_service_on: unit M-001 moves on 2025-01-02, not after it enters"
            " service on 2025-01-02;"
            " where it stands first is the site in units; a placement is a later move"
        ],
    ),
    "an outage that overlaps one that stands": (
        {"outages": "property_number,from,to\nM-001,2025-02-05,2025-02-20\n"},
        [
            "outages.csv row 2, from: it overlaps the outage of unit M-001 from 2025-02-03 to"
            " 2025-02-10; outages of a unit may touch, not overlap ('to' is the day of return)"
        ],
    ),
    "a key that stands for other content": (
        {"entries": FLEET["entries.csv"].replace("done", "unused")},
        [
            "entries.csv row 2, key: key 'M-001/optics/2026-01-13/1' already stands for another"
            " entry (mark differs); an entry is never changed: strike it and write a new one"
        ],
    ),
}


@pytest.mark.parametrize("case", LATER)
def test_files_that_do_not_fit_the_store_are_told(tmp_path: Path, case: str) -> None:
    changed, messages = LATER[case]
    store = FakeStore()
    loaded(store, write_fleet(tmp_path))
    (tmp_path / "rules.toml").write_text(BOOK + BOOK.replace("microscope", "centrifuge"))
    loaded(store, tmp_path)
    write_fleet(tmp_path, **changed)
    (tmp_path / "rules.toml").unlink()

    assert refusal(store, tmp_path) == messages


def test_a_book_without_a_kind_in_use_is_refused(tmp_path: Path) -> None:
    store = FakeStore()
    loaded(store, write_fleet(tmp_path))
    book = tmp_path / "rules.toml"
    book.write_text(BOOK.replace("microscope", "centrifuge"))

    assert refusal(store, book) == [
        "rules.toml: units in the database are of kinds it does not know: microscope;"
        " keep these kinds in the book"
    ]


def test_a_book_that_cannot_be_read_is_told_and_nothing_follows_from_it(tmp_path: Path) -> None:
    write_fleet(tmp_path)
    (tmp_path / "rules.toml").write_text(BOOK.replace("P1Y", "P1X"))

    assert refusal(FakeStore(), tmp_path) == [
        "rules.toml line 13, every: 'P1X' is not an interval;"
        " write one component, as P45D, P2W, P6M or P1Y"
    ]


def test_a_strike_in_a_later_chunk_is_let_pass_while_the_register_is_wrong(tmp_path: Path) -> None:
    strike = "M-001,optics,2026-01-13,,,s1,M-001/optics/2026-01-13/1,slip"
    bad = "M-002,microscop,Hillside,alder,2024-01-02,"
    folder = write_fleet(tmp_path, entries=more("entries", strike), units=more("units", bad))

    assert refusal(FakeStore(), folder, chunk_rows=1) == [
        "units.csv row 3, kind: no kind 'microscop' in the rule book; did you mean 'microscope'?"
    ]
