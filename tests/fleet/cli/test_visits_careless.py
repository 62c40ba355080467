"""What does a careless year do to a kept plan? Nothing is lost, nobody is told what is wrong."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.fleet.cli.conftest import NOON, Dueward
from tests.fleet.cli.visit_answers import by_site, mails, one, rows
from tests.fleet.cli.visit_files import SPAN, STEPS, UNITS, load_state


@pytest.fixture
def state(dueward: Dueward, tmp_path: Path) -> Dueward:
    """The state, and a plan of it that is kept."""
    load_state(dueward, tmp_path)
    kept = dueward("plan", *SPAN, "--plan-file", str(tmp_path / "plan.toml"), *STEPS, "--keep")
    assert kept.exit_code == 0, kept.stderr
    return dueward


def test_a_plan_that_another_follows_is_not_made_anew(state: Dueward) -> None:
    rows(state, "cancel", by_site(state)["cedar"]["visit"], "--why", "the bench is moved")
    assert one(state, "replan")["plan"] == "P-0002"
    count = len(rows(state, "list"))

    refused = state("visits", "replan", "--plan", "P-0001")
    assert refused.exit_code == 2
    assert "P-0001 is followed by P-0002; make P-0002 anew" in refused.stderr
    assert len(rows(state, "list")) == count


def test_the_rest_of_a_trip_that_has_begun_stays_as_it_was_told(state: Dueward) -> None:
    first = rows(state, "list")[0]
    trip = one(state, "show", first["visit"])["trip"]
    rows(state, "confirm", first["visit"])
    morning = NOON.replace(month=int(first["trip_on"][5:7]), day=int(first["trip_on"][8:]))
    state("visits", "hand-back", first["visit"], at=morning)
    before = {row["visit"]: row for row in rows(state, "list")}
    result = state("visits", "replan", "--format", "json", at=morning)

    assert result.exit_code == 0, result.stderr
    assert json.loads(result.stdout)["not_handed_back"] == trip[1:]
    after = {row["visit"]: row for row in rows(state, "list")}
    told = ("on", "from_at", "to_at", "grade")
    assert [[after[v][name] for name in told] for v in trip[1:]] == [
        [before[v][name] for name in told] for v in trip[1:]
    ]
    again = state("visits", "confirm", trip[-1], "--format", "json", at=morning)
    assert again.exit_code == 0, "its stops are told by the plan that made the trip"


def test_a_stop_that_falls_out_of_a_confirmed_trip_is_told_to_who_makes_it(
    state: Dueward, tmp_path: Path
) -> None:
    alder = by_site(state)["alder"]
    rows(state, "confirm", alder["visit"])
    count = len([m for m in mails(tmp_path) if "trip of" in m["Subject"]])
    rows(state, "cancel", alder["visit"], "--why", "the bench is moved")

    lists = [m for m in mails(tmp_path) if "trip of" in m["Subject"]]
    assert len(lists) > count
    assert any("Alder Creek" not in str(m.get_body(("plain",))) for m in lists)


def test_a_unit_that_moves_leaves_the_confirmed_visit_of_its_old_site(state: Dueward) -> None:
    alder = by_site(state)["alder"]
    rows(state, "confirm", alder["visit"])
    assert state("move", "A-2", "birch", "--on", "2026-03-03").exit_code == 0
    assert one(state, "replan")["plan"] == "P-0002"
    firm = by_site(state)["alder"]

    assert (firm["visit"], firm["on"], firm["grade"]) == (
        alder["visit"], alder["on"], "confirmed",
    )  # fmt: skip
    assert "A-2" not in firm["units"]
    assert "A-2" in " ".join(row["units"] for row in rows(state, "list"))
    assert one(state, "replan")["plan"] is None


def test_two_plans_do_not_send_a_technician_out_twice(state: Dueward, tmp_path: Path) -> None:
    units = UNITS + "D-1,microscope,Exemplar,M1,110,birch,2024-05-01,2026-02-23\n"
    extra = tmp_path / "more"
    extra.mkdir()
    (extra / "units.csv").write_text(units, encoding="utf-8")
    entry = "property_number,task,on,to,mark,initials\nD-1,annual-service,2025-04-09,,done,OV\n"
    (extra / "entries.csv").write_text(entry, encoding="utf-8")
    assert state("load", str(extra)).exit_code == 0
    one(state, "replan")
    assert "D-1" in " ".join(row["units"] for row in rows(state, "list"))
    kept = state("plan", *SPAN, "--plan-file", str(tmp_path / "plan.toml"), *STEPS, "--keep")
    assert kept.exit_code == 2
    assert "stands for" in kept.stderr


def test_a_day_that_does_not_suit_is_not_confirmed(state: Dueward, tmp_path: Path) -> None:
    alder = by_site(state)["alder"]
    days = ("--from", alder["on"], "--to", alder["on"], "--why", "inspection")
    rows(state, "unsuitable", "alder", *days)
    refused = state("visits", "confirm", alder["visit"])

    assert refused.exit_code == 2
    assert "alder wants no visit (inspection); make the plan anew" in refused.stderr
    assert mails(tmp_path) == []


def test_days_that_are_kept_do_not_become_fewer(state: Dueward) -> None:
    span = ("unsuitable", "alder", "--from", "2026-04-01", "--why", "inspection")
    rows(state, *span, "--to", "2026-04-10")
    refused = state("visits", *span, "--to", "2026-04-03")
    assert "name their last day or a later one" in refused.stderr


def test_a_visit_named_twice_is_announced_once(state: Dueward) -> None:
    number = by_site(state)["alder"]["visit"]
    assert len(rows(state, "announce", number, number.lower())) == 1


def test_a_renumbered_unit_stands_under_its_new_number(state: Dueward, tmp_path: Path) -> None:
    assert state("renumber", "A-1", "A-9").exit_code == 0
    alder = by_site(state)["alder"]
    assert "A-9" in alder["units"]
    rows(state, "confirm", alder["visit"])
    lists = [m for m in mails(tmp_path) if "trip of" in m["Subject"]]
    assert "A-9" in str(lists[0].get_body(("plain",)))
    done = one(state, "hand-back", alder["visit"], "--on", "2026-03-02")
    assert "A-9 annual-service" in done["recorded"]


@pytest.mark.parametrize(
    ("words_given", "says"),
    [
        (("--findings", "A-1=dust", "--findings", "A-1=dirt"), "A-1 is named twice"),
        (("--findings", "A-1=dust", "--not-done", "A-1=no power"), "say one of the two"),
    ],
)
def test_nothing_that_is_handed_back_is_dropped(
    state: Dueward, words_given: tuple[str, ...], says: str
) -> None:
    number = by_site(state)["alder"]["visit"]
    result = state("visits", "hand-back", number, "--on", "2026-03-02", *words_given)
    assert result.exit_code == 2
    assert says in result.stderr
