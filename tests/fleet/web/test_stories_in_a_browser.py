"""Does each role come from the sign-in to its result: on a phone, at a desk, by keyboard alone?

Each story is walked twice in Chromium: by touch at 360 px where no script runs, and by keyboard
alone at 1280 px. The bench has stories of its own (`test_bench_in_a_browser`), and the manager's
planning stands where a plan is made (`test_plans_in_a_browser`).
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from fleet.domain.records import Role
from fleet.services.access.given_links import end_link, given_links
from fleet.web.long_work import runner
from tests.fleet.web.hands import Hands, Place, by_both_hands, walk
from tests.fleet.web.lab import PEOPLE, make_lab, with_second_factor
from tests.fleet.web.served_lab import served_lab
from tests.fleet.web.test_given_links import PNG, given, packet, put_trips
from tests.web.chromium import a_browser

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium

    from fleet.web.site import WebSite

__all__ = ["a_browser"]

pytestmark = pytest.mark.browser


@contextmanager
def a_served_lab(folder: Path, change: Callable[[WebSite], WebSite]) -> Iterator[Place]:
    lab = make_lab(folder, change=change)
    with closing(lab.program), served_lab(lab) as address:
        yield lab, address


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Place]:
    """A lab that asks nobody for a second factor."""
    with a_served_lab(tmp_path, lambda web: web) as made:
        yield made


@pytest.fixture
def strict(tmp_path: Path) -> Iterator[Place]:
    """A lab that asks consultants and managers for a second factor."""
    with a_served_lab(tmp_path, with_second_factor) as made:
        yield made


@by_both_hands
def test_a_site_lead_explains_a_gap_and_notes_the_charts_return(
    served: Place, a_browser: Chromium, hands: type[Hands]
) -> None:
    with walk(served, a_browser, hands) as lead:
        lead.signs_in(Role.SITE_LEAD)
        lead.reads("Overdue and due")
        lead.reads("7 gaps to explain")
        lead.hands.tick("Mon 2 Mar 2026, A-2 optics", "#gaps")
        lead.hands.write("Why is there no mark?", "the room was painted", "#gaps")
        lead.hands.press("Explain those that are ticked", "#gaps")
        lead.reads("1 gap explained")
        lead.hands.press("the return of 2026-02", "#months")
        lead.reads("the charts went back")
        lead.hands.press("A-2", "#duties")
        lead.reads("the room was painted")


@by_both_hands
def test_a_consultant_goes_from_the_region_to_the_reason_and_signs_a_month(
    strict: Place, a_browser: Chromium, hands: type[Hands]
) -> None:
    with walk(strict, a_browser, hands) as consultant:
        consultant.signs_in(Role.CONSULTANT)
        consultant.hands.press("Adams", "#counties")
        consultant.reads("Alder Laboratory")
        consultant.hands.press("A-1", "#duties")
        consultant.hands.press("Why annual-service")
        consultant.reads("It was last done on Fri 3 Jan 2025")
        consultant.hands.press("Region", "nav")
        consultant.hands.press("February 2026, Adams County", "#reviews")
        consultant.hands.write("Note", "seen with the lead")
        consultant.hands.press("Sign February 2026")
        consultant.reads("Is this meant?")
        consultant.hands.press("Save it as it is")
        consultant.reads("Signed by Noor Northgate")
        consultant.reads("seen with the lead")


@by_both_hands
def test_a_consultant_moves_a_holiday_and_sees_first_what_it_changes(
    strict: Place, a_browser: Chromium, hands: type[Hands]
) -> None:
    with walk(strict, a_browser, hands) as consultant:
        consultant.signs_in(Role.CONSULTANT)
        consultant.hands.press("Set-up", "nav")
        consultant.hands.press("Sites")
        consultant.hands.press("Alder Laboratory")
        consultant.hands.press("2026")
        consultant.hands.write("Day, row 4", "2026-04-27")
        consultant.hands.press("See what it changes")
        consultant.reads("Not saved yet")
        consultant.reads("Arbor Day")
        consultant.hands.press("Save it")
        consultant.reads("The holidays are saved")
    with strict[0].program.store.begin() as record:
        kept = {h.on for h in record.register().holidays.values() if h.site == "alder"}
    assert dt.date(2026, 4, 27) in kept
    assert dt.date(2026, 4, 24) not in kept


@by_both_hands
def test_a_technician_hands_back_a_report_with_its_certificate(
    served: Place, a_browser: Chromium, hands: type[Hands], tmp_path: Path
) -> None:
    (tmp_path / "report.png").write_bytes(PNG)
    lab, _ = served
    put_trips(lab)
    link = given(lab)
    with walk(served, a_browser, hands) as technician:
        technician.goes(link)
        technician.reads("2 reports to hand back")
        technician.hands.press("Hand back the report of V-0001")
        stop, one, other = "#V-0001", "#V-0001 fieldset:has-text('A-1')", "fieldset:has-text('A-2')"
        technician.hands.write("Initials", "GR", stop)
        technician.hands.tick("Serviced", one)
        technician.hands.write("What was found and done", "lamp replaced", one)
        technician.hands.hand_in("Certificate", tmp_path / "report.png", one)
        technician.hands.tick("Not serviced", f"{stop} {other}")
        technician.hands.write("If not serviced, why", "no power", f"{stop} {other}")
        technician.hands.press("Hand back V-0001", stop)
        technician.reads("1 report to hand back")
    unit = lab.as_role(Role.SITE_LEAD).page("/units/A-1")
    assert "lamp replaced" in unit
    assert "/units/A-1/certificates/" in unit


@by_both_hands
def test_an_inspector_reads_a_packet_until_its_link_is_ended(
    served: Place, a_browser: Chromium, hands: type[Hands]
) -> None:
    lab, _ = served
    _, link = packet(lab)
    assert runner(lab.program).run_one()
    with walk(served, a_browser, hands) as inspector:
        inspector.goes(link)
        inspector.reads("Evidence of Alder Laboratory")
        with inspector.hands.page.expect_download() as fetched:
            inspector.hands.press("The packet as PDF")
        assert fetched.value.path().read_bytes().startswith(b"%PDF")
        assert inspector.hands.page.locator("form").count() == 0, "it is there to be read"
        with lab.program.store.begin(write=True) as record:
            (one,) = given_links(record, lab.now[0])
            end_link(record, one.number, lab.now[0], PEOPLE[Role.CONSULTANT])
            record.commit()
        inspector.goes(link)
        inspector.reads("This link")
        assert "Evidence of" not in inspector.hands.page.inner_text("body")
