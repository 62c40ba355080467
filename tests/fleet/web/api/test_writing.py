"""Do marks, corrections and service reports of programs stand as those of the pages do?"""

from __future__ import annotations

import base64
import datetime as dt
import uuid

import pytest
from werkzeug.test import TestResponse

from fleet.domain.records import Closure, Mark, Role
from fleet.domain.register import Change
from fleet.services.findings import finding_rows
from fleet.services.questions import Question
from tests.fleet.web.api.asker import Asker, as_program
from tests.fleet.web.api.test_door import MARK, is_problem
from tests.fleet.web.lab import PEOPLE, Lab
from tests.fleet.web.test_rights import dump

MARKS, REPORTS = "/api/v1/marks", "/api/v1/service-reports"
KEY = MARK["key"]
REPORT = {
    "property_number": "A-1",
    "task": "annual-service",
    "on": "2026-03-02",
    "vendor": "Ovandel",
    "technician": "Val Vendrick",
    "findings": "cleaned and aligned",
    "initials": "OV",
}


def fresh() -> str:
    return str(uuid.uuid4())


def lead(lab: Lab) -> Asker:
    return as_program(lab, Role.SITE_LEAD)


def told(answer: TestResponse) -> dict[str, object]:
    found: dict[str, object] = answer.get_json()
    return found


def test_a_mark_stands_with_its_author_and_its_door(lab: Lab) -> None:
    """Design 4.6: by account, device, token or system user."""
    answer = lead(lab).post(MARKS, {**MARK, "note": "wiped twice"})
    assert answer.status_code == 201
    with lab.program.store.begin() as record:
        stored = record.stored([KEY])[KEY]
        (token,) = record.access.api_tokens(PEOPLE[Role.SITE_LEAD])
    assert (stored.by, stored.source) == (f"token:{token.number}/lead@alder.example", "api")
    assert (stored.entry.mark, stored.entry.initials) == (Mark.DONE, "GR")
    said = told(answer)
    assert (said["by"], said["source"], said["note"]) == (stored.by, "api", "wiped twice")
    assert said["stored_at"] == "2026-03-03T18:00:00Z"
    assert isinstance(said["next"], dict)
    assert (said["next"]["state"], said["next"]["last_done"]) == ("done", "2026-03-03")


def test_a_mark_sent_twice_is_one_entry(lab: Lab) -> None:
    program = lead(lab)
    first, again = program.post(MARKS, MARK), program.post(MARKS, MARK)
    assert (first.status_code, again.status_code) == (201, 200)
    assert told(again) == told(first)
    loud = program.post(MARKS, {**MARK, "key": KEY.upper()})
    assert (loud.status_code, told(loud)["key"]) == (200, KEY)
    with lab.program.store.begin() as record:
        ids = [record.unit_ids()["A-2"]]
        keys = [stored.entry.key for stored in record.entries(ids, "optics")]
    assert keys.count(KEY) == 1


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("property_number", "A-1"),
        ("on", "2026-03-02"),
        ("mark", "unused"),
        ("initials", "HS"),
        ("note", "another"),
        ("reading", "4.0"),
    ],
)
def test_a_key_that_stands_for_other_content_is_refused(lab: Lab, field: str, value: str) -> None:
    program = lead(lab)
    assert program.post(MARKS, MARK).status_code == 201
    before = dump(lab)
    answer = program.post(MARKS, {**MARK, field: value, "anyway": True})
    is_problem(answer, 409, "key-taken", "an entry is never changed: give a new key")
    assert dump(lab) == before


def closed(lab: Lab) -> None:
    closure = Closure(
        site="alder", from_on=dt.date(2026, 3, 2), to_on=dt.date(2026, 3, 2), reason="training"
    )
    with lab.program.store.begin(write=True) as record:
        change = Change(old=None, new=closure, initial=False)
        record.change([change], lab.program.stamp("command"))
        record.commit()


@pytest.mark.parametrize(
    ("fields", "doubt"),
    [
        ({"on": "2026-03-04"}, "2026-03-04 lies in the future (today is 2026-03-03)"),
        ({"on": "2026-03-01"}, "site alder is closed on 2026-03-01 (Sunday)"),
        ({"on": "2026-03-02"}, "site alder is closed on 2026-03-02 (training)"),
    ],
)
def test_what_is_doubtful_goes_on_when_it_is_meant(
    lab: Lab, fields: dict[str, str], doubt: str
) -> None:
    closed(lab)
    program, sent = lead(lab), {**MARK, **fields}
    before = dump(lab)
    answer = program.post(MARKS, sent)
    is_problem(answer, 409, "doubtful", f'{doubt}; send "anyway": true if it is meant')
    assert dump(lab) == before
    assert program.post(MARKS, {**sent, "anyway": True}).status_code == 201


@pytest.mark.parametrize(
    ("fields", "detail"),
    [
        ({"on": "2026-02-20"}, "2026-02-20 is more than 7 days ago; ask the site's lead"),
        (
            {"property_number": "A-3", "task": "temperature"},
            "no reading is given; write what you read (2.0 to 8.0 C)",
        ),
    ],
)
def test_what_the_record_stands_against_is_refused_also_when_it_is_meant(
    lab: Lab, fields: dict[str, str], detail: str
) -> None:
    answer = lead(lab).post(MARKS, {**MARK, **fields, "anyway": True})
    is_problem(answer, 409, "refused", detail)


def test_a_reading_out_of_limits_opens_an_action_with_the_mark(lab: Lab) -> None:
    cold = {**MARK, "property_number": "A-3", "task": "temperature", "reading": "9.5"}
    said = told(lead(lab).post(MARKS, cold))
    effects = said["effects"]
    assert isinstance(effects, dict)
    assert effects["action_number"]
    assert effects["action_problem"] == ("Read the temperature: read 9.5 C, allowed 2.0 to 8.0 C")
    assert effects["cautions"] == ["Outside the range: keep the stock cold elsewhere first."]
    (row,) = as_program(lab, Role.SITE_LEAD).rows("/api/v1/actions")
    assert (row["number"], row["entry"]) == (effects["action_number"], KEY)


def test_what_was_not_marked_is_explained_by_a_lead_and_not_at_the_bench(lab: Lab) -> None:
    old = {**MARK, "on": "2026-02-24", "property_number": "A-3", "task": "temperature"}
    sent = {**old, "mark": "explained", "note": "closed for training"}
    is_problem(as_program(lab, Role.BENCH).post(MARKS, sent), 403, "not-yours", "a site's lead")
    answer = as_program(lab, Role.MANAGER).post(MARKS, sent)
    assert answer.status_code == 201
    assert (told(answer)["mark"], told(answer)["note"]) == ("explained", "closed for training")
    assert as_program(lab, Role.MANAGER).post(MARKS, sent).status_code == 200


def test_a_manager_marks_at_no_bench(lab: Lab) -> None:
    is_problem(as_program(lab, Role.MANAGER).post(MARKS, MARK), 403, "not-yours", "no bench")


@pytest.mark.parametrize("number", ["B-1", "no-such"])
@pytest.mark.parametrize("mark", ["done", "explained"])
def test_a_unit_of_another_site_cannot_be_marked(lab: Lab, number: str, mark: str) -> None:
    program, before = lead(lab), dump(lab)
    sent = {**MARK, "property_number": number, "mark": mark, "note": "closed"}
    answer, other = (program.post(MARKS, {**sent, "property_number": n}) for n in (number, "x"))
    is_problem(answer, 404, "not-there", "names nothing, or something of a site")
    assert answer.get_json(force=True) == other.get_json(force=True)
    report = program.post(REPORTS, {**REPORT, "property_number": number})
    assert report.get_json(force=True) == other.get_json(force=True)
    assert dump(lab) == before


def test_a_mark_is_taken_back_with_its_reason_and_stays_readable(lab: Lab) -> None:
    program, sent = lead(lab), {"why": "another unit was meant", "initials": "LA"}
    program.post(MARKS, MARK)
    answer = program.post(f"{MARKS}/{KEY}/strike", sent)
    assert answer.status_code == 200
    said = told(answer)
    assert (said["strikes"], said["why"], said["mark"]) == (KEY, "another unit was meant", None)
    assert isinstance(said["next"], dict)
    assert said["next"]["state"] == "overdue", "A-2 was not marked on 2 March"
    assert told(program.post(f"{MARKS}/{KEY}/strike", sent)) == said
    other = program.post(f"{MARKS}/{KEY}/strike", {**sent, "why": "something else"})
    is_problem(other, 409, "key-taken", "why differs")


def test_what_may_not_be_taken_back(lab: Lab) -> None:
    program, sent = lead(lab), {"why": "wrong"}
    bench = as_program(lab, Role.CONSULTANT)
    cedar = {**MARK, "key": fresh(), "property_number": "C-1"}
    assert bench.post(MARKS, cedar).status_code == 201
    assert program.post(MARKS, MARK).status_code == 201
    for key in (cedar["key"], "B-1/optics/2026-02-23/1", "no-such", "%00", "x" * 300):
        is_problem(program.post(f"{MARKS}/{key}/strike", sent), 404, "not-there", "names nothing")
    lab.now[0] += dt.timedelta(hours=24, seconds=1)
    answer = program.post(f"{MARKS}/{KEY}/strike", sent)
    is_problem(answer, 409, "refused", "was marked more than a day ago")
    is_problem(
        program.post(f"{MARKS}/{KEY}/strike", {"why": " "}), 400, "bad-input", "no reason is given"
    )


def test_marks_of_programs_are_judged_by_the_audit(lab: Lab) -> None:
    """Design 4.7: late, batch and no initials judge what came from bench or API."""
    program = lead(lab)
    days = ["2026-02-24", "2026-02-25", "2026-02-26", "2026-02-27", "2026-03-02"]
    for on in days:
        cold = {"property_number": "A-3", "task": "temperature", "reading": "4.0", "initials": ""}
        sent = {**MARK, **cold, "key": fresh(), "on": on}
        assert program.post(MARKS, sent).status_code == 201
    with lab.program.store.begin() as record:
        found = finding_rows(
            record,
            lab.program.public_holidays,
            dt.date(2026, 2, 1),
            dt.date(2026, 3, 3),
            Question(now=lab.now[0]),
        )
    sorts = {row.finding for row in found if row.property_number == "A-3"}
    assert {"late", "batch", "no initials"} <= sorts


def test_a_service_is_recorded_with_its_report_once(lab: Lab) -> None:
    program = lead(lab)
    first, again = program.post(REPORTS, REPORT), program.post(REPORTS, REPORT)
    assert (first.status_code, again.status_code) == (201, 200)
    said = told(first)
    assert (said["vendor"], said["findings"]) == ("Ovandel", "cleaned and aligned")
    assert isinstance(said["next"], dict)
    assert (said["next"]["state"], said["next"]["due"]) == ("upcoming", "2027-03-02")
    assert told(again) == said
    answer = program.post(REPORTS, {**REPORT, "findings": "something else"})
    is_problem(answer, 409, "doubtful", "has another service report of 2026-03-02 already")
    meant = program.post(REPORTS, {**REPORT, "findings": "something else", "anyway": True})
    assert (meant.status_code, told(meant)["findings"]) == (201, "something else")
    assert told(meant)["key"] == said["key"], "one entry, two reports"


def test_a_certificate_comes_in_base_64_and_is_kept_as_it_came(lab: Lab) -> None:
    scan = png()
    sent = {
        **REPORT,
        "certificate": base64.b64encode(scan).decode(),
        "certificate_name": "../../etc/report.png",
    }
    said = told(lead(lab).post(REPORTS, sent))
    assert (said["certificate_name"], said["certificate_bytes"]) == ("report.png", len(scan))
    path = f"/units/A-1/certificates/{said['certificate_sha256']}"
    assert lab.as_role(Role.SITE_LEAD).get(path).data == scan


def png() -> bytes:
    """A picture of one dot."""
    return base64.b64decode(
        "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR4nGNgAAAAAgABSK+kcQAAAABJRU5ErkJggg=="
    )


@pytest.mark.parametrize(
    ("certificate", "problem"),
    [
        ("not base 64!", "it is not base 64"),
        (base64.b64encode(b"MZ\x90 a program").decode(), "neither a PDF nor a picture"),
        (base64.b64encode(b"%PDF-1.7 cut short").decode(), "PDF"),
        (base64.b64encode(b"x" * (8 * 2**20 + 1)).decode(), "the file has more than 8 MB"),
    ],
)
def test_a_certificate_that_cannot_be_kept_is_said_at_its_field(
    lab: Lab, certificate: str, problem: str
) -> None:
    before = dump(lab)
    answer = lead(lab).post(REPORTS, {**REPORT, "certificate": certificate})
    assert answer.status_code == 400
    (fault,) = answer.get_json(force=True)["faults"]
    assert fault["field"] == "certificate"
    assert problem in fault["problem"]
    assert dump(lab) == before


def test_a_task_that_is_marked_cell_by_cell_has_no_service(lab: Lab) -> None:
    answer = lead(lab).post(REPORTS, {**REPORT, "task": "optics"})
    is_problem(answer, 409, "refused", "'optics' is marked cell by cell, not serviced")
    (fault,) = answer.get_json(force=True)["faults"]
    assert fault["field"] == "task"
    assert "dueward" not in fault["mend"]


def test_script_is_stored_as_it_is_and_shown_as_text(lab: Lab) -> None:
    text = '<script>alert("1")</script>'
    program = lead(lab)
    assert told(program.post(MARKS, {**MARK, "note": text}))["note"] == text
    assert told(program.post(REPORTS, {**REPORT, "findings": text}))["findings"] == text
    for number in ("A-1", "A-2"):
        page = lab.as_role(Role.SITE_LEAD).page(f"/units/{number}")
        assert text not in page
        assert "&lt;script&gt;" in page
