"""Are pages behind a few steps as easy to use: links, doors, slips, refusals, what is told once?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role
from fleet.services.access.accounts import invite
from fleet.services.jobs.queue import queue_job
from fleet.services.ports import Stamp
from fleet.web.guard import COOKIE
from fleet.web.long_work import runner
from tests.fleet.web.lab import PASSWORD, PEOPLE, Lab, make_lab
from tests.fleet.web.page_rows import Served, Step, faults_behind
from tests.fleet.web.served_lab import cookies_of, served_lab
from tests.fleet.web.test_given_links import given, packet, put_trips
from tests.fleet.web.test_setup_outbox import plan, refuse
from tests.web.chromium import HOST, a_browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser

LEAD = PEOPLE[Role.SITE_LEAD]
KEPT_KEY = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP"
MOST_BYTES = 12 * 2**20


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """A lab with trips and their links, packets made and waiting, and mail that was refused."""
    folder = tmp_path_factory.mktemp("lab")
    lab = make_lab(folder)
    with closing(lab.program), served_lab(lab) as address:
        put_trips(lab)
        places = {"trip": given(lab), "packet made": packet(lab)[1]}
        assert runner(lab.program).run_one()
        lab.now[0] += dt.timedelta(minutes=1)
        places |= {"packet waiting": packet(lab)[1], "job waiting": waiting_job(lab)}
        refuse(lab, 1)
        plan(lab, PEOPLE[Role.MANAGER], "2026-W09")
        (folder / "large.csv").write_bytes(b"x" * (MOST_BYTES + 1))
        places["large file"] = str(folder / "large.csv")
        yield Served(lab, address, places)


def waiting_job(lab: Lab) -> str:
    """The path of a manager's job that no process has begun."""
    by = f"account:{PEOPLE[Role.MANAGER]}"
    span = {"site": "alder", "from": "2026-02-23", "to": "2026-03-02", "made_by": "Max Mandrake"}
    with lab.program.store.begin(write=True) as record:
        stamp = Stamp(at=lab.now[0], by=by, source="page")
        job = queue_job(record, "0123456789abcdef", "packet", span, stamp)
        record.commit()
    return f"/jobs/{job.number}"


def go(page: Page, served: Served, path: str) -> None:
    page.goto(f"{served.address}{served.places.get(path, path)}")


def go_where_it_stays(page: Page, served: Served, path: str) -> None:
    """Open a page that asks for itself again, and let it wait for the answer."""
    go(page, served, path)
    page.route("**/*", lambda route: None)


def an_invitation(page: Page, served: Served) -> None:
    with served.lab.program.store.begin(write=True) as record:
        path = invite(record, served.lab.caller(), "lead@cedar.example", "tester")
        record.commit()
    go(page, served, path)


def a_password_that_is_short(page: Page, served: Served) -> None:
    an_invitation(page, served)
    page.fill("#f-password", "short")
    page.locator("main button").click()
    page.click("#faults a")
    assert page.evaluate("document.activeElement.id") == "f-password"


def types_a_password(page: Page, served: Served, password: str) -> None:
    go(page, served, "/sign-in")
    page.fill("#f-email", LEAD)
    page.fill("#f-password", password)
    page.get_by_role("button", name="Sign in").click()


def another_password(page: Page, served: Served) -> None:
    types_a_password(page, served, "quite another one than that")
    assert page.locator("#faults").count() == 1


def a_code_is_asked_for(page: Page, served: Served) -> None:
    served.client("site lead")
    with served.lab.program.store.begin(write=True) as record:
        account = record.access.account(LEAD)
        assert account is not None
        record.access.put_account(replace(account, totp_key=KEPT_KEY))
        record.commit()
    types_a_password(page, served, PASSWORD)
    page.locator("#f-code").wait_for()
    with served.lab.program.store.begin(write=True) as record:
        record.access.put_account(account)
        record.commit()


def who_stands_at_the_bench(page: Page, served: Served) -> None:
    page.context.clear_cookies(name=COOKIE)
    go(page, served, "/bench/alder")


def nobody_s_pin(page: Page, served: Served) -> None:
    who_stands_at_the_bench(page, served)
    page.get_by_label("GR").check()
    page.fill("#f-pin", "0000")
    page.locator("main button").click()
    assert page.locator("#faults").count() == 1


def no_reason_for_being_broken(page: Page, served: Served) -> None:
    go(page, served, "/bench/alder/units/A-1/broken")
    page.locator("main button").click()


def an_invitation_shown_once(page: Page, served: Served) -> None:
    go(page, served, "/people")
    page.get_by_role("button", name="Invite").first.click()


def a_trip(page: Page, served: Served) -> None:
    go(page, served, "trip")
    page.locator("summary").first.click()


def a_report_with_a_slip(page: Page, served: Served) -> None:
    a_trip(page, served)
    form = page.locator("#V-0001")
    form.get_by_label("Not serviced").first.check()
    form.get_by_label("Serviced", exact=True).nth(1).check()
    form.get_by_role("button", name="Hand back").click()
    page.click("#faults a")
    assert page.evaluate("document.activeElement.id") == "f-why-A-1"


def a_packet_that_is_made(page: Page, served: Served) -> None:
    go(page, served, "packet made")
    assert "pages, to be read" in page.inner_text("main")


def a_packet_that_waits(page: Page, served: Served) -> None:
    go_where_it_stays(page, served, "packet waiting")


def work_that_waits(page: Page, served: Served) -> None:
    go_where_it_stays(page, served, "job waiting")


def what_is_doubtful(page: Page, served: Served) -> None:
    go(page, served, "/sites/alder/issue")
    page.fill("#f-property_number", "A-9")
    page.get_by_label("What it is").select_option("microscope")
    page.fill("#f-manufacturer", "Exemplar")
    page.fill("#f-model", "M1")
    page.fill("#f-serial", "100")
    page.locator("main button").click()


def a_gap_without_a_reason(page: Page, served: Served) -> None:
    go(page, served, "/sites/alder")
    page.fill("#f-why", "flood")
    page.get_by_role("button", name="Explain those").click()
    assert page.locator("#faults").count() == 1


def a_month_that_is_signed(page: Page, served: Served) -> None:
    go(page, served, "/sites/alder/months/2026-02")
    if (button := page.get_by_role("button", name="Sign February")).count():
        button.click()
        page.get_by_role("button", name="Save it as it is").click()
        page.get_by_text("Signed by").wait_for()
    go(page, served, "/sites/alder/months/2026-02")
    assert "Signed by Noor Northgate" in page.inner_text("main")


def mail_that_was_refused(page: Page, served: Served) -> None:
    go(page, served, "/setup/outbox")
    page.locator("main summary").first.click()


def nobody_any_more(page: Page, served: Served) -> None:
    for name, value in cookies_of(served.client("site lead")).items():
        page.context.add_cookies(
            [{"name": name, "value": value, "domain": HOST, "path": "/", "secure": True}]
        )
    go(page, served, "/sites/alder")
    with served.lab.program.store.begin(write=True) as record:
        record.access.end_sessions(email=LEAD)
        record.commit()
    page.locator("#charts button").first.click()
    assert page.inner_text("h1") == "You are signed out"


def a_file_that_is_too_large(page: Page, served: Served) -> None:
    go(page, served, "/setup/import")
    page.set_input_files("#f-files", Path(served.places["large file"]))
    page.click("button.main")
    assert page.inner_text("h1") == "That is too large"


STEPS = (
    Step(an_invitation, "door.html", "sign_in.door_page"),
    Step(a_password_that_is_short, "door.html", "sign_in.door"),
    Step(another_password, "sign_in.html", "sign_in.sign_in"),
    Step(a_code_is_asked_for, "code.html", "sign_in.code_page"),
    Step(who_stands_at_the_bench, "sign_on.html", "bench.bench_of", "bench"),
    Step(nobody_s_pin, "sign_on.html", "bench_doors.sign_on", "bench"),
    Step(no_reason_for_being_broken, "broken.html", "bench.say_broken", "bench"),
    Step(an_invitation_shown_once, "shown_once.html", "people.make_invitation", "consultant"),
    Step(a_trip, "trip.html", "trip.trip"),
    Step(a_report_with_a_slip, "trip.html", "trip.report"),
    Step(a_packet_that_is_made, "packet.html", "packet_page.packet"),
    Step(a_packet_that_waits, "packet.html", "packet_page.packet"),
    Step(work_that_waits, "job.html", "jobs.job", "manager"),
    Step(what_is_doubtful, "meant.html", "issue.issue", "consultant"),
    Step(a_gap_without_a_reason, "site.html", "sites.explain", "site lead"),
    Step(a_month_that_is_signed, "month.html", "months.month", "consultant"),
    Step(mail_that_was_refused, "setup_outbox.html", "setup_outbox.outbox", "manager"),
    Step(nobody_any_more, "refusal.html", "site_charts.charts"),
    Step(a_file_that_is_too_large, "refusal.html", "setup_import.look", "manager"),
)


@pytest.mark.parametrize("step", STEPS, ids=lambda step: step.story.__name__)
def test_a_page_behind_steps_has_no_fault_in_any_mode(
    served: Served, a_browser: Chromium, step: Step
) -> None:
    found = faults_behind(step, served, a_browser)
    assert not found, "\n".join(found)
