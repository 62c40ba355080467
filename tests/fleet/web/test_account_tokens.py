"""How does somebody let another program ask in their name, and how is that ended?"""

from __future__ import annotations

import datetime as dt
import re
from pathlib import Path

import pytest

from fleet.domain.access import Act
from fleet.domain.records import Role
from fleet.services.access.accounts import disable, enable, invite
from fleet.services.access.api_tokens import MOST_TOKENS, live_tokens
from tests.fleet.web.api.asker import Asker, token_of
from tests.fleet.web.lab import PASSWORD, PEOPLE, Browser, Lab, make_lab, with_second_factor

LEAD = PEOPLE[Role.SITE_LEAD]
FORM = {"name": "the wall board", "may": "read", "days": "90"}


def made(browser: Browser, **fields: str) -> str:
    """Make a token by the form, and read it where it is shown."""
    answer = browser.post("/account/tokens", {**FORM, **fields})
    assert answer.status_code == 200, answer.text
    assert answer.headers["Cache-Control"] == "no-store"
    found = re.search(r'<p class="once"><code>([^<]+)</code>', answer.text)
    assert found is not None
    return found[1]


def status(lab: Lab, token: str) -> int:
    """What a program gets that asks with it."""
    return Asker(lab.app.test_client(), token).get("/api/v1/sites").status_code


def log(lab: Lab, who: str = LEAD) -> list[tuple[Act, str]]:
    with lab.program.store.begin() as record:
        return [(event.act, event.about) for event in record.access.logged(20, who)]


def test_a_token_is_made_shown_once_listed_and_ended_by_its_owner(lab: Lab) -> None:
    lead = lab.as_role(Role.SITE_LEAD)
    assert "None: no program asks in your name." in lead.page("/account/tokens")
    secret = made(lead)
    assert re.fullmatch(r"dueward_[\w-]{43}", secret), "256 bits of chance"
    assert status(lab, secret) == 200

    page = lead.page("/account/tokens")
    assert secret not in page
    assert "the wall board" in page
    assert "1 token is open: the wall board" in lead.page("/account")
    number = re.search(r'name="number" value="(\w+)"', page)
    assert number is not None
    answer = lead.post("/account/tokens/end", {"number": number[1]})
    assert answer.location == "/account/tokens?done=ended"
    assert status(lab, secret) == 401
    assert "the wall board" not in lead.page("/account/tokens")
    assert lead.post("/account/tokens/end", {"number": number[1]}).status_code == 404
    about = f"{number[1]} (the wall board)"
    assert log(lab)[:3] == [
        (Act.TOKEN_REFUSED, f"{about}: it was ended"),
        (Act.TOKEN_ENDED, f"{about}, by {LEAD}"),
        (Act.TOKEN_MADE, about),
    ]


def test_the_table_holds_no_token_but_its_hash(lab: Lab) -> None:
    secret = token_of(lab, LEAD)
    with lab.program.store.begin() as record:
        (kept,) = record.access.api_tokens(LEAD)
    assert re.fullmatch(r"[0-9a-f]{64}", kept.token_hash)
    assert secret not in repr(kept)
    assert secret.removeprefix("dueward_") not in repr(kept)


@pytest.mark.parametrize("days", [30, 90, 365])
def test_a_token_ends_by_itself(lab: Lab, days: int) -> None:
    secret = made(lab.as_role(Role.SITE_LEAD), days=str(days))
    lab.now[0] += dt.timedelta(days=days) - dt.timedelta(seconds=1)
    assert status(lab, secret) == 200
    lab.now[0] += dt.timedelta(seconds=1)
    assert status(lab, secret) == 401


@pytest.mark.parametrize(
    ("fields", "words"),
    [
        ({"name": ""}, "No name is given; say which program it is for."),
        ({"name": "x" * 61}, "has 61 characters; shorten it to at most 60."),
        ({"name": "a\x00b"}, "control character U+0000"),
        ({"name": "taken"}, "&#39;taken&#39; is the name of another token; choose another name."),
        ({"days": "3650"}, "This is no time that is offered; choose one of the list."),
        ({"days": "31"}, "This is no time that is offered"),
        ({"days": "-1"}, "This is no time that is offered"),
        ({"days": "\N{SUPERSCRIPT TWO}"}, "This is no time that is offered"),
        ({"days": ""}, "This is no time that is offered"),
    ],
)
def test_what_cannot_be_a_token_is_said_at_its_field(
    lab: Lab, fields: dict[str, str], words: str
) -> None:
    lead = lab.as_role(Role.SITE_LEAD)
    made(lead, name="taken")
    answer = lead.post("/account/tokens", {**FORM, **fields})
    assert answer.status_code == 400
    assert words in answer.text
    with lab.program.store.begin() as record:
        assert len(live_tokens(record.access, LEAD, lab.now[0])) == 1


def test_an_account_has_so_many_tokens_and_no_more(lab: Lab) -> None:
    for _ in range(MOST_TOKENS):
        token_of(lab, LEAD)
    answer = lab.as_role(Role.SITE_LEAD).post("/account/tokens", FORM)
    assert answer.status_code == 400
    assert "There are 20 tokens already; end one that is not needed any more" in answer.text


def test_a_name_is_shown_as_it_was_written(lab: Lab) -> None:
    lead, name = lab.as_role(Role.SITE_LEAD), "<script>alert(1)</script>"
    made(lead, name=name)
    for browser, path in (
        (lead, "/account/tokens"),
        (lead, "/account"),
        (lab.as_role(Role.MANAGER), f"/setup/people/{LEAD}"),
        (lab.as_role(Role.MANAGER), "/setup/access"),
    ):
        page = browser.page(path)
        assert name not in page, path
        assert "&lt;script&gt;alert(1)&lt;/script&gt;" in page, path


def test_who_looks_after_somebody_ends_their_tokens(lab: Lab) -> None:
    secret = token_of(lab, LEAD)
    manager, here = lab.as_role(Role.MANAGER), f"/setup/people/{LEAD}"
    page = manager.page(here)
    assert "1 program asks in their name" in page
    number = re.search(r'name="number" value="(\w+)"', page)
    assert number is not None
    answer = manager.post(f"{here}/token", {"number": number[1]})
    assert answer.location.endswith("?done=token")
    assert status(lab, secret) == 401
    assert log(lab)[1] == (Act.TOKEN_ENDED, f"{number[1]} (program 1), by {PEOPLE[Role.MANAGER]}")


def test_nobody_ends_the_token_of_somebody_they_do_not_look_after(lab: Lab) -> None:
    secret = token_of(lab, PEOPLE[Role.MANAGER])
    with lab.program.store.begin() as record:
        (token,) = record.access.api_tokens(PEOPLE[Role.MANAGER])
    sent = {"number": token.number}
    consultant, lead = lab.as_role(Role.CONSULTANT), lab.as_role(Role.SITE_LEAD)
    for browser, path, code in (
        (lead, "/account/tokens/end", 404),
        (lead, f"/setup/people/{LEAD}/token", 403),
        (consultant, f"/setup/people/{PEOPLE[Role.MANAGER]}/token", 404),
        (consultant, f"/setup/people/{LEAD}/token", 404),
    ):
        assert browser.post(path, sent).status_code == code, path
    assert status(lab, secret) == 200


def test_a_disabled_accounts_token_ends_and_does_not_come_back(lab: Lab) -> None:
    secret = token_of(lab, LEAD)
    for act in (disable, enable):
        with lab.program.store.begin(write=True) as record:
            act(record, lab.caller(), LEAD, "tester")
            record.commit()
        assert status(lab, secret) == 401


def test_a_password_that_its_owner_changes_leaves_the_tokens(lab: Lab) -> None:
    lead, secret = lab.as_role(Role.SITE_LEAD), token_of(lab, LEAD)
    fields = {"present": PASSWORD, "password": "amber kettle sparrow meadow"}
    assert lead.post("/account/password", fields).location == "/account?done=password"
    assert status(lab, secret) == 200
    assert "A new password does not end it." in lead.page("/account")
    assert "It stays when you change your password here" in lead.page("/account/tokens")


def test_a_password_that_is_set_by_a_link_ends_the_tokens(lab: Lab) -> None:
    secret = token_of(lab, LEAD)
    lab.now[0] += dt.timedelta(minutes=1)
    with lab.program.store.begin(write=True) as record:
        path = invite(record, lab.caller(), LEAD, "tester")
        record.commit()
    assert status(lab, secret) == 200, "a link that nobody opened ends nothing"
    answer = lab.browser().post(path, {"password": "amber kettle sparrow meadow"})
    assert answer.status_code == 302
    assert status(lab, secret) == 401
    assert "a password that is set by a link ends every token" in lab.as_role(Role.SITE_LEAD).page(
        "/account/tokens"
    )


def test_who_owes_a_second_step_makes_no_token_before(tmp_path: Path) -> None:
    owing = make_lab(tmp_path, change=with_second_factor)
    consultant = owing.as_role(Role.CONSULTANT)
    for answer in (consultant.get("/account/tokens"), consultant.post("/account/tokens", FORM)):
        assert (answer.status_code, answer.location) == (302, "/account/second-factor")
    with owing.program.store.begin() as record:
        assert record.access.api_tokens(PEOPLE[Role.CONSULTANT]) == []
    made(owing.as_role(Role.SITE_LEAD))
    owing.program.close()


def test_a_bench_has_no_tokens(lab: Lab) -> None:
    bench = lab.at_bench()
    assert bench.get("/account/tokens").status_code == 403
    assert bench.post("/account/tokens", FORM).status_code == 403
    assert bench.get("/api").status_code == 403
