"""Does an extension put off when a row is overdue, and nothing else (design 4.3, 4.4)?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

import pytest

from fleet.domain.answers import StatusRow
from fleet.domain.evidence import Extension
from fleet.domain.records import RegisterRecord
from fleet.domain.register import Change
from fleet.services.due import due_rows
from fleet.services.extensions import extended, extensions_of
from fleet.services.ports import Record
from fleet.services.questions import Question
from fleet.services.why import explain_row
from tests.fakes import FakeRecord
from tests.fleet.services.life_fleet import HOLIDAYS, NOON, at, day, filled, marked

GRANTED = Extension(
    property_number="A-1",
    task="inventory",
    from_on=day("2026-03-04"),
    until_on=day("2026-03-20"),
    reason="the counter\nis ill.",
    granted_by="Noor",
)
"""Of a fixed rule, due every 15 January and overdue since."""


def put_off(*granted: RegisterRecord) -> Record:
    return filled(FakeRecord(), *granted)


def row(record: Record, on: str, known_at: dt.datetime | None = None) -> StatusRow:
    question = Question(now=NOON, on=day(on), known_at=known_at)
    answer = due_rows(record, HOLIDAYS, question)
    (found,) = [one for one in answer.rows if one.task == "inventory"]
    return found


@pytest.mark.parametrize("on", ["2026-03-04", "2026-03-20"])
def test_only_limit_and_state_are_others(on: str) -> None:
    without = row(put_off(), on)
    assert without.state == "overdue"

    assert row(put_off(GRANTED), on) == without._replace(limit=GRANTED.until_on, state="due")


def test_it_is_overdue_again_once_the_time_granted_has_passed() -> None:
    without = row(put_off(), "2026-03-21")

    assert row(put_off(GRANTED), "2026-03-21") == without._replace(limit=GRANTED.until_on)


def test_before_it_was_granted_it_is_not_there() -> None:
    assert row(put_off(GRANTED), "2026-03-03") == row(put_off(), "2026-03-03")


def test_it_never_brings_a_limit_forward() -> None:
    short = replace(GRANTED, from_on=day("2026-01-06"), until_on=day("2026-01-07"))

    assert row(put_off(short), "2026-01-08") == row(put_off(), "2026-01-08")


@pytest.mark.parametrize(
    ("done", "limit"), [("2026-03-03", "2027-01-15"), ("2026-03-04", "2027-01-15")]
)
def test_what_was_done_since_uses_it_up(done: str, limit: str) -> None:
    """A service done before it was granted leaves the extension to the next one."""
    record = put_off(replace(GRANTED, until_on=day("2027-02-01")))
    marked(record, "inventory", done)

    expected = day("2027-02-01") if done < "2026-03-04" else day(limit)
    assert row(record, "2026-03-05").limit == expected


def test_the_latest_granted_wins() -> None:
    sooner = replace(GRANTED, from_on=day("2026-03-05"), until_on=day("2026-03-10"))

    found = put_off(sooner, GRANTED)

    assert row(found, "2026-03-04").limit == day("2026-03-20")
    assert row(found, "2026-03-05").limit == day("2026-03-10")
    assert row(found, "2026-03-11").state == "overdue"


def test_it_counts_from_the_instant_it_was_known() -> None:
    record = put_off()
    record.change([Change(old=None, new=GRANTED, initial=False)], at("2026-03-09"))

    assert row(record, "2026-03-12", at("2026-03-08").at).state == "overdue"
    assert row(record, "2026-03-12", at("2026-03-09").at).state == "due"


def test_cells_and_units_out_of_use_have_nothing_to_put_off() -> None:
    found = row(put_off(), "2026-03-04")
    granted = {("A-1", "inventory"): [GRANTED]}
    for one in (
        found._replace(basis="cell"),
        found._replace(state="out of service", nominal=None, opens=None, due=None, limit=None),
    ):
        rows = {7: one}
        extended(rows, granted, day("2026-03-04"))
        assert rows == {7: one}


def test_extensions_stand_in_the_order_they_were_granted() -> None:
    later = replace(GRANTED, from_on=day("2026-03-05"))

    assert extensions_of(put_off(later, GRANTED).register()) == {
        ("A-1", "inventory"): [GRANTED, later]
    }


def test_why_tells_who_put_it_off_and_that_the_interval_stays() -> None:
    question = Question(now=NOON, on=day("2026-03-04"))

    def told(record: Record) -> list[str]:
        return explain_row(record, HOLIDAYS, "A-1", "inventory", question).steps

    *without, last = told(put_off())
    assert last == "So on Wed 4 Mar 2026 it is overdue, 1 missed, 48 days past its due date" + (
        " (34 open days)."
    )
    # The interval: check-values A-01, 42 CFR 493.1254(a)(1), read in a reprint.
    assert told(put_off(GRANTED)) == [
        *without,
        "On Wed 4 Mar 2026 Noor put it off until Fri 20 Mar 2026 (the counter is ill): until then"
        " it is due, not overdue. The due date and the manufacturer's interval are not changed by"
        " that: maintenance is asked for at least as often as the manufacturer says (42 CFR"
        " 493.1254(a)(1)).",
        "So on Wed 4 Mar 2026 it is due, 48 days past its due date (34 open days).",
    ]
