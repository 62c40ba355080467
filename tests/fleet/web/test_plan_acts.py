"""Does the manager confirm, cancel, keep days free and plan anew, without a command?"""

from __future__ import annotations

import pytest

from fleet.domain.visits import VisitState
from fleet.services.jobs.run import LEASE
from fleet.web.long_work import runner
from schedules.visits.model import Grade
from tests.fleet.web.lab import Browser, Lab
from tests.fleet.web.planning_lab import job_at, visits, works

pytest.importorskip("highspy", reason="the extra 'plan' is not installed")

ACTS = "/program/plans/P-0001/visits"
ANEW = "/program/plans/P-0001/anew"


@pytest.fixture
def cancelled(planned: Lab, manager: Browser) -> str:
    """A visit that is cancelled, so that the plan made anew is another."""
    number = next(iter(visits(planned)))
    fields = {"act": "cancel", "visit": number, "why": "flood"}
    assert manager.post(ACTS, fields).status_code == 302
    return number


def test_confirming_takes_the_whole_trip_and_tells_who_it_concerns(
    planned: Lab, manager: Browser
) -> None:
    number, visit = next(iter(visits(planned).items()))
    answer = manager.post(ACTS, {"act": "confirm", "visit": number})
    assert answer.status_code == 302
    mails = int(answer.location.rpartition("mails=")[2])
    assert mails >= 2
    own = [v for v in visits(planned).values() if v.trip_on == visit.trip_on]
    assert {v.grade for v in own if v.technician == visit.technician} == {Grade.CONFIRMED}
    assert f"{mails} mails in the outbox" in manager.page(answer.location)


@pytest.mark.parametrize(("act", "grade"), [("announce", Grade.ANNOUNCED), ("free", Grade.FREE)])
def test_visits_are_announced_and_let_go(
    planned: Lab, manager: Browser, act: str, grade: Grade
) -> None:
    number = next(iter(visits(planned)))
    manager.post(ACTS, {"act": "announce", "visit": number})
    manager.post(ACTS, {"act": act, "visit": number})
    assert visits(planned)[number].grade is grade


@pytest.mark.parametrize(
    ("fields", "says"),
    [
        ({"act": "confirm"}, "No visit is ticked; tick some"),
        ({"act": "cancel", "visit": "V-0001"}, "No reason is given; say why"),
    ],
)
def test_a_form_that_cannot_be_is_shown_again_with_what_was_ticked(
    planned: Lab, manager: Browser, fields: dict[str, str], says: str
) -> None:
    before = visits(planned)
    answer = manager.post(ACTS, fields)
    assert answer.status_code == 400
    assert says in answer.text
    assert "dueward" not in answer.text.partition("<main")[2], "no advice for a terminal"
    assert answer.text.count(" checked>") == len(fields) - 1
    assert "<title>Error: P-0001" in answer.text
    assert visits(planned) == before


@pytest.mark.parametrize(
    ("fields", "code"),
    [({"act": "confirm", "visit": "V-9999"}, 404), ({"act": "promote", "visit": "V-0001"}, 400)],
)
def test_what_is_not_of_the_plan_is_not_changed(
    planned: Lab, manager: Browser, fields: dict[str, str], code: int
) -> None:
    before = visits(planned)
    assert manager.post(ACTS, fields).status_code == code
    assert visits(planned) == before


def test_a_cancelled_visit_is_planned_again_once_it_was_looked_at(
    planned: Lab, manager: Browser, cancelled: str
) -> None:
    assert visits(planned)[cancelled].state is VisitState.CANCELLED
    before = visits(planned)
    trial = manager.post(ANEW).location
    assert "waits for its turn" in manager.page(trial)
    assert works(planned) == 1
    page = manager.page(trial)
    assert "Nothing is changed yet." in page
    assert "comes in" in page
    assert visits(planned) == before
    taken = manager.post(ANEW, {"tried": trial.rpartition("/")[2]}).location
    assert works(planned) == 2, "it takes the plan's place, and is drawn for its page"
    assert "took the place of P-0001" in manager.page(taken)
    assert "took its place" in manager.page("/program/plans/P-0001")
    assert {visit.plan for visit in visits(planned).values() if visit.state == "planned"} == {
        "P-0002"
    }
    other = manager.post("/program/plans/P-0002/anew", {"tried": trial.rpartition("/")[2]})
    assert other.status_code == 404, "a trial of one plan is none of another"
    compared = manager.page("/program/compare?before=P-0001&after=P-0002")
    assert "before" in compared


def test_a_plan_that_comes_out_otherwise_than_it_was_looked_at_is_not_taken(
    planned: Lab, manager: Browser, cancelled: str
) -> None:
    trial = manager.post(ANEW).location
    assert works(planned) == 1
    other = next(n for n, v in visits(planned).items() if v.state is VisitState.PLANNED)
    manager.post(ACTS, {"act": "cancel", "visit": other, "why": "flood"})
    before = visits(planned)
    taken = manager.post(ANEW, {"tried": trial.rpartition("/")[2]}).location
    assert works(planned) == 1
    assert "The record changed since you looked" in manager.page(taken)
    assert visits(planned) == before


def test_a_plan_is_not_kept_over_what_was_changed_while_it_was_made(
    planned: Lab, manager: Browser, cancelled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A visit confirmed meanwhile would be free again."""
    trial = manager.post(ANEW).location
    assert works(planned) == 1
    taken = manager.post(ANEW, {"tried": trial.rpartition("/")[2]}).location
    open_one = next(n for n, v in visits(planned).items() if v.state is VisitState.PLANNED)
    from fleet.services.visits import replanning

    real = replanning.replan

    def slow(*given: object, **more: object) -> object:
        found = real(*given, **more)  # type: ignore[arg-type]
        manager.post(ACTS, {"act": "confirm", "visit": open_one})
        return found

    monkeypatch.setattr(replanning, "replan", slow)
    assert works(planned) == 1
    assert "Something was changed while the plan was made; make it once more" in manager.page(taken)
    assert visits(planned)[open_one].grade is Grade.CONFIRMED
    assert {visit.plan for visit in visits(planned).values()} == {"P-0001"}


def test_a_process_that_dies_after_keeping_does_not_keep_twice(
    planned: Lab, manager: Browser, cancelled: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    trial = manager.post(ANEW).location
    assert works(planned) == 1
    taken = manager.post(ANEW, {"tried": trial.rpartition("/")[2]}).location

    class Killed(BaseException):
        pass

    def dies(*_: object) -> None:
        raise Killed

    process = runner(planned.program)
    monkeypatch.setattr(type(process), "_end", dies)
    with pytest.raises(Killed):
        process.run_one()
    monkeypatch.undo()
    kept = visits(planned)
    planned.now[0] += 2 * LEASE
    assert works(planned) == 2
    assert job_at(planned, taken).result["plan"] == "P-0002"
    assert visits(planned) == kept


def test_a_technician_s_days_off_are_planned_around(planned: Lab, manager: Browser) -> None:
    visit = next(iter(visits(planned).values()))
    off = {
        "who": f"technician/{visit.technician}",
        "from": str(visit.trip_on),
        "to": str(visit.to_on),
        "reason": "flu",
    }
    assert manager.post("/program/plans/P-0001/days-off", off).status_code == 302
    page = manager.page("/program/plans/P-0001")
    assert f"{visit.number}: {visit.technician} cannot come (flu)" in page
    trial = manager.post(ANEW).location
    assert works(planned) == 1
    manager.post(ANEW, {"tried": trial.rpartition("/")[2]})
    assert works(planned) == 2
    after = visits(planned)[visit.number]
    assert (after.technician, after.on) != (visit.technician, visit.on)


def test_a_day_that_does_not_suit_a_site_is_said_and_planned_around(
    planned: Lab, manager: Browser
) -> None:
    visit = next(iter(visits(planned).values()))
    off = {"who": f"site/{visit.site}", "from": str(visit.on), "reason": "inspection"}
    assert manager.post("/program/plans/P-0001/days-off", off).status_code == 302
    assert "wants no visit then (inspection)" in manager.page("/program/plans/P-0001")
    refused = manager.post(ACTS, {"act": "confirm", "visit": visit.number})
    assert refused.status_code == 400
    assert "wants no visit (inspection); make the plan anew" in refused.text
    trial = manager.post(ANEW).location
    assert works(planned) == 1
    manager.post(ANEW, {"tried": trial.rpartition("/")[2]})
    assert works(planned) == 2
    assert visits(planned)[visit.number].on != visit.on


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"from": "soon"}, "is not a day"),
        ({"reason": ""}, "No reason is given; say why"),
        ({"who": "technician/Nobody"}, "makes no visit"),
        ({"from": "2026-03-01"}, "has passed"),
    ],
)
def test_days_that_cannot_be_kept_are_asked_again_with_what_was_typed(
    planned: Lab, manager: Browser, changed: dict[str, str], says: str
) -> None:
    visit = next(iter(visits(planned).values()))
    off = {"who": f"technician/{visit.technician}", "from": "2026-04-01", "reason": "flu at home"}
    answer = manager.post("/program/plans/P-0001/days-off", off | changed)
    assert answer.status_code == 400
    assert says in answer.text
    assert (off | changed)["from"] in answer.text
    field = answer.text.partition('href="#')[2].partition('"')[0]
    assert f'id="{field}"' in answer.text, "the summary leads to the field"


def test_a_site_that_is_not_there_has_no_days(planned: Lab, manager: Browser) -> None:
    off = {"who": "site/nowhere", "from": "2026-04-01", "reason": "flu"}
    assert manager.post("/program/plans/P-0001/days-off", off).status_code == 404


def test_only_a_trial_of_the_same_plan_is_taken(planned: Lab, manager: Browser) -> None:
    for tried in ("P-0001-pictures", "no-such"):
        assert manager.post(ANEW, {"tried": tried}).status_code == 404
