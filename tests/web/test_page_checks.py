"""The instrument finds every fault that was planted in a good page, and none in the good page."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import quote

import pytest

from tests.web.chromium import page_of
from tests.web.page_checks import everything, faults_of, in_every_mode
from tests.web.served import PLANTED, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = pytest.mark.browser

_GOOD = (PLANTED / "good.html").read_text(encoding="utf-8")


class Plant(NamedTuple):
    """A fault: what is put in place of what, and what the instrument says to it."""

    reason: str
    old: str
    new: str
    said: str
    width: int = 1280
    modes: tuple[str, ...] = ()


def planted(group: str) -> list[Plant]:
    """The faults of one group of the table."""
    table = tomllib.loads((PLANTED / "faults.toml").read_text(encoding="utf-8"))
    return [Plant(**row) for row in table[group]]


def with_fault(plant: Plant) -> str:
    """The good page with one fault in it."""
    assert plant.old in _GOOD
    return _GOOD.replace(plant.old, plant.new)


def reason(plant: Plant) -> str:
    """What a test of a fault is called."""
    return plant.reason


@pytest.mark.parametrize(
    "plant", [*planted("seen_by_axe"), *planted("seen_by_own_checks")], ids=reason
)
def test_a_planted_fault_is_named_and_nothing_else(plant: Plant, a_browser: Browser) -> None:
    with page_of(a_browser, plant.width, 700) as page:
        page.set_content(with_fault(plant))
        faults = faults_of(page)
    assert faults, plant.reason
    assert [fault for fault in faults if plant.said not in fault] == []


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Where the good page is served, alone and with faults that only a visit shows."""
    folder = tmp_path_factory.mktemp("planted")
    (folder / "good.html").write_text(_GOOD, encoding="utf-8")
    (folder / "behind").mkdir()
    (folder / "behind" / "index.html").write_text(_GOOD, encoding="utf-8")
    for plant in planted("seen_by_visits"):
        (folder / f"{plant.reason}.html").write_text(with_fault(plant), encoding="utf-8")
    with served(folder) as found:
        yield found


def test_a_good_page_has_no_fault_in_any_mode(address: str, a_browser: Browser) -> None:
    assert everything(f"{address}/good.html", a_browser) == []


@pytest.mark.parametrize("plant", planted("seen_by_visits"), ids=reason)
def test_a_fault_is_named_with_the_modes_that_show_it(
    plant: Plant, address: str, a_browser: Browser
) -> None:
    faults = everything(f"{address}/{quote(plant.reason)}.html", a_browser)
    assert [fault for fault in faults if plant.said not in fault] == []
    assert {fault.partition(": ")[0] for fault in faults} == set(plant.modes)


def test_a_page_that_led_elsewhere_is_not_taken_for_the_one_asked_for(
    address: str, a_browser: Browser
) -> None:
    faults = everything(f"{address}/behind", a_browser)
    assert faults[0] == f"desk: the address led to another page: {address}/behind/"


def test_a_page_that_is_not_there_is_not_taken_for_a_good_one(
    address: str, a_browser: Browser
) -> None:
    faults = everything(f"{address}/no-such.html", a_browser)
    assert "desk: the page answered 404 and not 200" in faults
    asked_for = everything(f"{address}/no-such.html", a_browser, status=404)
    assert not [fault for fault in asked_for if "answered" in fault]


def test_a_page_behind_some_steps_is_checked_as_it_then_stands(
    address: str, a_browser: Browser
) -> None:
    def visit(page: Page) -> list[str]:
        page.goto(f"{address}/good.html")
        page.locator("h1").evaluate("heading => heading.remove()")
        return []

    faults = in_every_mode(visit, a_browser)
    assert [fault.rpartition(": ")[2] for fault in faults] == ["no h1 on the page"] * 3


def test_cookies_go_with_every_visit(address: str, a_browser: Browser) -> None:
    """Those of a name that begins `__Host-` are taken by a browser only when they are secure."""
    with page_of(a_browser, 1280, 900, cookies={"__Host-who": "reader"}) as page:
        with page.expect_request("**/good.html") as asked:
            page.goto(f"{address}/good.html")
        assert asked.value.all_headers()["cookie"] == "__Host-who=reader"
