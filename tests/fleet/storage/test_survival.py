"""Small trials of `python -m tests.studies.survival`, some seconds each; the study has the many."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from tests.studies.survival import clock_back, flips, full_disk, kills
from tests.studies.survival.crowd import crowd
from tests.studies.survival.places import Place
from tests.studies.survival.results import Result


def assert_well(result: Result) -> None:
    assert result.is_well, result.line()


def test_no_acknowledged_mark_is_lost_by_a_kill(place: Place) -> None:
    assert_well(kills.mark(place, 3, seconds=0.3))


def test_a_killed_load_is_wholly_there_or_not_at_all(place: Place) -> None:
    assert_well(kills.load(place, 3, units=4, days=120))


def test_a_killed_first_load_leaves_a_place_to_load_into(place: Place) -> None:
    assert_well(kills.first_load(place, 2, units=2))


def test_a_killed_upgrade_is_wholly_done_or_not_at_all(place: Place) -> None:
    assert_well(kills.upgrading(place, 3, units=4))


def test_readers_see_no_half_of_what_two_writers_write(place: Place) -> None:
    assert_well(crowd(place, 3, readers=4))


def test_a_clock_set_back_breaks_no_chain_and_hides_nothing(place: Place) -> None:
    assert clock_back.tried(place, 0) + clock_back.tried(place, 3) == []


def test_a_full_disk_is_told_in_a_line_and_costs_nothing(tmp_path: Path) -> None:
    if not full_disk.mountable():
        pytest.skip("needs root, to mount a small file system")
    for result in full_disk.on_sqlite(Place("SQLite", tmp_path), (0, 240), most=20):
        assert_well(result)


def test_no_flipped_bit_is_silent(tmp_path: Path) -> None:
    (result,) = flips.study([Place("SQLite", tmp_path)], 8)
    assert_well(result)


def test_a_flipped_bit_of_an_entry_is_told(tmp_path: Path) -> None:
    ready = flips.filled_database(Place("SQLite", tmp_path))
    with closing(sqlite3.connect(ready)) as opened:
        query = "SELECT key || task FROM entry WHERE seq = 5 AND unit_id = 2"
        (cells,) = opened.execute(query).fetchone()
    place_of_day = ready.read_bytes().index(cells.encode()) + len(cells)

    # The lowest bit of the last figure: one day becomes the next or the one before.
    assert flips.tried(ready, place_of_day + len("2025-09-0"), 1) == "told by verify"
