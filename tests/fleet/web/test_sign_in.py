"""Who comes in, and who does not (OWASP ASVS 5.0.0; its numbers stand beside)?"""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from pathlib import Path

import pyotp
import pytest

from fleet.domain.access import Act
from fleet.domain.records import Role
from fleet.services.access.accounts import disable, invite, reset_link
from fleet.services.access.hours import ABSOLUTE, IDLE, TRIES, TRIES_OF_ADDRESS, WITHIN
from fleet.web.guard import COOKIE
from tests.fleet.web.lab import HOST, PASSWORD, PEOPLE, Browser, Lab, make_lab, with_second_factor

LEAD = PEOPLE[Role.SITE_LEAD]
MINUTE = dt.timedelta(minutes=1)


def signs_in(browser: Browser, email: str = LEAD, password: str = PASSWORD) -> int:
    """The status of trying to sign in: 302 lets in, 400 shows the form again."""
    return browser.post("/sign-in", {"email": email, "password": password}).status_code


def is_in(browser: Browser) -> bool:
    return browser.get("/account").status_code == 200


def invited(lab: Lab, email: str = LEAD) -> str:
    with lab.program.store.begin(write=True) as record:
        path = invite(record, lab.caller(), email, "tester")
        record.commit()
    return path


def test_there_is_no_account_until_somebody_is_invited(lab: Lab) -> None:
    """6.3.2."""
    with lab.program.store.begin() as record:
        assert list(record.access.accounts()) == []
    assert signs_in(lab.browser()) == 400


def test_an_invitation_sets_a_password_and_lets_in_once(lab: Lab) -> None:
    path, browser = invited(lab), lab.browser()
    assert LEAD in browser.page(path)
    answer = browser.post(path, {"password": PASSWORD})
    assert (answer.status_code, answer.location) == (302, "/")
    assert is_in(browser)
    again = lab.browser()
    assert again.get(path).status_code == 410
    assert again.post(path, {"password": PASSWORD}).status_code == 410
    assert signs_in(again) == 302


def test_looking_at_an_invitation_uses_nothing_up(lab: Lab) -> None:
    path = invited(lab)
    for _ in range(3):
        answer = lab.browser().get(path)
        assert (answer.status_code, answer.headers["Referrer-Policy"]) == (200, "no-referrer")
    assert lab.browser().post(path, {"password": PASSWORD}).status_code == 302


def test_an_invitation_ends_after_a_day_and_a_reset_after_an_hour(lab: Lab) -> None:
    path = invited(lab)
    lab.now[0] += dt.timedelta(hours=24)
    assert lab.browser().get(path).status_code == 410
    lab.signed_in(LEAD)
    lab.now[0] += MINUTE
    with lab.program.store.begin(write=True) as record:
        reset = reset_link(record, lab.caller(), LEAD)
        record.commit()
    assert reset is not None
    lab.now[0] += dt.timedelta(minutes=59)
    assert lab.browser().get(reset).status_code == 200
    lab.now[0] += MINUTE
    assert lab.browser().get(reset).status_code == 410


def test_a_link_made_before_the_password_was_set_opens_nothing(lab: Lab) -> None:
    """6.4.3."""
    first, second = invited(lab), invited(lab)
    lab.now[0] += MINUTE
    assert lab.browser().post(first, {"password": PASSWORD}).status_code == 302
    assert lab.browser().get(second).status_code == 410


def test_a_link_of_another_purpose_sets_no_password(lab: Lab) -> None:
    from fleet.services.links import Purpose, make_link

    with lab.program.store.begin(write=True) as record:
        now, token = lab.now[0], lab.program.draw_token()
        path = make_link(record, token, LEAD, Purpose.SITE, {}, now, now + IDLE)
        record.commit()
    assert lab.browser().get(path).status_code == 410
    assert lab.browser().get("/l/made-up").status_code == 410


@pytest.mark.parametrize(
    ("password", "problem"),
    [
        ("x7!kQ9#mZ2@pL5", "has 14 characters"),
        ("passwordpassword", "easy to guess"),
        ("aaaaaaaaaaaaaaaa", "easy to guess"),
        ("duewardduewarddueward", "easy to guess"),
        ("Alder Laboratory", "easy to guess"),
        ("lead@alder.example", "easy to guess"),
        ("q" * 257, "more than 256 characters"),
    ],
    ids=["short", "common", "repeated", "the program", "the site", "the address", "endless"],
)
def test_a_password_that_is_short_or_tried_first_is_refused_with_the_reason(
    lab: Lab, password: str, problem: str
) -> None:
    """6.2.1, 6.2.4, 6.2.11, 6.2.12; NIST SP 800-63B: 15 characters where it is used alone."""
    path = invited(lab)
    answer = lab.browser().post(path, {"password": password})
    assert answer.status_code == 400
    assert problem in answer.text
    assert 'aria-invalid="true"' in answer.text
    assert lab.browser().get(path).status_code == 200, "nothing was spent"


@pytest.mark.parametrize(
    "password",
    [
        "velvet turnip or",
        "\N{SNOWMAN}" * 3 + " zwölf Boxkämpfer",
        "  tortoise lemma granite  ",
        "k9" * 64,
    ],
    ids=["15 and one", "any characters", "blanks at both ends", "128 characters"],
)
def test_a_password_of_any_characters_is_taken_whole(lab: Lab, password: str) -> None:
    """6.2.5, 6.2.8, 6.2.9: any composition, verified exactly as given, no truncation."""
    if password == "k9" * 64:
        password = "".join(chr(33 + (n * 37) % 90) for n in range(128))
    assert lab.browser().post(invited(lab), {"password": password}).status_code == 302
    assert signs_in(lab.browser(), password=password) == 302
    assert signs_in(lab.browser(), password=password[:-1]) == 400


def test_unknown_wrong_disabled_and_slowed_get_the_same_answer(lab: Lab) -> None:
    """6.3.8: nobody learns which addresses have accounts."""
    lab.signed_in(LEAD)
    lab.signed_in("lead@cedar.example")
    with lab.program.store.begin(write=True) as record:
        disable(record, lab.caller(), "lead@cedar.example", "tester")
        record.commit()

    def told(email: str, password: str) -> str:
        answer = lab.browser().post("/sign-in", {"email": email, "password": password})
        assert answer.status_code == 400
        text = re.sub(r'name="form_token" value="[^"]+"', "", answer.text)
        return text.replace(email, "ADDRESS")

    wrong = told(LEAD, "another password")
    assert told("nobody@nowhere.example", PASSWORD) == wrong
    assert told("lead@cedar.example", PASSWORD) == wrong
    for _ in range(TRIES):
        told(LEAD, "another password")
    assert told(LEAD, PASSWORD) == wrong, "slowed, though the password is right"


def test_ten_failures_slow_an_account_from_any_address_for_a_quarter_of_an_hour(lab: Lab) -> None:
    """6.1.1, 6.3.1."""
    lab.signed_in(LEAD)
    for turn in range(TRIES):
        browser = lab.browser()
        browser.client.environ_base["REMOTE_ADDR"] = f"192.0.2.{turn}"
        assert signs_in(browser, password="wrong") == 400
    assert signs_in(lab.browser()) == 400
    lab.now[0] += WITHIN
    assert signs_in(lab.browser()) == 302


def test_an_address_that_fails_for_many_accounts_is_slowed_and_others_are_not(lab: Lab) -> None:
    lab.signed_in(LEAD)
    for turn in range(TRIES_OF_ADDRESS):
        assert signs_in(lab.browser(), email=f"nobody{turn}@nowhere.example") == 400
    assert signs_in(lab.browser()) == 400
    elsewhere = lab.browser()
    elsewhere.client.environ_base["REMOTE_ADDR"] = "198.51.100.1"
    assert signs_in(elsewhere) == 302


def test_signing_in_makes_a_new_session_and_ends_the_old(lab: Lab) -> None:
    """7.2.4."""
    browser = lab.signed_in(LEAD)
    before = browser.client.get_cookie(COOKIE, domain="pages.example")
    assert before is not None
    assert signs_in(browser) == 302
    after = browser.client.get_cookie(COOKIE, domain="pages.example")
    assert after is not None
    assert after.value != before.value
    assert len(after.value) >= 43, "256 bits in base 64"
    old = lab.browser()
    old.holds(COOKIE, before.value)
    assert not is_in(old)


def test_the_database_holds_no_session_value(lab: Lab, tmp_path: Path) -> None:
    browser = lab.signed_in(LEAD)
    cookie = browser.client.get_cookie(COOKIE, domain="pages.example")
    assert cookie is not None
    lab.program.store.begin().__enter__()
    held = b"".join(path.read_bytes() for path in tmp_path.glob("fleet.db*"))
    assert cookie.value.encode() not in held
    assert PASSWORD.encode() not in held or b"plain:" in held


def test_signing_out_kills_the_session_on_the_server(lab: Lab) -> None:
    """7.4.1: the cookie is replayed."""
    browser = lab.signed_in(LEAD)
    cookie = browser.client.get_cookie(COOKIE, domain="pages.example")
    assert cookie is not None
    answer = browser.post("/sign-out")
    assert answer.headers["Clear-Site-Data"] == '"cache"'
    browser.holds(COOKIE, cookie.value)
    assert not is_in(browser)


def test_a_session_ends_when_it_is_idle_and_in_any_case_after_twelve_hours(lab: Lab) -> None:
    """7.3.1, 7.3.2."""
    idle = lab.signed_in(LEAD)
    lab.now[0] += IDLE - MINUTE
    busy = lab.signed_in(LEAD)
    assert is_in(idle)
    lab.now[0] += IDLE
    assert not is_in(idle)
    begun_at = lab.now[0]
    busy = lab.signed_in(LEAD)
    while lab.now[0] < begun_at + ABSOLUTE - 30 * MINUTE:
        lab.now[0] += 30 * MINUTE
        assert is_in(busy)
    lab.now[0] += 30 * MINUTE
    assert not is_in(busy)


def test_disabling_an_account_ends_its_sessions_at_once(lab: Lab) -> None:
    """7.4.2."""
    browser = lab.signed_in(LEAD)
    with lab.program.store.begin(write=True) as record:
        disable(record, lab.caller(), LEAD, "tester")
        record.commit()
    assert not is_in(browser)


def test_changing_the_password_needs_the_present_one_and_ends_other_sessions(lab: Lab) -> None:
    """6.2.3, 7.4.3."""
    browser, other = lab.signed_in(LEAD), lab.signed_in(LEAD)
    new = "granite teapot lemma walrus"
    wrong = browser.post("/account/password", {"present": "wrong", "password": new})
    assert wrong.status_code == 400
    assert "the present password is another" in wrong.text.lower()
    assert (
        browser.post("/account/password", {"present": PASSWORD, "password": new}).status_code == 302
    )
    assert is_in(browser)
    assert not is_in(other)
    assert signs_in(lab.browser()) == 400
    assert signs_in(lab.browser(), password=new) == 302


def test_the_present_password_cannot_be_guessed_without_end(lab: Lab) -> None:
    browser = lab.signed_in(LEAD)
    for _ in range(TRIES):
        browser.post("/account/password", {"present": "wrong", "password": PASSWORD})
    fields = {"present": PASSWORD, "password": "granite teapot lemma walrus"}
    assert browser.post("/account/password", fields).status_code == 400


def test_everybody_sees_and_ends_their_own_sessions(lab: Lab) -> None:
    """7.5.2."""
    browser, other = lab.signed_in(LEAD), lab.signed_in(LEAD)
    assert browser.page("/account").count("a browser") == 2
    assert browser.post("/account/sign-out-others").status_code == 302
    assert is_in(browser)
    assert not is_in(other)


def test_cookies_are_for_this_host_alone_and_for_no_script(lab: Lab) -> None:
    """3.3.1 to 3.3.4."""
    lab.signed_in(LEAD)
    answer = lab.browser().post("/sign-in", {"email": LEAD, "password": PASSWORD})
    (made,) = [c for c in answer.headers.getlist("Set-Cookie") if c.startswith(COOKIE)]
    assert {"Secure", "HttpOnly", "Path=/", "SameSite=Lax"} <= set(made.split("; "))
    assert "Domain" not in made
    assert COOKIE.startswith("__Host-")


@pytest.fixture
def strict_lab(tmp_path: Path) -> Lab:
    return make_lab(tmp_path, change=with_second_factor)


def test_a_consultant_sets_up_a_second_factor_before_seeing_anything(strict_lab: Lab) -> None:
    """6.3.3."""
    lab, email = strict_lab, PEOPLE[Role.CONSULTANT]
    browser = lab.signed_in(email)
    assert browser.get("/region").location == "/account/second-factor"
    page = browser.page("/account/second-factor")
    key = re.search(r'name="key" value="([A-Z2-7]+)"', page)
    assert key is not None
    assert (
        browser.post("/account/second-factor", {"key": key[1], "code": "000000"}).status_code == 400
    )
    totp = pyotp.TOTP(key[1])
    code = totp.at(int(lab.now[0].timestamp()))
    assert browser.post("/account/second-factor", {"key": key[1], "code": code}).status_code == 302
    assert browser.get("/region").status_code == 200

    fresh = lab.browser()
    answer = fresh.post("/sign-in", {"email": email, "password": PASSWORD})
    assert answer.location.startswith("/sign-in/code")
    assert fresh.get("/region").location.startswith("/sign-in?"), "half a sign-in opens nothing"
    assert fresh.post("/sign-in/code", {"code": code}).status_code == 400, "it was used already"
    lab.now[0] += dt.timedelta(seconds=30)
    later = totp.at(int(lab.now[0].timestamp()))
    assert fresh.post("/sign-in/code", {"code": f"{later[:3]} {later[3:]}"}).status_code == 302
    assert fresh.get("/region").status_code == 200


def test_a_lead_needs_no_second_factor(strict_lab: Lab) -> None:
    assert strict_lab.signed_in(LEAD).get("/sites/alder").status_code == 200


def test_codes_cannot_be_guessed_without_end(strict_lab: Lab) -> None:
    lab, email = strict_lab, PEOPLE[Role.CONSULTANT]
    lab.signed_in(email)
    key = pyotp.random_base32()
    with lab.program.store.begin(write=True) as record:
        account = record.access.account(email)
        assert account is not None
        record.access.put_account(replace(account, totp_key=key))
        record.commit()
    browser = lab.browser()
    browser.post("/sign-in", {"email": email, "password": PASSWORD})
    for _ in range(TRIES):
        browser.post("/sign-in/code", {"code": "123456"})
    code = pyotp.TOTP(key).at(int(lab.now[0].timestamp()))
    assert browser.post("/sign-in/code", {"code": code}).status_code == 400


def test_what_happens_at_the_doors_is_logged_without_secrets(lab: Lab) -> None:
    """16.2.1, 16.2.5, 16.3.1: a newline in an address cannot forge a line."""
    lab.signed_in(LEAD)
    signs_in(lab.browser(), email="evil\nsigned in as\tlead", password="a secret of mine")
    signs_in(lab.browser())
    lab.browser().post("/sign-in", {"email": LEAD})
    with lab.program.store.begin() as record:
        logged = record.access.logged(10)
    acts = [event.act for event in logged]
    assert acts.count(Act.SIGNED_IN) == 1
    assert acts.count(Act.NOT_SIGNED_IN) == 2
    assert all(event.at == lab.now[0] and event.address == "127.0.0.1" for event in logged)
    assert "secret of mine" not in repr(logged)
    assert len(logged) == 3


def test_after_signing_in_only_our_own_pages_are_led_on_to(lab: Lab) -> None:
    lab.signed_in(LEAD)
    for then, to in (
        ("/sites/alder", "/sites/alder"),
        ("https://evil.example/", "/"),
        ("//evil.example/", "/"),
        ("/\\evil.example", "/"),
        ("javascript:alert(1)", "/"),
    ):
        fields = {"email": LEAD, "password": PASSWORD, "then": then}
        assert lab.browser().post("/sign-in", fields).location == to, then


def test_a_form_of_another_site_is_refused(lab: Lab) -> None:
    lab.signed_in(LEAD)
    fields = {"email": LEAD, "password": PASSWORD}
    for headers in ({"Sec-Fetch-Site": "cross-site"}, {"Origin": "https://evil.example"}):
        assert lab.browser().post("/sign-in", fields, headers=headers).status_code == 400
    bare = lab.browser().client.post("/sign-in", base_url=HOST, data=fields)
    assert bare.status_code == 400, "no token"
