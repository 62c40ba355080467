"""Who is let in to the API, and who is not: no token, an old one, one that only reads?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest
from werkzeug.test import TestResponse

from fleet.domain.access import Act
from fleet.domain.records import Person, Role
from fleet.services.access.accounts import disable
from fleet.services.access.hours import SEEN_EVERY, TRIES_OF_ADDRESS, WITHIN
from fleet.services.access.meter import A_MINUTE, Meter
from fleet.services.setup.people import end_role, give_role
from fleet.web.app import make_app
from tests.fleet.web.api.asker import Asker, as_program, token_of
from tests.fleet.web.lab import HOST, PEOPLE, Lab, make_lab, with_second_factor

LEAD = PEOPLE[Role.SITE_LEAD]
SITES = "/api/v1/sites"
MARK = {
    "key": "6f1c1a54-9a43-4a53-8a0e-5b2c7d1f0d13",
    "property_number": "A-2",
    "task": "optics",
    "on": "2026-03-03",
    "mark": "done",
    "initials": "GR",
}


def is_problem(answer: TestResponse, status: int, word: str, detail: str) -> None:
    """Check a problem whole: RFC 9457, 3.1."""
    told = answer.get_json(force=True)
    assert (answer.status_code, told["status"], told["type"]) == (status, status, f"/api#{word}")
    assert answer.mimetype == "application/problem+json"
    assert detail in told["detail"], told
    assert set(told) == {"type", "title", "status", "detail", "faults"}


def anybody(lab: Lab, authorization: str | None, path: str = SITES) -> TestResponse:
    headers = {} if authorization is None else {"Authorization": authorization}
    return lab.app.test_client().get(path, base_url=HOST, headers=headers)


@pytest.mark.parametrize("given", [None, "", "Bearer", "Bearer ", "Basic bGVhZDp4", "Bearer a b"])
def test_without_a_token_nothing_is_answered(lab: Lab, given: str | None) -> None:
    """RFC 6750, 3.1: no error code where nothing was tried; and nothing is counted."""
    answer = anybody(lab, given)
    is_problem(answer, 401, "no-token", "Authorization: Bearer")
    assert answer.headers["WWW-Authenticate"] == 'Bearer realm="Dueward"'
    with lab.program.store.begin() as record:
        assert record.access.logged(5) == []


def ended(lab: Lab, token: str) -> str:
    with lab.program.store.begin(write=True) as record:
        (kept,) = record.access.api_tokens(LEAD)
        record.access.put_api_token(replace(kept, ended_at=lab.now[0]))
        record.commit()
    return token


def expired(lab: Lab, token: str) -> str:
    lab.now[0] += dt.timedelta(days=30)
    return token


def of_a_disabled_owner(lab: Lab, token: str) -> str:
    with lab.program.store.begin(write=True) as record:
        account = record.access.account(LEAD)
        assert account is not None
        record.access.put_account(replace(account, disabled_at=lab.now[0]))
        record.commit()
    return token


def ended_with_its_account(lab: Lab, token: str) -> str:
    with lab.program.store.begin(write=True) as record:
        disable(record, lab.caller(), LEAD, "tester")
        record.commit()
    return token


def altered(_: Lab, token: str) -> str:
    return token[:-1] + ("A" if token[-1] != "A" else "B")


@pytest.mark.parametrize(
    ("change", "why"),
    [
        (altered, "it is not known"),
        (lambda _, token: token.upper(), "it is not known"),
        (lambda _, token: token.removeprefix("dueward_"), "it is not known"),
        (lambda _, token: "x" * 5000, "it is not known"),
        (ended, "it was ended"),
        (ended_with_its_account, "it was ended"),
        (expired, "its time is over"),
        (of_a_disabled_owner, "its owner's account is disabled or has no role"),
    ],
)
def test_a_token_that_opens_nothing_says_why_and_is_logged(
    lab: Lab, change: Callable[[Lab, str], str], why: str
) -> None:
    token = change(lab, token_of(lab, LEAD))
    answer = anybody(lab, f"Bearer {token}")
    is_problem(answer, 401, "no-token", f"The token opens nothing: {why}.")
    assert f'error="invalid_token", error_description="{why}"' in answer.headers["WWW-Authenticate"]
    with lab.program.store.begin() as record:
        (event,) = [e for e in record.access.logged(5) if e.act is Act.TOKEN_REFUSED]
    assert why in event.about
    assert token not in repr(event)


def test_a_token_stands_in_the_header_and_nowhere_else(lab: Lab) -> None:
    """RFC 6750, 2.1; 2.2 and 2.3 are not offered."""
    token, client = token_of(lab, LEAD), lab.app.test_client()
    assert anybody(lab, f"bearer {token}").status_code == 200, "RFC 9110, 11.1: whatever the case"
    assert client.get(f"{SITES}?access_token={token}", base_url=HOST).status_code == 401
    sent = client.post("/api/v1/marks", base_url=HOST, data={"access_token": token})
    assert sent.status_code == 401
    client.set_cookie("Authorization", f"Bearer {token}", domain="pages.example")
    assert client.get(SITES, base_url=HOST).status_code == 401


def test_a_token_that_only_reads_writes_nothing(lab: Lab) -> None:
    program = as_program(lab, Role.SITE_LEAD, may_write=False)
    assert program.get(SITES).status_code == 200
    for path in ("/api/v1/marks", "/api/v1/marks/a/strike", "/api/v1/service-reports"):
        answer = program.post(path, MARK)
        is_problem(answer, 403, "not-yours", "This token only reads")
        assert 'error="insufficient_scope", scope="write"' in answer.headers["WWW-Authenticate"]
    with lab.program.store.begin() as record:
        assert record.stored([MARK["key"]]) == {}
        assert record.access.logged(1, LEAD)[0].act is Act.REFUSED


def test_a_token_has_the_roles_and_sites_its_owner_has_today(lab: Lab) -> None:
    program = as_program(lab, Role.SITE_LEAD)
    store, holidays, stamp = lab.program.store, lab.program.public_holidays, lab.program.stamp
    assert [row["site"] for row in program.rows(SITES)] == ["alder"]
    assert program.get("/api/v1/sites/cedar").status_code == 404
    lead = Person(email=LEAD, name="Lee Alderman", role=Role.SITE_LEAD, site="cedar")
    with store.begin(write=True) as record:
        give_role(record, holidays, lead, stamp("command"))
        record.commit()
    assert [row["site"] for row in program.rows(SITES)] == ["alder", "cedar"]
    with store.begin(write=True) as record:
        end_role(record, holidays, replace(lead, site="alder"), stamp("command"))
        record.commit()
    assert [row["site"] for row in program.rows(SITES)] == ["cedar"]
    assert program.get("/api/v1/sites/alder").status_code == 404
    with store.begin(write=True) as record:
        end_role(record, holidays, lead, stamp("command"))
        record.commit()
    is_problem(program.get(SITES), 401, "no-token", "disabled or has no role")


def test_a_token_whose_owner_owes_a_second_step_opens_nothing(tmp_path: Path) -> None:
    """The setting may come later than the token; the pages would lead to setting it up too."""
    owing = make_lab(tmp_path, change=with_second_factor)
    with closing(owing.program):
        answer = as_program(owing, Role.CONSULTANT).get(SITES)
        is_problem(answer, 403, "not-yours", "set up the second step at sign-in first")
        with owing.program.store.begin(write=True) as record:
            account = record.access.account(PEOPLE[Role.CONSULTANT])
            assert account is not None
            record.access.put_account(replace(account, totp_key="A" * 32))
            record.commit()
        assert as_program(owing, Role.CONSULTANT).get(SITES).status_code == 200
        assert as_program(owing, Role.SITE_LEAD).get(SITES).status_code == 200


def test_use_is_noted_now_and_then(lab: Lab) -> None:
    program = as_program(lab, Role.SITE_LEAD)

    def seen() -> dt.datetime | None:
        with lab.program.store.begin() as record:
            return record.access.api_tokens(LEAD)[0].seen_at

    assert seen() is None
    first = lab.now[0]
    program.get(SITES)
    assert seen() == first
    lab.now[0] += SEEN_EVERY - dt.timedelta(seconds=1)
    program.get(SITES)
    assert seen() == first
    lab.now[0] += dt.timedelta(seconds=1)
    program.get(SITES)
    assert seen() == lab.now[0]


def test_a_token_has_so_many_questions_a_minute(lab: Lab) -> None:
    app = make_app(replace(lab.web, meter=Meter(3)))
    one = Asker(app.test_client(), token_of(lab, LEAD))
    other = Asker(app.test_client(), token_of(lab, LEAD))
    lab.now[0] += dt.timedelta(seconds=20)
    assert [one.get(SITES).status_code for _ in range(4)] == [200, 200, 200, 429]
    answer = one.get(SITES)
    is_problem(answer, 429, "too-many", "wait 40 seconds")
    assert answer.headers["Retry-After"] == "40"
    assert other.get(SITES).status_code == 200
    lab.now[0] += dt.timedelta(seconds=40)
    assert one.get(SITES).status_code == 200
    assert A_MINUTE == 600


def test_an_address_that_sends_many_wrong_tokens_is_slowed_and_others_are_not(lab: Lab) -> None:
    token = token_of(lab, LEAD)
    for _ in range(TRIES_OF_ADDRESS):
        assert anybody(lab, "Bearer made-up").status_code == 401
    answer = anybody(lab, "Bearer made-up")
    is_problem(answer, 429, "too-many", "wait a quarter hour")
    assert answer.headers["Retry-After"] == "900"
    assert anybody(lab, f"Bearer {token}").status_code == 200, "a good one beside it"
    sent = {"email": LEAD, "password": "velvet turnip orchard lantern"}
    assert lab.browser().post("/sign-in", sent).status_code == 302, "and who signs in there"
    with lab.program.store.begin() as record:
        refused = [e for e in record.access.logged(99) if e.act is Act.TOKEN_REFUSED]
    assert len(refused) == TRIES_OF_ADDRESS, "what is slowed writes nothing"
    lab.now[0] += WITHIN
    assert anybody(lab, "Bearer made-up").status_code == 401


@pytest.mark.parametrize(
    "path",
    ["/api/", "/api/v1", "/api/v1/", "/api/v1/sites/", "/api//v1/sites", "/api/v1/nope", "/api/v2"],
)
def test_another_address_is_not_there_and_no_page(lab: Lab, path: str) -> None:
    is_problem(as_program(lab, Role.MANAGER).get(path), 404, "not-there", "names nothing")


def test_another_method_is_told_which_there_are(lab: Lab) -> None:
    program = as_program(lab, Role.SITE_LEAD)
    bearer = {"Authorization": f"Bearer {program.token}"}
    for method in ("DELETE", "OPTIONS", "PUT"):
        answer = program.client.open(SITES, method=method, base_url=HOST, headers=bearer)
        is_problem(answer, 405, "wrong-method", "Allow")
        assert answer.headers["Allow"] == "GET, HEAD"


def test_an_error_that_nobody_foresaw_tells_no_trace(
    lab: Lab, monkeypatch: pytest.MonkeyPatch
) -> None:
    def breaks(*_: object) -> None:
        raise RuntimeError("SELECT secret FROM /var/lib")

    monkeypatch.setattr(type(lab.web.board), "view", breaks)
    answer = as_program(lab, Role.SITE_LEAD).get("/api/v1/duties")
    is_problem(answer, 500, "broken", "It was noted")
    for word in ("RuntimeError", "SELECT", "/var/lib", "Traceback", ".py", "<"):
        assert word not in answer.text
