"""Is every gap, bare mark and correction of a month found, and only what is asked for answered?"""

from __future__ import annotations

import datetime as dt

import pytest

from fleet.domain.records import Mark
from fleet.errors import BadInput
from fleet.services.questions import Narrow
from tests.fleet.services.audit_fleet import FIRST, AuditFleet, at, march

WED, THU, FRI = march(11), march(12), march(13)
SUNDAY = march(15)
SATURDAY_BEFORE = FIRST - dt.timedelta(days=2)


def test_a_clean_month_has_no_finding() -> None:
    assert AuditFleet.clean().told() == []


# --- gaps


def test_a_day_without_a_mark_is_a_gap_of_its_day() -> None:
    (row,) = AuditFleet.clean(("optics", WED)).rows()

    assert (row.site, row.county, row.region) == ("alder", "Cherry", "West")
    assert (row.property_number, row.kind, row.task) == ("M-1", "microscope", "optics")
    assert (row.finding, row.on, row.entries) == ("gap", None, None)
    assert (row.period_from, row.period_to, row.opens, row.closes) == (WED, WED, WED, WED)
    assert row.settle == (
        "Say why 2026-03-11 has no mark:"
        " dueward mark M-1 optics --on 2026-03-11 --as explained --note '...'"
    )


def test_a_week_without_a_mark_is_a_gap_of_its_period() -> None:
    (row,) = AuditFleet.clean(("rotor", march(9))).rows()

    assert (row.period_from, row.period_to) == (march(9), SUNDAY)
    assert (row.opens, row.closes) == (march(9), FRI)
    assert row.settle == (
        "Say why 2026-03-09 to 2026-03-15 has no mark:"
        " dueward mark C-1 rotor --on 2026-03-13 --as explained --note '...'"
    )


def test_a_gap_with_one_of_two_marks_names_the_one_there_is() -> None:
    fleet = AuditFleet.clean(("speed", WED))

    (row,) = fleet.rows()

    assert row.finding == "gap"
    assert row.entries is not None
    assert row.entries.startswith("C-1/speed/2026-03-11/")
    assert row.settle.startswith("Say why 2026-03-11 has only 1 of 2 marks: ")


def test_the_day_asked_for_is_not_yet_a_gap() -> None:
    fleet = AuditFleet.clean(("optics", WED))

    assert fleet.told(on=WED) == []
    assert len(fleet.told(on=THU)) == 1


def test_without_a_day_each_site_is_asked_about_its_own_today() -> None:
    fleet = AuditFleet.clean(("optics", march(31)))

    assert fleet.told(on=None) == [("gap", "optics", march(31), None)]


def test_gaps_are_answered_without_reading_entries(monkeypatch: pytest.MonkeyPatch) -> None:
    fleet = AuditFleet.clean(("optics", WED))
    rows = fleet.rows("gap")

    monkeypatch.setattr(fleet.record, "entries", None)
    monkeypatch.setattr("tests.fleet.services.audit_fleet.rebuild", lambda *_: None)

    assert fleet.rows("gap") == rows
    assert len(rows) == 1


# --- initials and corrections


@pytest.mark.parametrize(
    ("source", "mark", "initials", "findings"),
    [
        ("command", Mark.DONE, "", 1),
        ("command", Mark.UNUSED, "  ", 1),
        ("file", Mark.DONE, "", 0),
        ("command", Mark.FILLED, "", 0),
        ("command", Mark.DONE, "GR", 0),
    ],
)
def test_a_mark_without_initials_is_found(
    source: str, mark: Mark, initials: str, findings: int
) -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("bare", WED, mark, source=source, initials=initials)

    assert fleet.told() == [("no initials", "optics", WED, "bare")] * findings


def test_initials_are_settled_by_a_new_mark() -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("bare", WED, initials="")

    (row,) = fleet.rows()

    assert row.settle == (
        "Ask who made it, strike it and mark it anew: dueward strike bare --why '...',"
        " then dueward mark M-1 optics --on 2026-03-11 --as done --initials ..."
    )


def test_an_explanation_gets_its_note_again_with_the_initials() -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("bare", WED, Mark.EXPLAINED, initials="", note="inventory")

    (row,) = fleet.rows("no initials")

    assert row.settle == (
        "Ask who made it, strike it and mark it anew: dueward strike bare --why '...',"
        " then dueward mark M-1 optics --on 2026-03-11 --as explained --note '...' --initials ..."
    )


def test_a_struck_entry_gives_no_finding_but_corrected() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("sunday", SUNDAY, initials="")
    fleet.mark("no", SUNDAY, None, recorded=at(march(17)), strikes="sunday", why="the wrong day")

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.entries) == ("corrected", SUNDAY, "sunday; no")
    assert row.settle == "Struck on 2026-03-17 (the wrong day); review whether that is right."


def test_a_replacement_is_a_correction_and_a_mark() -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("first", WED)
    fleet.mark("rest", WED, Mark.UNUSED, recorded=at(THU), strikes="first", why="not in use")

    (row,) = fleet.rows()

    assert (row.finding, row.on, row.period_from) == ("corrected", WED, WED)
    assert row.settle == (
        "Replaced by unused on 2026-03-12 (not in use); review whether that is right."
    )


# --- what is asked


def test_entries_are_judged_as_known_at_an_instant() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("sunday", SUNDAY)
    fleet.mark("no", SUNDAY, None, recorded=at(march(17)), strikes="sunday", why="the wrong day")
    asked = {"to_on": SUNDAY, "on": march(16)}

    assert fleet.told(known_at=at(SUNDAY, 15), **asked) == []
    assert [row[0] for row in fleet.told(known_at=at(march(16)), **asked)] == ["conflict"]
    assert [row[0] for row in fleet.told(known_at=at(march(17)), **asked)] == ["corrected"]


def test_entries_dated_after_the_day_are_left_out() -> None:
    fleet = AuditFleet.clean()
    fleet.mark("sunday", SUNDAY)

    assert fleet.told(on=march(14)) == []
    assert len(fleet.told(on=SUNDAY)) == 1


def test_both_ends_of_the_span_are_included() -> None:
    fleet = AuditFleet.clean(("optics", WED))
    fleet.mark("sunday", SUNDAY)

    assert [row[0] for row in fleet.told(from_on=WED, to_on=SUNDAY)] == ["gap", "conflict"]
    assert fleet.told(from_on=THU, to_on=march(14)) == []


def test_a_finding_stands_at_the_site_where_the_unit_stood_on_its_day() -> None:
    left_out = [("optics", march(day)) for day in range(16, 32)]
    fleet = AuditFleet.clean(("optics", WED), *left_out)
    fleet.moved("M-1", march(16))
    fleet.mark("tuesday", march(17))

    rows = fleet.rows()

    assert [(row.site, row.finding, row.on or row.closes) for row in rows] == [
        ("alder", "gap", WED),
        ("birch", "conflict", march(17)),
        ("birch", "gap", march(18)),
        ("birch", "gap", march(25)),
    ]
    assert fleet.rows(narrow=Narrow(sites=("Alder",))) == rows[:1]
    assert fleet.rows(narrow=Narrow(counties=("grant",))) == rows[1:]
    assert fleet.rows(narrow=Narrow(regions=("East",), tasks=("optics",))) == rows[1:]
    assert fleet.rows(narrow=Narrow(kinds=("centrifuge",))) == []
    assert fleet.rows(narrow=Narrow(states=("overdue",))) == rows


def test_rows_come_by_site_unit_task_and_day() -> None:
    fleet = AuditFleet.clean(("optics", FRI), ("rotor", march(9)), ("speed", march(24)))
    fleet.mark("sunday", march(8))
    fleet.mark("sun", SUNDAY, number="C-1", task="speed")

    assert [(r.property_number, r.task, r.on or r.closes) for r in fleet.rows()] == [
        ("C-1", "rotor", FRI),
        ("C-1", "speed", SUNDAY),
        ("C-1", "speed", march(24)),
        ("M-1", "optics", march(8)),
        ("M-1", "optics", FRI),
    ]


@pytest.mark.parametrize(
    "finding", ["gap", "late", "batch", "conflict", "impossible", "no initials", "corrected"]
)
def test_one_finding_is_picked_by_its_name(finding: str) -> None:
    fleet = AuditFleet.clean(("optics", march(31)))
    for day in range(2, 7):
        fleet.mark(f"b{day}", march(day), recorded=at(WED))
    fleet.mark("sunday", SUNDAY)
    fleet.mark("early", SATURDAY_BEFORE, initials="")
    fleet.mark("wrong", WED)
    fleet.mark("no", WED, None, strikes="wrong", why="twice")
    everything = fleet.rows()

    rows = fleet.rows(finding)

    assert rows == [row for row in everything if row.finding == finding]
    assert len(rows) >= 1


def test_an_unknown_finding_is_refused_with_the_known_ones() -> None:
    with pytest.raises(BadInput) as refused:
        AuditFleet.clean().answer("gone")

    assert str(refused.value) == (
        "--finding: no finding 'gone'; they are gap, late, batch, conflict, impossible,"
        " no initials, corrected, backdated, chart returned late"
    )
