"""A plan that is kept lives: it is announced, confirmed, changed, told and handed back."""

from __future__ import annotations

import datetime as dt
import json
from contextlib import closing
from pathlib import Path

import pytest
from fpdf import FPDF

from fleet.domain.visits import SiteVisit
from fleet.storage import open_store
from notifications.digests import words
from tests.fleet.cli.conftest import NOON, Dueward
from tests.fleet.cli.visit_answers import by_site, mails, one, rows
from tests.fleet.cli.visit_files import SPAN, STEPS, load_state


@pytest.fixture
def state(dueward: Dueward, tmp_path: Path) -> Dueward:
    """The state, and a plan of it that is kept."""
    load_state(dueward, tmp_path)
    kept = dueward("plan", *SPAN, "--plan-file", str(tmp_path / "plan.toml"), *STEPS, "--keep")
    assert kept.exit_code == 0, kept.stderr
    return dueward


def _pdf() -> bytes:
    sheet = FPDF()
    sheet.add_page()
    return bytes(sheet.output())


def day(text: str) -> str:
    return words.day(dt.date.fromisoformat(text))


def test_a_kept_plan_has_a_free_visit_a_stop_and_is_not_kept_twice(
    state: Dueward, tmp_path: Path
) -> None:
    visits = rows(state, "list")
    assert {row["grade"] for row in visits} == {"free"}
    assert sorted(" ".join(row["units"] for row in visits).split()) == ["A-1", "A-2", "B-1", "C-1"]
    assert {row["plan"] for row in visits} == {"P-0001"}

    again = state("plan", *SPAN, "--plan-file", str(tmp_path / "plan.toml"), *STEPS, "--keep")
    assert again.exit_code == 2
    assert "of P-0001 stands for" in again.stderr
    assert "dueward visits replan --plan P-0001" in again.stderr


def test_times_are_by_the_sites_own_clock(state: Dueward, tmp_path: Path) -> None:
    """Cheyenne County keeps mountain time, the depot central time: one hour less."""
    cedar = by_site(state)["cedar"]
    shown = state("visits", "show", cedar["visit"]).stdout
    assert cedar["visit"] in shown
    plan = json.loads(
        state("plan", *SPAN, "--plan-file", str(tmp_path / "plan.toml"), *STEPS).stdout
    )
    row = next(one for one in plan if one["site"] == "cedar")
    begins = int(row["begins"][:2]) * 60 + int(row["begins"][3:])
    at_site = int(cedar["from_at"][:2]) * 60 + int(cedar["from_at"][3:])
    assert begins - at_site == 60


def test_an_announced_visit_stands_in_its_leads_mail(state: Dueward) -> None:
    alder = by_site(state)["alder"]
    assert rows(state, "announce", alder["visit"])[0]["grade"] == "announced"

    digest = state("digest", "--on", "2026-03-02", "--format", "json")
    lead = next(m for m in json.loads(digest.stdout) if m["recipient"] == "lead@alder.example")
    assert "Ovandel Service" in lead["text"]
    assert "Next visit" in lead["text"]


def test_confirming_tells_leads_and_sends_the_stop_list(state: Dueward, tmp_path: Path) -> None:
    alder = by_site(state)["alder"]
    out = tmp_path / "lists"
    confirmed = rows(state, "confirm", alder["visit"], "--out", str(out))
    trip = one(state, "show", alder["visit"])["trip"]

    assert [row["visit"] for row in confirmed] == trip
    assert {row["grade"] for row in confirmed} == {"confirmed"}
    (pdf,) = out.iterdir()
    assert pdf.read_bytes().startswith(b"%PDF")
    told = mails(tmp_path)
    lead = next(m for m in told if m["To"].addresses[0].addr_spec == "lead@alder.example")
    kinds = {part.get_content_type() for part in lead.walk()}
    assert "text/calendar" in kinds
    lists = [m for m in told if "trip of" in m["Subject"]]
    to = {m["To"].addresses[0].addr_spec for m in lists}
    assert "state@bench.example" in to
    if alder["technician"] == "Tatum Fenwald":
        assert "tatum@ovandel.example" in to
    parts = [part for part in lists[0].walk() if part.get_content_type() == "application/pdf"]
    assert parts[0].get_payload(decode=True) == pdf.read_bytes()

    count = len(told)
    rows(state, "confirm", alder["visit"])
    assert len(mails(tmp_path)) == count, "who was told is not told again"


def test_a_technician_who_is_sick_moves_only_what_is_not_confirmed(
    state: Dueward, tmp_path: Path
) -> None:
    alder = by_site(state)["alder"]
    rows(state, "announce", *(row["visit"] for row in rows(state, "list")))
    days = ("--from", alder["trip_on"], "--to", alder["to_on"], "--why", "flu")
    hit = rows(state, "sick", alder["technician"], *days)
    assert alder["visit"] in {row["visit"] for row in hit}

    other = {"Tatum Fenwald", "Robin Yarrowby"} - {alder["technician"]}
    instead = one(state, "replan", "--try")
    assert f"stays on {day(alder['on'])}, {other.pop()} for" in " ".join(instead["moves"])
    assert instead["plan"] is None
    site = ("unsuitable", "alder", "--from", alder["on"], "--to", alder["on"], "--why", "x")
    rows(state, *site)
    assert by_site(state)["alder"] == {**alder, "grade": "announced", "told_on": alder["on"]}
    done = one(state, "replan")
    assert done["plan"] == "P-0002"
    assert done["follows"] == "P-0001"
    assert done["said"].startswith(f"moved: {done['visits_moved']} visit")
    assert done["unplaced"] == []
    after = by_site(state)["alder"]
    assert after["visit"] == alder["visit"], "a visit keeps its number"
    assert (after["on"], after["technician"]) != (alder["on"], alder["technician"])
    moved = [m for m in mails(tmp_path) if "moved" in m["Subject"]]
    assert "lead@alder.example" in {m["To"].addresses[0].addr_spec for m in moved}

    assert one(state, "replan")["plan"] is None, "there is nothing more to change"
    compared = one(state, "compare", "P-0001", "P-0002")
    assert compared["visits_moved"] == done["visits_moved"]


def test_a_confirmed_trip_that_cannot_be_is_to_be_freed_first(state: Dueward) -> None:
    alder = by_site(state)["alder"]
    rows(state, "confirm", alder["visit"])
    days = ("--from", alder["on"], "--to", alder["on"], "--why", "inspection")
    hit = state("visits", "unsuitable", "alder", *days, "--format", "table")
    assert f"dueward visits free {alder['visit']}" in " ".join(hit.stdout.split())

    refused = state("visits", "replan")
    assert refused.exit_code == 2
    assert f"free it first: dueward visits free {alder['visit']}" in refused.stderr
    rows(state, "free", alder["visit"])
    assert one(state, "replan")["plan"] == "P-0002"
    assert by_site(state)["alder"]["on"] != alder["on"]


def test_a_cancelled_visit_is_planned_again(state: Dueward, tmp_path: Path) -> None:
    cedar = by_site(state)["cedar"]
    rows(state, "announce", cedar["visit"])
    rows(state, "cancel", cedar["visit"], "--why", "the bench is moved")
    assert "cedar" not in by_site(state)
    gone = [m for m in mails(tmp_path) if "cancelled" in m["Subject"]]
    assert [m["To"].addresses[0].addr_spec for m in gone] == ["lead@cedar.example"]

    one(state, "replan")
    assert by_site(state)["cedar"]["visit"] != cedar["visit"]
    assert rows(state, "list", "--all", "--site", "cedar")[0]["state"] in {"cancelled", "planned"}


def test_handing_back_settles_the_rules_of_what_was_served(state: Dueward, tmp_path: Path) -> None:
    alder = by_site(state)["alder"]
    certificate = tmp_path / "report.pdf"
    certificate.write_bytes(_pdf())
    done = one(
        state, "hand-back", alder["visit"], "--on", "2026-03-02",
        "--certificate", f"A-1={certificate}", "--not-done", "A-2=no power",
    )  # fmt: skip
    assert done["recorded"] == ["A-1 annual-service"]
    assert "no power" in done["not_done"][0]

    due = json.loads(state("due", "--site", "alder", "--format", "json").stdout)
    last = {row["property_number"]: row["last_done"] for row in due if "service" in row["task"]}
    assert last == {"A-1": "2026-03-02", "A-2": "2025-04-03"}
    again = state("visits", "hand-back", alder["visit"])
    assert again.exit_code == 2
    assert "is done" in again.stderr
    one(state, "replan")
    assert by_site(state)["alder"]["units"] == "A-2"


def test_a_trip_under_way_is_left_alone_until_it_is_handed_back(state: Dueward) -> None:
    first = rows(state, "list")[0]
    later = NOON.replace(year=int(first["trip_on"][:4]), month=int(first["trip_on"][5:7]))
    later = later.replace(day=int(first["trip_on"][8:]) + 1)
    result = state("visits", "replan", "--format", "json", at=later)
    assert result.exit_code == 0, result.stderr
    assert first["visit"] in json.loads(result.stdout)["not_handed_back"]


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        (("show", "V-9999"), "no visit 'V-9999'"),
        (("confirm", "x"), "no visit 'x'"),
        (("replan", "--plan", "P-0009"), "no plan 'P-0009'"),
        (
            ("sick", "Nobody", "--from", "2026-04-01", "--to", "2026-04-02", "--why", "flu"),
            "planned are",
        ),
        (
            ("unsuitable", "alde", "--from", "2026-04-01", "--to", "2026-04-02", "--why", "x"),
            "alder",
        ),
        (
            ("unsuitable", "alder", "--from", "2026-04-03", "--to", "2026-04-02", "--why", "x"),
            "exchange the two",
        ),
        (
            ("unsuitable", "alder", "--from", "2026-01-03", "--to", "2026-01-04", "--why", "x"),
            "name days to come",
        ),
        (("cancel", "V-0001", "--why", " "), "no reason is given"),
        (("hand-back", "V-0001", "--on", "2026-04-01"), "lies in the future"),
        (("hand-back", "V-0001", "--on", "2026-03-02", "--not-done", "A-1"), "is not UNIT=..."),
        (("hand-back", "V-0001", "--on", "2026-03-02", "--not-done", "Z=x"), "is not served by"),
    ],
)
def test_a_slip_is_refused_with_a_mend(state: Dueward, typed: tuple[str, ...], says: str) -> None:
    result = state("visits", *typed)
    assert result.exit_code in (1, 2)
    assert says in result.stderr


def test_the_life_of_a_plan_is_on_the_record_and_loads_again(
    state: Dueward, tmp_path: Path
) -> None:
    alder = by_site(state)["alder"]
    rows(state, "confirm", alder["visit"])
    assert state("verify").exit_code == 0
    assert state("export", str(tmp_path / "out")).exit_code == 0
    url = f"sqlite:///{tmp_path / 'new.db'}"
    again = state("--database", url, "load", str(tmp_path / "out"))
    assert again.exit_code == 0, again.stderr
    with closing(open_store(url, clock=lambda: NOON)) as store, store.begin() as record:
        visits = record.register().visits.values()
    assert {one.grade.value for one in visits if isinstance(one, SiteVisit)} >= {"confirmed"}
