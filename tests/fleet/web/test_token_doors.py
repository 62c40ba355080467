"""Who tries many links that nobody gave is told to wait, and whoever has one comes in."""

from __future__ import annotations

import datetime as dt

import pytest
from werkzeug.test import TestResponse

from fleet.domain.access import Act
from fleet.domain.records import Role
from fleet.services.access.accounts import invite, reset_link
from fleet.services.access.hours import TRIES_OF_ADDRESS, WRONG_LINKS, WRONG_LINKS_WITHIN
from tests.fleet.web.lab import PASSWORD, PEOPLE, Browser, Lab
from tests.fleet.web.test_given_links import given, packet, put_trips

DOORS = (
    ("GET", "/t/{token}"),
    ("POST", "/t/{token}/V-0001"),
    ("GET", "/p/{token}"),
    ("GET", "/p/{token}/packet.pdf"),
    ("GET", "/l/{token}"),
    ("POST", "/l/{token}"),
)


def tried(browser: Browser, door: tuple[str, str], token: str = "made-up") -> TestResponse:  # noqa: S107
    method, rule = door
    path = rule.format(token=token)
    return browser.get(path) if method == "GET" else browser.post(path, {"password": PASSWORD})


def tries_too_often(lab: Lab) -> Browser:
    """A browser whose address has tried as many made-up links as are let."""
    browser = lab.browser()
    for number in range(WRONG_LINKS):
        answer = tried(browser, DOORS[number % len(DOORS)], f"made-up-{number}")
        assert answer.status_code == 410, number
    return browser


@pytest.mark.parametrize("door", DOORS, ids=[" ".join(door) for door in DOORS])
def test_many_made_up_links_are_told_to_wait_whatever_the_door(
    lab: Lab, door: tuple[str, str]
) -> None:
    browser = tries_too_often(lab)
    answer = tried(browser, door)
    assert (answer.status_code, answer.headers["Retry-After"]) == (429, "3600")
    assert "Come again in 60 minutes." in answer.text
    elsewhere = {"REMOTE_ADDR": "192.0.2.99"}
    path = "/t/made-up"
    assert browser.get(path, environ_overrides=elsewhere).status_code == 410
    lab.now[0] += WRONG_LINKS_WITHIN
    assert tried(browser, door).status_code == 410


def test_right_links_open_all_the_while(lab: Lab) -> None:
    put_trips(lab)
    trip, (_, evidence) = given(lab), packet(lab)
    with lab.program.store.begin(write=True) as record:
        invited = invite(record, lab.caller(), PEOPLE[Role.SITE_LEAD], "tester")
        record.commit()
    browser = tries_too_often(lab)
    for path in (trip, evidence, invited):
        assert browser.get(path).status_code == 200, path
    assert browser.post(invited, {"password": PASSWORD}).status_code == 302
    lab.now[0] += dt.timedelta(minutes=1)
    with lab.program.store.begin(write=True) as record:
        reset = reset_link(record, lab.caller(), PEOPLE[Role.SITE_LEAD])
        record.commit()
    assert reset is not None
    assert lab.browser().get(reset).status_code == 200


def test_a_link_that_was_given_once_is_not_counted_and_sign_in_goes_on(lab: Lab) -> None:
    lead = PEOPLE[Role.SITE_LEAD]
    with lab.program.store.begin(write=True) as record:
        invited = invite(record, lab.caller(), lead, "tester")
        record.commit()
    assert lab.browser().post(invited, {"password": PASSWORD}).status_code == 302
    browser = lab.browser()
    for _ in range(WRONG_LINKS + 5):
        assert browser.get(invited).status_code == 410, "it was used"
    tries_too_often(lab)
    for number in range(TRIES_OF_ADDRESS // 2):
        lab.browser().post("/sign-in", {"email": f"{number}@alder.example", "password": "wrong"})
    signed = lab.browser().post("/sign-in", {"email": lead, "password": PASSWORD})
    assert signed.status_code == 302


def test_made_up_links_are_logged_without_the_token_and_no_more_once_they_are_too_many(
    lab: Lab,
) -> None:
    browser = tries_too_often(lab)
    for _ in range(5):
        tried(browser, DOORS[0])
    with lab.program.store.begin() as record:
        told = [event for event in record.access.logged(100) if event.act is Act.REFUSED]
    assert [event.about for event in told] == ["a link that nobody gave"] * WRONG_LINKS
    assert {event.address for event in told} == {"127.0.0.1"}
