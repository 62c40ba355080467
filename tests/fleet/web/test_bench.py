"""What does the bench mark, and what becomes of it on the record?"""

from __future__ import annotations

import datetime as dt
import re

import pytest

from fleet.domain.records import Entry, Mark, Role, StoredEntry
from fleet.services.access.hours import BENCH_CODE_FOR, BENCH_IDLE, TRIES
from fleet.web.guard import COOKIE
from tests.fleet.web.lab import HOST, Browser, Lab


def forms(page: str, action: str) -> list[dict[str, str]]:
    """The hidden fields of each form of an action, in the order of the page."""
    found = re.findall(rf'<form method="post" action="{action}"[^>]*>(.*?)</form>', page, re.DOTALL)
    field = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)"')
    return [dict(field.findall(form)) for form in found]


def open_marks(page: str) -> list[dict[str, str]]:
    """The places to mark that a page shows, hidden ones left out."""
    made = re.findall(
        r'<form method="post" action="/bench/alder/mark"([^>]*)>(.*?)</form>', page, re.DOTALL
    )
    field = re.compile(r'<input type="hidden" name="(\w+)" value="([^"]*)"')
    return [dict(field.findall(form)) for head, form in made if " hidden" not in head]


def kept(lab: Lab, number: str = "A-1") -> list[StoredEntry]:
    """What the bench has written of a unit."""
    with lab.program.store.begin() as record:
        stored = list(record.entries([record.unit_ids()[number]]))
    return [one for one in stored if one.source == "bench"]


def test_the_page_shows_each_open_cell_with_its_caution_once(lab: Lab) -> None:
    page = lab.at_bench().page("/bench/alder")
    assert "3 marks to make today" in page
    assert [(f["property_number"], f["task"]) for f in open_marks(page)] == [
        ("A-1", "optics"),
        ("A-2", "optics"),
        ("A-3", "temperature"),
    ]
    assert page.count("Unplug before any liquid comes near.") == 1
    assert "allowed 2.0 to 8.0 C" in page
    assert "annual-service" not in page, "the vendor's"


def test_one_touch_marks_and_the_entry_bears_initials_and_bench(lab: Lab) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    answer = bench.post("/bench/alder/mark", dict(first))
    assert answer.status_code == 302
    assert answer.location.endswith("#unit-A-1")
    (stored,) = kept(lab)
    assert stored.entry == Entry(
        key=first["key"],
        property_number="A-1",
        task="optics",
        on=dt.date(2026, 3, 3),
        mark=Mark.DONE,
        initials="GR",
    )
    assert (stored.source, stored.stored_at) == ("bench", lab.now[0])
    assert "2 marks to make today" in bench.page("/bench/alder")


def test_the_same_form_sent_twice_is_one_entry(lab: Lab) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    for _ in range(3):
        assert bench.post("/bench/alder/mark", dict(first)).status_code == 302
    assert len(kept(lab)) == 1


def test_the_same_key_with_other_content_is_refused(lab: Lab) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    bench.post("/bench/alder/mark", dict(first))
    answer = bench.post("/bench/alder/mark", {**first, "mark": "unused"})
    assert answer.status_code == 409
    assert len(kept(lab)) == 1


def test_two_people_who_mark_one_cell_both_stay(lab: Lab) -> None:
    one, other = lab.at_bench(initials="GR"), lab.at_bench(initials="HS")
    mine, theirs = (open_marks(b.page("/bench/alder"))[0] for b in (one, other))
    assert mine["key"] != theirs["key"]
    assert one.post("/bench/alder/mark", dict(mine)).status_code == 302
    assert other.post("/bench/alder/mark", dict(theirs)).status_code == 302
    assert [stored.entry.initials for stored in kept(lab)] == ["GR", "HS"]
    page = one.page("/bench/alder")
    assert "GR 12:00" in page
    assert "HS 12:00" in page


def test_taking_back_is_a_correction_and_the_cell_is_open_again(lab: Lab) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    bench.post("/bench/alder/mark", dict(first))
    (back, *_) = forms(bench.page("/bench/alder"), "/bench/alder/back")
    for _ in range(2):
        assert bench.post("/bench/alder/back", dict(back)).status_code == 302
    made, struck = kept(lab)
    assert struck.entry.strikes == made.entry.key
    assert struck.entry.initials == "GR"
    page = bench.page("/bench/alder")
    assert "3 marks to make today" in page
    (again, *_) = open_marks(page)
    assert again["key"] != first["key"]
    assert bench.post("/bench/alder/mark", dict(again)).status_code == 302
    assert len(kept(lab)) == 3


def test_what_was_marked_more_than_a_day_ago_is_not_taken_back_here(lab: Lab) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    bench.post("/bench/alder/mark", dict(first))
    lab.now[0] += dt.timedelta(hours=25)
    answer = lab.at_bench().post("/bench/alder/back", {"key": first["key"]})
    assert answer.status_code == 400
    assert "more than a day ago" in answer.text


def test_a_unit_not_in_use_fills_its_daily_cells(lab: Lab) -> None:
    bench = lab.at_bench()
    assert bench.post("/bench/alder/unused", {"property_number": "A-1"}).status_code == 302
    assert [stored.entry.mark for stored in kept(lab)] == [Mark.UNUSED]
    assert kept(lab, "A-2") == []


def test_a_room_not_in_use_is_one_touch_and_leaves_what_is_marked(lab: Lab) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    bench.post("/bench/alder/mark", dict(first))
    for _ in range(2):
        assert bench.post("/bench/alder/unused", {"room": "yes"}).status_code == 302
    marks = {n: [s.entry.mark for s in kept(lab, n)] for n in ("A-1", "A-2", "A-3")}
    assert marks == {"A-1": [Mark.DONE], "A-2": [Mark.UNUSED], "A-3": [Mark.UNUSED]}
    assert "Everything of today is marked" in bench.page("/bench/alder")


@pytest.mark.parametrize(
    ("typed", "read"), [("4.5", "4.5"), ("4,5", "4.5"), (" 4 °C ", "4"), ("\N{MINUS SIGN}1", "-1")]
)
def test_readings_are_taken_as_people_write_them(lab: Lab, typed: str, read: str) -> None:
    bench = lab.at_bench()
    form = open_marks(bench.page("/bench/alder"))[2]
    assert bench.post("/bench/alder/mark", {**form, "reading": typed}).status_code == 302
    assert [s.entry.reading for s in kept(lab, "A-3")] == [read]


@pytest.mark.parametrize(
    ("typed", "says"), [("", "No reading is given"), ("warm", "decimal point")]
)
def test_a_reading_that_is_none_is_refused_in_words(lab: Lab, typed: str, says: str) -> None:
    bench = lab.at_bench()
    form = open_marks(bench.page("/bench/alder"))[2]
    answer = bench.post("/bench/alder/mark", {**form, "reading": typed})
    assert answer.status_code == 400
    assert says in answer.text
    assert kept(lab, "A-3") == []


def test_a_reading_out_of_limits_says_at_once_what_comes_first_and_opens_an_action(
    lab: Lab,
) -> None:
    bench = lab.at_bench()
    form = open_marks(bench.page("/bench/alder"))[2]
    answer = bench.post("/bench/alder/mark", {**form, "reading": "9.5"})
    page = bench.page(answer.location.partition("#")[0])
    assert "Out of limits: Read the temperature: read 9.5 C, allowed 2.0 to 8.0 C." in page
    assert page.index("Outside the range: keep the stock cold elsewhere first.") < page.index(
        "<h2 id"
    )
    with lab.program.store.begin() as record:
        (action,) = record.register().actions.values()
    assert action.entry == form["key"]


def test_a_broken_unit_is_two_touches_away_from_being_out_of_service(lab: Lab) -> None:
    bench = lab.at_bench()
    assert "/bench/alder/units/A-2/broken" in bench.page("/bench/alder")
    page = bench.page("/bench/alder/units/A-2/broken")
    assert "Do not use it." in page
    answer = bench.post("/bench/alder/units/A-2/broken", {"why": "the light does not work"})
    assert answer.status_code == 302
    with lab.program.store.begin() as record:
        (outage,) = record.register().outages.values()
    assert (outage.property_number, outage.from_on) == ("A-2", dt.date(2026, 3, 3))
    assert outage.reason == "the light does not work (said by GR)"
    page = bench.page("/bench/alder")
    assert "the light does not work" in page
    assert "2 marks to make today" in page


def test_broken_without_a_reason_is_asked_again(lab: Lab) -> None:
    answer = lab.at_bench().post("/bench/alder/units/A-2/broken", {"why": ""})
    assert answer.status_code == 400
    assert "Error: " in answer.text


@pytest.mark.parametrize(
    ("on", "status"),
    [("2026-03-04", 409), ("2026-02-28", 409), ("2026-02-20", 400), ("2026-13-01", 400), ("", 400)],
    ids=["tomorrow", "a Saturday", "long ago", "no day", "none"],
)
def test_a_day_that_is_doubtful_is_asked_about_and_one_out_of_reach_refused(
    lab: Lab, on: str, status: int
) -> None:
    bench = lab.at_bench()
    (first, *_) = open_marks(bench.page("/bench/alder"))
    answer = bench.post("/bench/alder/mark", {**first, "on": on})
    assert answer.status_code == status
    assert kept(lab) == []
    if status == 409:
        assert "Is this meant?" in answer.text
        (again,) = forms(answer.text, "/bench/alder/mark")
        assert again["anyway"] == "yes"
        again.pop("form_token")
        assert bench.post("/bench/alder/mark", dict(again)).status_code == 302
        assert len(kept(lab)) == 1


def sent(bench: Browser, body: dict[str, object], **headers: str) -> tuple[int, dict[str, object]]:
    answer = bench.client.post(
        "/bench/alder/mark",
        base_url=HOST,
        json=body,
        headers={"Accept": "application/json", **headers},
    )
    return answer.status_code, answer.get_json()


def queued(lab: Lab, bench: Browser, **more: object) -> dict[str, object]:
    page = bench.page("/bench/alder")
    (first, *_) = open_marks(page)
    first.pop("form_token")
    person = re.search(r'data-person="([^"]+)"', page)
    assert person is not None
    return {**first, "person": person[1], "noted_at": lab.now[0].isoformat(), **more}


def test_the_script_s_mark_is_saved_once_and_its_row_comes_back(lab: Lab) -> None:
    bench = lab.at_bench()
    body = queued(lab, bench)
    status, said = sent(bench, body)
    assert (status, said["state"], said["open"]) == (201, "saved", 2)
    assert 'data-unit="A-1"' in str(said["unit"])
    status, said = sent(bench, body)
    assert (status, said["state"]) == (200, "duplicate")
    assert len(kept(lab)) == 1
    status, said = sent(bench, {**body, "mark": "unused"})
    assert status == 409


def test_a_mark_that_waited_for_a_network_keeps_both_clocks(lab: Lab) -> None:
    bench = lab.at_bench()
    body = queued(lab, bench)
    lab.now[0] += dt.timedelta(hours=3)
    for wanted in (201, 200):
        assert sent(bench, body)[0] == wanted
        lab.now[0] += dt.timedelta(minutes=20)
    (stored,) = kept(lab)
    assert stored.entry.note == "noted at the bench at 2026-03-03T18:00Z, sent later"
    assert stored.entry.recorded_at is None
    assert stored.stored_at == dt.datetime(2026, 3, 3, 21, tzinfo=dt.UTC)


def test_an_answer_that_was_lost_and_asked_for_late_is_still_the_same_mark(lab: Lab) -> None:
    bench = lab.at_bench()
    body = queued(lab, bench)
    assert sent(bench, body)[0] == 201
    lab.now[0] += dt.timedelta(hours=1)
    assert sent(bench, body)[0] == 200


def test_a_device_whose_clock_is_days_ahead_is_told(lab: Lab) -> None:
    bench = lab.at_bench()
    ahead = lab.now[0] + dt.timedelta(days=2)
    status, said = sent(bench, queued(lab, bench, noted_at=ahead.isoformat()))
    assert status == 400
    assert "clock is ahead" in str(said)


def test_a_queue_of_somebody_else_is_not_taken(lab: Lab) -> None:
    one, other = lab.at_bench(initials="GR"), lab.at_bench(initials="HS")
    body = queued(lab, one)
    assert sent(other, body)[0] == 403
    assert kept(lab) == []


@pytest.mark.parametrize("body", [[], "x", None, {"person": []}, {"on": 5}])
def test_what_is_no_mark_is_refused(lab: Lab, body: object) -> None:
    status, _ = sent(lab.at_bench(), body)  # type: ignore[arg-type]
    assert status in (400, 403)


def test_a_bench_is_enrolled_by_a_code_once_and_a_pin_says_who(lab: Lab) -> None:
    lead = lab.as_role(Role.SITE_LEAD)
    code = re.search(r"<code>([A-Z0-9-]{11})</code>", lead.post("/sites/alder/bench/code").text)
    fields = {"act": "give", "initials": "GR", "name": "Glenn Rowanthal"}
    pin = re.search(
        r"<code>(\d{4})</code>", lead.post("/sites/alder/bench/people", dict(fields)).text
    )
    assert code is not None
    assert pin is not None
    bench = lab.browser()
    assert bench.get("/bench").location == "/bench/enrol"
    typed = {"code": code[1].lower().replace("-", " "), "name": "Window"}
    assert bench.post("/bench/enrol", dict(typed)).status_code == 302
    assert "Who is at the bench?" in bench.page("/bench/alder")
    assert bench.post("/bench/sign-on", {"initials": "GR", "pin": "x"}).status_code == 400
    assert bench.post("/bench/sign-on", {"initials": "GR", "pin": pin[1]}).status_code == 302
    assert "3 marks to make today" in bench.page("/bench/alder")
    again = lab.browser()
    assert again.post("/bench/enrol", dict(typed)).status_code == 400, "it fits once"
    page = lead.page("/sites/alder")
    assert "Window" in page
    number = re.search(r'name="number" value="(\w+)"', page)
    assert number is not None
    lead.post("/sites/alder/bench/end", {"number": number[1]})
    assert bench.get("/bench/alder").status_code == 302, "ended: it has to sign in"


def test_a_bench_code_ends_after_a_quarter_of_an_hour(lab: Lab) -> None:
    lead = lab.as_role(Role.SITE_LEAD)
    code = re.search(r"<code>([A-Z0-9-]{11})</code>", lead.post("/sites/alder/bench/code").text)
    assert code is not None
    lab.now[0] += BENCH_CODE_FOR
    assert lab.browser().post("/bench/enrol", {"code": code[1], "name": "W"}).status_code == 400


def test_codes_and_pins_cannot_be_guessed_without_end(lab: Lab) -> None:
    lead = lab.as_role(Role.SITE_LEAD)
    code = re.search(r"<code>([A-Z0-9-]{11})</code>", lead.post("/sites/alder/bench/code").text)
    assert code is not None
    for turn in range(TRIES):
        lab.browser().post("/bench/enrol", {"code": f"GUESS{turn:05}", "name": "W"})
    assert lab.browser().post("/bench/enrol", {"code": code[1], "name": "W"}).status_code == 400
    bench = lab.at_bench()
    bench.post("/sign-out")
    for turn in range(TRIES):
        bench.post("/bench/sign-on", {"initials": "GR", "pin": f"{turn:04}"})
    assert bench.post("/bench/sign-on", {"initials": "GR", "pin": "1234"}).status_code == 400


def test_whoever_stood_at_the_bench_is_signed_out_after_four_hours_without_a_touch(
    lab: Lab,
) -> None:
    bench = lab.at_bench()
    assert "3 marks" in bench.page("/bench/alder")
    lab.now[0] += BENCH_IDLE
    assert "Who is at the bench?" in bench.page("/bench/alder")


def test_a_page_that_did_not_change_is_not_sent_again_and_one_that_did_is(lab: Lab) -> None:
    bench = lab.at_bench()
    tag = bench.get("/bench/alder").headers["ETag"]
    again = bench.get("/bench/alder", headers={"If-None-Match": tag})
    assert (again.status_code, again.data) == (304, b"")
    bench.post("/bench/alder/unused", {"property_number": "A-1"})
    assert bench.get("/bench/alder", headers={"If-None-Match": tag}).status_code == 200
    cookie = bench.client.get_cookie(COOKIE, domain="pages.example")
    assert cookie is not None
