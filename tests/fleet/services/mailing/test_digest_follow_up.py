"""Which actions, outages, months and roots do digests tell, and to whom?"""

from __future__ import annotations

import dataclasses
import datetime as dt
import re

import pytest

from fleet.domain.evidence import Action
from fleet.domain.records import Outage, Person, Placement, Role
from fleet.services.mailing.digest import digests
from fleet.services.mailing.digest_facts import fleet_facts
from fleet.services.reviews import ReviewRow
from notifications.settings import Settings
from tests.fleet.services.mailing.digest_scenario import BOOK, ROOT, Scenario


def a_site() -> Scenario:
    """One site with a lead who is only named at the site."""
    state = Scenario(on=dt.date(2026, 11, 16))
    state.site("alder", "Alder Creek", "Adams", "Platte", "ana@lab.example")
    return state


def an_action(**changes: object) -> Action:
    given: dict[str, object] = {
        "number": "NE-1001/2026-10-05/1",
        "site": "alder",
        "property_number": "NE-1001",
        "task": "optics",
        "opened_on": dt.date(2026, 10, 5),
        "problem": "The stage drifts.",
    }
    return Action(**{**given, **changes})  # type: ignore[arg-type]


def a_state_with_a_unit() -> Scenario:
    state = a_site()
    state.site("birch", "Birch Hill", "Boone", "East")
    state.unit("NE-1001", "microscope", "alder")
    return state


def an_outage(
    from_on: dt.date = dt.date(2026, 10, 20), to_on: dt.date | None = None
) -> dict[tuple[str, ...], Outage]:
    made = Outage(property_number="NE-1001", from_on=from_on, to_on=to_on, reason="lid lock")
    return {made.key: made}


@pytest.mark.parametrize(
    ("changes", "is_open"),
    [
        ({}, True),
        ({"closed_on": dt.date(2026, 11, 2)}, False),
        ({"opened_on": dt.date(2026, 11, 16)}, True),
        ({"opened_on": dt.date(2026, 11, 17)}, False),
    ],
)
def test_an_action_is_told_until_it_is_closed(changes: dict[str, object], is_open: bool) -> None:
    state = a_state_with_a_unit()
    action = an_action(**changes)
    state.actions[action.key] = action

    facts = fleet_facts(state.register, BOOK, [], [], state.on)

    assert bool(facts.actions.get("alder")) is is_open


def test_an_action_carries_what_its_task_warns_of_where_the_book_knows_it() -> None:
    state = a_state_with_a_unit()
    for action in (
        an_action(),
        an_action(number="2", task="no such task"),
        an_action(number="3", property_number="", task=""),
    ):
        state.actions[action.key] = action
    optics = next(rule for rule in BOOK.kinds["microscope"].rules if rule.task == "optics")

    told = fleet_facts(state.register, BOOK, [], [], state.on).actions["alder"]

    assert [one.cautions for one in told] == [optics.cautions, (), ()]


@pytest.mark.parametrize(
    ("outages", "retired_on", "is_open"),
    [
        (an_outage(), None, True),
        (an_outage(to_on=dt.date(2026, 12, 1)), None, False),
        (an_outage(from_on=dt.date(2026, 11, 17)), None, False),
        (an_outage(), dt.date(2026, 11, 16), False),
        (an_outage(), dt.date(2026, 11, 17), True),
    ],
)
def test_an_outage_is_open_without_a_day_of_return(
    outages: dict[tuple[str, ...], Outage], retired_on: dt.date | None, is_open: bool
) -> None:
    state = a_state_with_a_unit()
    state.outages = outages
    unit = state.units[("NE-1001",)]
    state.units[unit.key] = dataclasses.replace(unit, retired_on=retired_on)

    facts = fleet_facts(state.register, BOOK, [], [], state.on)

    assert bool(facts.outages.get("alder")) is is_open


def test_an_outage_is_told_where_the_unit_stands_on_the_day() -> None:
    state = a_state_with_a_unit()
    state.outages = an_outage()
    move = Placement(property_number="NE-1001", site="birch", from_on=state.on)
    state.placements[move.key] = move

    facts = fleet_facts(state.register, BOOK, [], [], state.on)

    assert list(facts.outages) == ["birch"]
    assert facts.outages["birch"][0].kind == BOOK.kinds["microscope"].name


def a_month(state: str, month: str = "2026-10", site: str = "alder") -> ReviewRow:
    nothing = (None, None, None, None, None, None, None)
    return ReviewRow(site, "Adams", "Platte", month, state, *nothing)


def test_months_that_wait_are_told_and_signed_ones_are_not() -> None:
    state = a_state_with_a_unit()
    rows = [a_month("to review"), a_month("signed", "2026-09"), a_month("reopened", "2026-08")]

    told = fleet_facts(state.register, BOOK, [], [], state.on, rows).months["alder"]

    assert [(one.first_on, one.is_reopened) for one in told] == [
        (dt.date(2026, 10, 1), False),
        (dt.date(2026, 8, 1), True),
    ]


def test_what_is_begun_reaches_the_readers_it_is_for() -> None:
    """The lead of the site and the consultant of its region; no lead reads of months."""
    state = a_state_with_a_unit()
    state.person("con@lab.example", "Con Dale", Role.CONSULTANT, region="Platte")
    state.person("eve@lab.example", "Eve Dale", Role.CONSULTANT, region="East")
    state.outages = an_outage()
    action = an_action()
    state.actions[action.key] = action
    rows = [a_month("to review")]

    run = digests(state.register, BOOK, [], [], state.on, Settings(), ROOT, rows)

    assert {message.email: message.subject for message in run.messages} == {
        "con@lab.example": "Platte: 1 month to review, 1 corrective action",
        "ana@lab.example": "Alder Creek: 1 corrective action, 1 unit still out",
    }
    assert [one.email for one in run.skipped] == ["eve@lab.example"]


def test_the_manager_s_root_bears_the_day_it_was_taken_where_the_manager_is() -> None:
    """Two in the morning of 1 December in UTC is the evening of 30 November in Chicago."""
    state = a_site()
    person = Person(
        email="max@lab.example", name="Max", role=Role.MANAGER, time_zone="America/Chicago"
    )
    state.people[person.key] = person

    run = digests(state.register, BOOK, [], [], state.on, Settings(), ROOT)
    (message,) = run.messages

    flat = re.sub(r"\s+", " ", message.text)
    assert message.subject == "All clear: annual services, all regions"
    assert message.period == "2026-W47"
    told = "Record root on Mon 30 Nov 2026: " + "0123456789abcdef " * 4
    assert f"{told}Keep this mail: " in flat
