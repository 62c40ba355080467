"""What does a link open to somebody without an account, and what does it not?"""

from __future__ import annotations

import datetime as dt
import io
import json
import re
import zlib

import pytest

from fleet.domain.records import Role
from fleet.domain.register import Change
from fleet.domain.visits import SiteVisit, StoredPlan, VisitState
from fleet.services.ports import Stamp
from fleet.web.long_work import runner
from schedules.visits.model import Grade
from tests.fleet.web.lab import Browser, Lab
from tests.fleet.web.test_rights import dump

DAY = dt.timedelta(days=1)
PLAN = StoredPlan(
    number="P-0001",
    made_on=dt.date(2026, 2, 1),
    from_on=dt.date(2026, 3, 1),
    to_on=dt.date(2026, 3, 31),
    seed=1,
    iterations=0,
    versions="",
    content="0" * 64,
)


def png() -> bytes:
    """The smallest grey picture (PNG, third edition, 5 and 11)."""

    def chunk(name: bytes, data: bytes) -> bytes:
        body = name + data
        return len(data).to_bytes(4, "big") + body + zlib.crc32(body).to_bytes(4, "big")

    head = (1).to_bytes(4, "big") * 2 + bytes([8, 0, 0, 0, 0])
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


PNG = png()


def visit(number: str, site: str, *units: str, on: dt.date, **more: object) -> SiteVisit:
    told: dict[str, object] = {
        "number": number,
        "plan": "P-0001",
        "technician": "Tatum Fenwald",
        "vendor": "Vendrick Service",
        "site": site,
        "trip_on": dt.date(2026, 3, 2),
        "on": on,
        "to_on": on,
        "from_at": "09:00",
        "to_at": "11:00",
        "needs": json.dumps([f"{unit}/annual-service/2026-04-03" for unit in units]),
        "grade": Grade.CONFIRMED,
        **more,
    }
    return SiteVisit(**told)  # type: ignore[arg-type]


@pytest.fixture
def trips(lab: Lab) -> Lab:
    """A confirmed trip to alder and cedar, and another one to birch."""
    put_trips(lab)
    return lab


def put_trips(lab: Lab) -> None:
    """Keep a confirmed trip to alder and cedar, and another one to birch."""
    visits = (
        visit("V-0001", "alder", "A-1", "A-2", on=dt.date(2026, 3, 3)),
        visit("V-0002", "cedar", "C-1", on=dt.date(2026, 3, 3)),
        visit("V-0003", "birch", "B-1", on=dt.date(2026, 3, 9), trip_on=dt.date(2026, 3, 9)),
    )
    with lab.program.store.begin(write=True) as record:
        changes = [Change(old=None, new=one, initial=False) for one in (PLAN, *visits)]
        record.change(changes, Stamp(at=lab.now[0], by="test", source="test"))
        record.commit()


def given(lab: Lab, role: Role = Role.CONSULTANT, trip: str = "Tatum Fenwald/2026-03-02") -> str:
    answer = lab.as_role(role).post("/links/trip", {"trip": trip})
    found = re.search(r"<code>https://pages.example(/t/[\w-]+)</code>", answer.text)
    assert found is not None, answer.status_code
    return found[1]


def report(on: object = "2026-03-03", **more: object) -> dict[str, object]:
    done = {"state-A-1": "done", "findings-A-1": "lamp replaced", "state-A-2": "not-done"}
    return {"on": on, "initials": "GR", **done, "why-A-2": "no power", **more}


def standing(lab: Lab, number: str) -> SiteVisit:
    with lab.program.store.begin() as record:
        return record.register().visits[(number,)]


def test_a_technician_sees_the_trip_and_nothing_else_of_the_state(trips: Lab) -> None:
    path, browser = given(trips), trips.browser()
    page = browser.page(path)
    assert "Alder Laboratory" in page
    assert "Cedar Bluff Laboratory" in page
    assert "2 reports to hand back." in page
    for word in ("Birch", "B-1", "Noor"):
        assert word not in page
    for elsewhere in ("/sites/alder", "/units/A-1", "/region", "/links"):
        assert browser.get(elsewhere).status_code == 302, elsewhere


def test_looking_at_a_trip_writes_nothing_and_tells_no_address(trips: Lab) -> None:
    path = given(trips)
    before = dump(trips)
    answer = trips.browser().get(path)
    assert dump(trips) == before
    assert answer.headers["Referrer-Policy"] == "no-referrer"
    assert answer.headers["Cache-Control"] == "no-store"


def test_a_report_settles_what_was_served_and_says_what_was_not(trips: Lab) -> None:
    path, browser = given(trips), trips.browser()
    sent = report(**{"certificate-A-1": (io.BytesIO(PNG), "../../etc/report.png")})
    answer = browser.post(f"{path}/V-0001", sent, content_type="multipart/form-data")
    assert (answer.status_code, answer.location) == (302, f"{path}#V-0001")
    made = standing(trips, "V-0001")
    assert (made.state, made.done_on) == (VisitState.DONE, dt.date(2026, 3, 3))
    with trips.program.store.begin() as record:
        (told,) = record.register().reports.values()
        stored = record.stored([told.entry])[told.entry]
        assert record.content(told.certificate) == PNG
    assert (told.property_number, told.findings) == ("A-1", "lamp replaced")
    assert told.certificate_name == "report.png"
    assert (stored.by, stored.source, stored.entry.initials) == ("link:Tatum Fenwald", "link", "GR")
    page = browser.page(path)
    assert "no power" in page
    assert "1 report to hand back." in page
    browser.post(f"{path}/V-0001", report(on="2026-03-02"))
    assert standing(trips, "V-0001") == made, "sent again, it is the one that stands"
    lead = trips.as_role(Role.SITE_LEAD)
    assert "lamp replaced" in lead.page("/units/A-1")
    assert lead.get(f"/units/A-1/certificates/{told.certificate}").data == PNG
    assert lead.get(f"/units/A-2/certificates/{told.certificate}").status_code == 404


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"state-A-1": ""}, "nothing is said of A-1"),
        ({"why-A-2": ""}, "no reason is given for A-2"),
        ({"on": "yesterday"}, "is not a day"),
        ({"on": "2026-03-20"}, "lies in the future"),
        ({"certificate-A-1": (io.BytesIO(b"<svg onload=alert(1)>"), "x.pdf")}, "neither a PDF nor"),
        ({"certificate-A-1": (io.BytesIO(b"%PDF-1.4 /JavaScript"), "x.pdf")}, ""),
        ({"certificate-A-1": (io.BytesIO(b""), "x.pdf")}, "empty"),
        ({"certificate-A-1": (io.BytesIO(b"0" * 4_001), "x.png")}, "more than 8 MB"),
    ],
    ids=["unsaid", "no reason", "no day", "to come", "a disguise", "active", "empty", "too large"],
)
def test_a_report_that_cannot_be_is_asked_again_with_what_was_typed(
    trips: Lab, changed: dict[str, object], says: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("fleet.web.certificates._MOST_BYTES", 4_000)
    path, browser = given(trips), trips.browser()
    sent = {**report(), **changed}
    answer = browser.post(f"{path}/V-0001", sent, content_type="multipart/form-data")
    assert answer.status_code == 400
    assert says.casefold() in answer.text.casefold()
    assert standing(trips, "V-0001").state is VisitState.PLANNED
    if says:
        assert 'value="lamp replaced"' in answer.text


def test_a_stop_of_another_trip_is_not_there(trips: Lab) -> None:
    path = given(trips)
    answer = trips.browser().post(f"{path}/V-0003", {"on": "2026-03-03", "state-B-1": "done"})
    assert answer.status_code == 404
    assert standing(trips, "V-0003").state is VisitState.PLANNED


def test_a_consultant_gives_no_link_to_a_trip_of_another_region(trips: Lab) -> None:
    consultant = trips.as_role(Role.CONSULTANT)
    answer = consultant.post("/links/trip", {"trip": "Tatum Fenwald/2026-03-09"})
    assert answer.status_code == 404
    assert given(trips, Role.MANAGER, "Tatum Fenwald/2026-03-09")
    assert "2026-03-09" not in consultant.page("/links")


def test_a_trip_s_link_ends_two_weeks_after_it_and_sooner_where_it_is_ended(trips: Lab) -> None:
    path, other = given(trips), given(trips)
    consultant = trips.as_role(Role.CONSULTANT)
    numbers = re.findall(r'name="number" value="(\w+)"', consultant.page("/links"))
    assert len(numbers) == 2
    assert consultant.post("/links/end", {"number": numbers[0]}).status_code == 302
    assert {trips.browser().get(p).status_code for p in (path, other)} == {200, 410}
    alive = next(p for p in (path, other) if trips.browser().get(p).status_code == 200)
    trips.now[0] = dt.datetime(2026, 3, 16, 23, 59, tzinfo=dt.UTC)
    assert trips.browser().get(alive).status_code == 200
    trips.now[0] = dt.datetime(2026, 3, 17, tzinfo=dt.UTC)
    assert trips.browser().get(alive).status_code == 410


def test_nobody_ends_a_link_of_another_region(trips: Lab) -> None:
    given(trips, Role.MANAGER, "Tatum Fenwald/2026-03-09")
    manager = trips.as_role(Role.MANAGER)
    (number,) = re.findall(r'name="number" value="(\w+)"', manager.page("/links"))
    assert trips.as_role(Role.CONSULTANT).post("/links/end", {"number": number}).status_code == 404


def packet(lab: Lab, **more: object) -> tuple[int, str]:
    fields = {"site": "alder", "from": "2026-02-23", "to": "2026-03-02", "days": "10", **more}
    answer = lab.as_role(Role.CONSULTANT).post("/links/packet", fields)
    found = re.search(r"<code>https://pages.example(/p/[\w-]+)</code>", answer.text)
    return answer.status_code, "" if found is None else found[1]


def test_an_inspector_reads_one_packet_as_it_was_known_when_the_link_was_made(lab: Lab) -> None:
    _, path = packet(lab)
    inspector = lab.browser()
    assert "waits for its turn" in inspector.page(path)
    assert inspector.get(f"{path}/packet.pdf").status_code == 404
    lab.now[0] += dt.timedelta(hours=2)
    assert runner(lab.program).run_one()
    page = inspector.page(path)
    assert "pages, to be read" in page
    assert "as the record knew it on" in page
    assert "12:00" in page
    for name, begins in (("packet.pdf", b"%PDF"), ("packet.zip", b"PK")):
        answer = inspector.get(f"{path}/{name}")
        assert answer.data.startswith(begins)
        assert answer.headers["Content-Disposition"].startswith(
            'attachment; filename="packet-alder'
        )
        assert answer.headers["Referrer-Policy"] == "no-referrer"
    for elsewhere in (f"{path}/other.pdf", "/sites/alder", "/jobs/1"):
        assert inspector.get(elsewhere).status_code in (302, 404)
    lab.now[0] += 10 * DAY
    assert lab.browser().get(path).status_code == 410


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"days": "31"}, 400),
        ({"days": "0"}, 400),
        ({"from": "x"}, 400),
        ({"site": "birch"}, 404),
        ({"site": "none"}, 404),
    ],
)
def test_a_packet_that_cannot_be_given_is_refused(
    lab: Lab, changed: dict[str, object], status: int
) -> None:
    assert packet(lab, **changed) == (status, "")


def test_a_packet_s_link_opens_no_trip_and_the_reverse(trips: Lab) -> None:
    _, path = packet(trips)
    token = path.removeprefix("/p/")
    browser: Browser = trips.browser()
    assert browser.get(f"/t/{token}").status_code == 410
    assert browser.get(f"/l/{token}").status_code == 410
    assert browser.get(given(trips).replace("/t/", "/p/")).status_code == 410
