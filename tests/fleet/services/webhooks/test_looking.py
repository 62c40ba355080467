"""What has happened is told once, whoever looks and however often, and nothing of before."""

from __future__ import annotations

import datetime as dt
import json
from dataclasses import replace
from threading import Barrier, Thread

import pytest

from fleet.domain.evidence import ServiceReport
from fleet.domain.records import Entry, Mark
from fleet.domain.webhooks import delivery_key, message_id
from fleet.services.board import Board
from fleet.services.mark import mark
from fleet.services.service import record_service
from fleet.services.webhooks.looking import gather, put_out
from notifications.outbox import State
from tests.fleet.services.webhooks.told_fleet import BASE, HOLIDAYS, NOON, Told

APRIL_5 = dt.datetime(2026, 4, 5, 18, tzinfo=dt.UTC)
"""The first day on which the service of B-1 is overdue."""


def test_who_subscribes_is_not_told_what_was_before(told: Told) -> None:
    told.serves("B-1", "2026-03-02")
    told.subscribe()
    assert told.look() == 0
    told.passes(days=3)
    assert told.look() == 0
    assert told.rows() == []


def test_a_duty_that_becomes_overdue_is_told_once(told: Told) -> None:
    told.subscribe()
    told.now[0] = APRIL_5 - dt.timedelta(days=1)
    assert told.look() == 0, "its limit day is still a day on which it may be done"
    told.now[0] = APRIL_5
    assert told.look() == 1
    assert told.look() == 0
    told.passes(days=1)
    assert told.look() == 0
    assert told.another("two").plan(told.now[0]) == 0
    (row,) = told.rows()
    assert (row.state, row.subject, row.planned_at) == (
        State.QUEUED,
        "overdue: B-1 annual-service",
        APRIL_5,
    )
    assert told.bodies() == [
        {
            "type": "unit.overdue",
            "id": f"msg_{row.key}",
            "timestamp": "2026-04-05T18:00:00Z",
            "property_number": "B-1",
            "kind": "microscope",
            "site": "birch",
            "task": "annual-service",
            "due": "2026-03-20",
            "limit": "2026-04-04",
            "page": "https://pages.example/units/B-1",
        }
    ]


def test_one_that_is_served_and_overdue_again_a_year_later_is_told_again(told: Told) -> None:
    told.subscribe(tells_services=False)
    told.now[0] = APRIL_5
    assert told.look() == 1
    told.serves("B-1", "2026-04-05")
    assert told.look() == 0
    told.now[0] = dt.datetime(2027, 4, 23, 18, tzinfo=dt.UTC)
    told.serves("A-1", "2027-04-22")
    assert told.look() == 1
    assert [one["limit"] for one in told.bodies()] == ["2026-04-04", "2027-04-20"]


def test_one_that_is_overdue_again_with_the_same_limit_is_not_told_again(told: Told) -> None:
    told.subscribe(tells_services=False)
    told.now[0] = APRIL_5
    assert told.look() == 1
    served = told.serves("B-1", "2026-04-05")
    told.look()
    told.strikes(served.entry.key)
    assert told.look() == 0


def test_of_cells_that_stay_empty_nothing_is_told(told: Told) -> None:
    told.subscribe()
    told.passes(days=1)
    view_at = told.now[0]
    with told.store.begin() as record:
        states = {row.state for row in Board(HOLIDAYS).view(record, view_at).rows if row.missed}
    assert states == {"overdue"}, "there are gaps"
    assert told.look() == 0


def test_a_service_is_told_with_what_is_due_next_and_no_person(told: Told) -> None:
    told.subscribe()
    told.serves("A-1", "2026-03-02", key="Dr Quist's own key")
    assert told.look() == 1
    (one,), (row,) = told.bodies(), told.rows()
    assert one == {
        "type": "service.recorded",
        "id": message_id(row.key),
        "timestamp": "2026-03-03T18:00:00Z",
        "property_number": "A-1",
        "kind": "microscope",
        "site": "alder",
        "task": "annual-service",
        "due": "2027-03-02",
        "limit": "2027-03-17",
        "page": "https://pages.example/units/A-1",
        "on": "2026-03-02",
        "replaces": None,
    }
    for word in ("QZ", "Quist", "ana"):
        assert word not in json.dumps(one)
    assert told.look() == 0


def test_a_mark_that_is_no_service_is_not_told(told: Told) -> None:
    told.subscribe()
    for task, what in (("optics", Mark.DONE), ("annual-service", Mark.EXPLAINED)):
        entry = Entry(
            key=task,
            property_number="A-1",
            task=task,
            on=dt.date(2026, 3, 2),
            mark=what,
            note="flood",
        )
        with told.store.begin(write=True) as record:
            mark(record, HOLIDAYS, entry, anyway=True, stamp=told.stamp())
            record.commit()
    assert told.look() == 0


def test_a_service_that_is_struck_is_told_with_the_message_it_takes_back(told: Told) -> None:
    told.subscribe()
    served = told.serves("A-1", "2026-03-02")
    told.look()
    told.passes(minutes=5)
    told.strikes(served.entry.key)
    assert told.look() == 1
    recorded, struck = told.bodies()
    assert (struck["type"], struck["strikes"], struck["on"]) == (
        "service.struck",
        recorded["id"],
        "2026-03-02",
    )
    assert struck["limit"] == "2026-01-21", "as it is due now"


def test_a_corrected_service_replaces_the_message_before(told: Told) -> None:
    told.subscribe()
    first = told.serves("A-1", "2026-03-02")
    told.look()
    told.passes(minutes=5)
    second = told.strikes(first.entry.key, Mark.DONE)
    told.look()
    told.passes(minutes=5)
    told.strikes(second.entry.key, Mark.EXPLAINED)
    told.look()
    one, two, three = told.bodies()
    assert (two["type"], two["replaces"]) == ("service.recorded", one["id"])
    assert (three["type"], three["strikes"]) == ("service.struck", two["id"])


@pytest.mark.parametrize("source", ["page", "command", "link", "bench", "api", "file"])
def test_whichever_door_records_a_service_it_is_told(told: Told, source: str) -> None:
    told.subscribe()
    told.serves("A-1", "2026-03-02", source)
    assert told.look() == 1


@pytest.mark.parametrize(("source", "wanted"), [("file", 0), ("page", 1)])
def test_history_that_comes_from_a_file_is_no_news(told: Told, source: str, wanted: int) -> None:
    told.subscribe()
    told.serves("A-1", "2026-01-30", source)
    assert told.look() == wanted


def test_the_last_day_of_history_from_a_file(told: Told) -> None:
    told.subscribe()
    told.serves("A-1", "2026-01-31", "file")
    assert told.look() == 1


def test_a_report_that_joins_an_entry_is_the_same_service(told: Told) -> None:
    told.subscribe()
    report = ServiceReport(
        property_number="A-1",
        task="annual-service",
        on=dt.date(2026, 3, 2),
        vendor="Vendrick & Co",
        technician="Val Vendrick",
        findings="worn lamp",
    )
    for words in ("worn lamp", "worn lamp, replaced"):
        with told.store.begin(write=True) as record:
            one = replace(report, findings=words)
            record_service(record, HOLIDAYS, one, anyway=True, stamp=told.stamp())
            record.commit()
        told.look()
    (body,) = told.bodies()
    assert "Vendrick" not in json.dumps(body)


def test_a_region_is_told_of_its_own_sites_alone(told: Told) -> None:
    told.subscribe("W1", region="South")
    told.subscribe("W2", region="North")
    told.subscribe("W3", tells_overdue=False)
    told.now[0] = APRIL_5
    told.serves("A-1", "2026-04-02")
    assert told.look() == 3
    assert told.told("W1") == [("unit.overdue", "B-1")]
    assert told.told("W2") == told.told("W3") == [("service.recorded", "A-1")]


def test_who_subscribes_later_does_not_take_from_who_was_there(told: Told) -> None:
    """What was not looked at yet is told to those before, and not to who comes."""
    told.subscribe("W1")
    told.serves("A-1", "2026-03-02")
    told.subscribe("W2")
    assert told.look() == 0
    assert (len(told.rows("W1")), len(told.rows("W2"))) == (1, 0)


def test_what_happened_while_nobody_was_told_is_not_told(told: Told) -> None:
    first = told.subscribe("W1")
    with told.store.begin(write=True) as record:
        record.webhooks.put(replace(first, ended_at=told.now[0]))
        record.commit()
    told.serves("A-1", "2026-03-02")
    told.now[0] = APRIL_5
    assert told.look() == 0
    told.subscribe("W2")
    assert told.look() == 0
    assert told.rows() == []


def test_nothing_is_lost_where_a_look_is_cut_off_before_it_is_kept(told: Told) -> None:
    told.subscribe()
    told.serves("A-1", "2026-03-02")
    with told.store.begin(write=True) as record:
        view = Board(HOLIDAYS).view(record, NOON)
        assert put_out(record, gather(record, view, NOON), BASE, NOON) == 1
        # killed here: nothing is committed
    assert told.rows() == []
    assert told.look() == 1


def test_who_looked_at_what_another_has_put_out_queues_nothing(told: Told) -> None:
    told.subscribe()
    told.serves("A-1", "2026-03-02")
    with told.store.begin() as record:
        looked = gather(record, Board(HOLIDAYS).view(record, NOON), NOON)
    assert told.look() == 1
    with told.store.begin(write=True) as record:
        assert put_out(record, looked, BASE, NOON) is None


def test_what_comes_between_look_and_note_is_told_at_the_next_look(told: Told) -> None:
    told.subscribe()
    told.serves("A-1", "2026-03-02")
    with told.store.begin() as record:
        looked = gather(record, Board(HOLIDAYS).view(record, NOON), NOON)
    told.serves("A-1", "2026-03-03")
    with told.store.begin(write=True) as record:
        assert put_out(record, looked, BASE, NOON) == 1
        record.commit()
    assert told.look() == 1
    assert [one["on"] for one in told.bodies()].count("2026-03-03") == 1


def test_two_processes_at_once_tell_everything_once(told: Told) -> None:
    told.subscribe()
    told.now[0] = APRIL_5
    for day in range(1, 6):
        told.serves("A-1", f"2026-04-0{day}")
    works = [told.another(f"p{n}") for n in range(4)]
    gate, queued = Barrier(4), list[int]()

    def look(number: int) -> None:
        gate.wait()
        queued.append(works[number].plan(APRIL_5))

    threads = [Thread(target=look, args=(n,)) for n in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sum(queued) == len(told.rows()) == 6


def test_the_name_of_a_message_is_of_who_is_told_and_what() -> None:
    one = delivery_key("W1", "service/7/3")
    assert one == delivery_key("W1", "service/7/3")
    assert len({one, delivery_key("W2", "service/7/3"), delivery_key("W1", "service/7/4")}) == 3
    assert "." not in message_id(one)
