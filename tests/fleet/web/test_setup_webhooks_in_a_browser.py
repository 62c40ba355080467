"""Is the page of webhooks as easy to use with messages of every sort and with long addresses?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role
from fleet.services.webhooks.subscriptions import Asked, subscribe
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.fleet.web.webhook_lab import Hooked, hooked_lab
from tests.https_receiver import answer
from tests.web.chromium import a_browser
from tests.web.page_checks import everything, in_every_mode

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page

__all__ = ["a_browser", "every_sort"]

pytestmark = pytest.mark.browser

LONG = f"https://receiver-with-a-long-name.of-some-agency.example:8443/{'dueward/' * 30}?of=state"


def every_sort(hooked: Hooked) -> None:
    """Messages that arrived, wait, were put off, refused and taken back; one that is paused, one
    with a long address and two secrets, and one of a region that was sent nothing.
    """
    hooked.add()
    hooked.receiver.says += [answer(204), answer(404), answer(503)]
    for on in ("2026-03-02", "2026-03-01", "2026-02-28"):
        hooked.serves(on=on)
        hooked.tick()
        hooked.passes(minutes=1)
    hooked.manager.post("/setup/webhooks/try", {"number": hooked.number})
    hooked.serves(on="2026-02-27")
    lab = hooked.lab
    with lab.web.program.store.begin(write=True) as record:
        view, now = lab.web.board.view(record, lab.now[0]), lab.now[0]
        for number, url, region in (("W2", LONG, ""), ("W3", hooked.receiver.url, "North")):
            asked = Asked(url=url, region=region, tells_overdue=True, tells_services=False)
            made = subscribe(
                record,
                view,
                asked,
                number=number,
                key=bytes(32),
                by="program@bench.example",
                base_url="",
                now=now,
            )
            if number == "W2":
                changed = replace(made, failing_since_at=now, paused_at=now)
                until_at = now.replace(month=now.month + 1)
                former = replace(changed, former_secret=made.secret, former_until_at=until_at)
                record.webhooks.put(former)
        record.commit()


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Hooked, str]]:
    folder: Path = tmp_path_factory.mktemp("lab")
    with hooked_lab(folder) as hooked, served_lab(hooked.lab) as address:
        every_sort(hooked)
        yield hooked, address


def test_with_messages_and_long_addresses_it_has_no_fault_in_any_mode(
    filled: tuple[Hooked, str], a_browser: Chromium
) -> None:
    hooked, address = filled
    cookies = cookies_of(hooked.lab.as_role(Role.MANAGER))
    found = everything(f"{address}/setup/webhooks", a_browser, cookies=cookies, status=200)
    assert not found, "\n".join(found)


def test_a_refused_form_has_no_fault_in_any_mode(
    filled: tuple[Hooked, str], a_browser: Chromium
) -> None:
    hooked, address = filled

    def refused(page: Page) -> list[str]:
        page.goto(f"{address}/setup/webhooks")
        page.get_by_label("Address").fill("https://receiver.example:22/x")
        page.get_by_label("a unit becomes overdue").uncheck()
        page.get_by_role("button", name="Add it").click()
        page.get_by_text("Port 22 belongs to another service").first.wait_for()
        return []

    cookies = cookies_of(hooked.lab.as_role(Role.MANAGER))
    found = in_every_mode(refused, a_browser, cookies=cookies)
    assert not found, "\n".join(found)


def test_a_webhook_is_added_and_tried_by_hand(
    filled: tuple[Hooked, str], a_browser: Chromium
) -> None:
    hooked, address = filled
    before = len(hooked.receiver.asked)

    def adds(page: Page) -> list[str]:
        page.goto(f"{address}/setup")
        page.get_by_role("link", name="Webhooks").click()
        page.get_by_label("Address").fill(hooked.receiver.url)
        page.get_by_label("Of which sites").select_option("South")
        page.get_by_role("button", name="Add it").click()
        page.get_by_text("whsec_").wait_for()
        page.get_by_role("link", name="I have it: go on").click()
        page.get_by_role("button", name="Try it").last.click()
        page.get_by_text("The test arrived.").wait_for()
        return []

    cookies = cookies_of(hooked.lab.as_role(Role.MANAGER))
    found = in_every_mode(adds, a_browser, cookies=cookies)
    assert not found, "\n".join(found)
    assert len(hooked.receiver.asked) > before
