"""Does `plan` answer with trips and prices, say what could not be, and refuse what is amiss?"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from click.testing import Result

from tests.fleet.cli.conftest import Dueward
from tests.fleet.cli.visit_files import PLAN_FILE, SITES, SPAN, STEPS, load_state

NO_PLACE = SITES.replace(",40.52,-98.50", ",,")


@pytest.fixture
def state(dueward: Dueward, tmp_path: Path) -> Dueward:
    load_state(dueward, tmp_path)
    return dueward


def plan(dueward: Dueward, folder: Path, *words: str) -> Result:
    return dueward("plan", *SPAN, "--plan-file", str(folder / "plan.toml"), *STEPS, *words)


def rows(result: Result) -> list[dict[str, Any]]:
    assert result.exit_code == 0, result.stderr
    found: list[dict[str, Any]] = json.loads(result.stdout)
    return found


def test_every_unit_is_visited_between_opening_and_limit(state: Dueward, tmp_path: Path) -> None:
    found = rows(plan(state, tmp_path))

    assert sorted(row["property_number"] for row in found) == ["A-1", "A-2", "B-1", "C-1"]
    assert all(row["on"] <= row["limit"] for row in found)
    assert all(row["reason"] is None for row in found)


def test_the_table_tells_money_and_what_others_would_cost(state: Dueward, tmp_path: Path) -> None:
    shown = plan(state, tmp_path, "--format", "table", "--stops", "--calendar", "--bound").stdout

    for words in (
        "4 services for $", "nothing left over", "own date", "site by site",
        "No plan can cost less than $", "True for these rules", "leaves", "is home",
        "Nobody is told of it yet", "Seed 1, 300 iterations",
    ):  # fmt: skip
        assert words in shown


def test_the_same_question_gives_the_same_bytes(state: Dueward, tmp_path: Path) -> None:
    first, second = (
        plan(state, tmp_path, "--out", str(tmp_path / name)) for name in ("one", "two")
    )
    assert (first.exit_code, second.exit_code) == (0, 0)
    names = sorted(path.name for path in (tmp_path / "one").iterdir())
    assert names == ["map.svg", "money.svg", "months.svg", "plan.csv", "plan.json", "plan.pdf"]
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
    whole = json.loads((tmp_path / "one" / "plan.json").read_text())
    assert whole["seed"] == 1
    assert "numba" in whole["versions"]
    again = plan(state, tmp_path, "--out", str(tmp_path / "one"))
    assert again.exit_code == 2
    assert "--replace" in again.stderr


def test_a_site_without_coordinates_stands_at_its_countys_centre(
    dueward: Dueward, tmp_path: Path
) -> None:
    load_state(dueward, tmp_path, sites=NO_PLACE)
    result = plan(dueward, tmp_path)

    assert len(rows(result)) == 4
    assert "1 site has no latitude and longitude, and its county's centre is taken: alder" in (
        result.stderr
    )


def test_a_window_without_an_open_day_is_told_with_its_reason(
    state: Dueward, tmp_path: Path
) -> None:
    days = ("--from", "2026-03-02", "--to", "2026-05-29", "--why", "rebuilding")
    assert plan(state, tmp_path, "--keep").exit_code == 0
    assert state("visits", "unsuitable", "alder", *days).exit_code == 0
    result = plan(state, tmp_path, "--check", "--format", "json")

    assert result.exit_code == 3
    left = [row for row in json.loads(result.stdout) if row["trip"] is None]
    assert {row["site"] for row in left} == {"alder"}
    assert all(row["reason"] and row["mend"] for row in left)


def test_a_unit_past_its_limit_is_planned_first_and_told(dueward: Dueward, tmp_path: Path) -> None:
    entries = "property_number,task,on,to,mark,initials\nA-1,annual-service,2024-04-03,,done,OV\n"
    load_state(dueward, tmp_path, entries=entries)
    shown = plan(dueward, tmp_path, "--format", "table").stdout
    found = rows(plan(dueward, tmp_path))

    late = [row["property_number"] for row in found if row["was_past_limit"]]
    assert "A-1" in late
    assert "past the limit when the plan begins" in shown


def test_two_states_are_planned_side_by_side_to_the_same_bytes(
    dueward: Dueward, tmp_path: Path
) -> None:
    sites = SITES.replace("cedar,Cedar Bluff Laboratory,Cheyenne,South,US,NE", (
        "cedar,Cedar Bluff Laboratory,Laramie,South,US,WY"
    ))  # fmt: skip
    load_state(dueward, tmp_path, sites=sites)
    files = []
    for code in ("NE", "WY"):
        path = tmp_path / f"{code}.toml"
        area = f'[area]\ncountry = "US"\nsubdivision = "{code}"\n'
        path.write_text(f"{PLAN_FILE}{area}", encoding="utf-8")
        files += ["--plan-file", str(path)]
    alone = dueward("plan", *SPAN, *files, *STEPS, "--out", str(tmp_path / "one"))
    together = dueward("plan", *SPAN, *files, *STEPS, "--executor", "processes:2")

    assert rows(alone) == rows(together)
    assert {row["plan_file"]: row["site"] for row in rows(alone)}["WY.toml"] == "cedar"
    assert {path.name for path in (tmp_path / "one").iterdir()} == {"NE", "WY"}
    twice = dueward("plan", *SPAN, *files, "--plan-file", str(tmp_path / "plan.toml"), *STEPS)
    assert twice.exit_code == 2
    assert "is planned by" in twice.stderr


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("day_minutes = 0", "day_minutes = 10", "day_minutes"),
        ("[money]", '[roads]\ntable = "roads.csv"\n[money]', "roads.csv"),
        ('depot"\n[money]', 'depot 2"\n[money]', "there is no depot 'Lancaster depot 2'"),
        ("mile = 70", "mile = -1", "mile"),
        ("mile = 70", "mille = 70", "did you mean 'mile'?"),
        ("[money]", '[area]\ncountry = "US"\nsubdivision = "QQ"\n[money]', "no subdivision of US"),
        ("[money]", '[area]\nsubdivision = "NE"\n[money]', "there is no country"),
    ],
    ids=lambda value: str(value)[:20],
)
def test_a_plan_file_with_a_fault_is_refused(
    state: Dueward, tmp_path: Path, old: str, new: str, says: str
) -> None:
    text = PLAN_FILE.replace('vendor = "Ovandel Service"', 'vendor = "Ovandel Service"', 1)
    text = text.replace("[[technician]]", "[[technician]]\nday_minutes = 0", 1)
    text = text.replace(old, new) if old in text else text
    text = text.replace("day_minutes = 0", "day_minutes = 480")
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    result = plan(state, tmp_path)

    assert result.exit_code == 2
    assert says in result.stderr


def test_technicians_without_a_day_are_refused(state: Dueward, tmp_path: Path) -> None:
    off = "days_off = [[2026-01-01, 2026-12-31]]\n"
    text = PLAN_FILE.replace("[[technician]]\n", f"[[technician]]\n{off}")
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    result = plan(state, tmp_path)

    assert result.exit_code == 2
    assert "no technician works a day" in result.stderr


def test_a_service_longer_than_a_day_is_told(state: Dueward, tmp_path: Path) -> None:
    text = PLAN_FILE.replace("[[technician]]\n", "[[technician]]\nday_minutes = 40\n")
    (tmp_path / "plan.toml").write_text(text, encoding="utf-8")
    found = rows(plan(state, tmp_path))

    assert all(row["trip"] is None for row in found)
    assert all("45 min" in row["reason"] and "40 min" in row["reason"] for row in found)


def test_a_span_that_ends_before_it_begins_is_refused(state: Dueward, tmp_path: Path) -> None:
    words = ("--from", "2026-05-01", "--to", "2026-04-01")
    result = state("plan", *words, "--plan-file", str(tmp_path / "plan.toml"))
    assert result.exit_code == 2
    assert "exchange the two" in result.stderr


def test_nothing_due_is_said(state: Dueward, tmp_path: Path) -> None:
    words = ("--from", "2026-03-03", "--to", "2026-03-04", "--format", "table")
    result = state("plan", *words, "--plan-file", str(tmp_path / "plan.toml"), *STEPS)
    assert "nothing falls due that a vendor does" in result.stdout
