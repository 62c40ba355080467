"""By what hands is a story walked through: with a finger on a phone, or by keyboard alone?"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final, Protocol

import pyotp
import pytest

from fleet.domain.records import Role
from tests.fleet.web.lab import PASSWORD, PEOPLE, Lab
from tests.web.chromium import page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Locator, Page

__all__ = ["Finger", "Hands", "Keys", "Place", "Walk", "by_both_hands", "walk"]

Place = tuple[Lab, str]
"""A lab, and the address where it is served."""
_KEY: Final = "JBSWY3DPEHPK3PXPJBSWY3DPEHPK3PXP"
_MOST_STOPS: Final = 150
_PATIENCE_MS: Final = 10_000


class Hands(Protocol):
    """What somebody does on a page; each thing is found by what it is called aloud."""

    def __init__(self, page: Page) -> None: ...

    @property
    def page(self) -> Page:
        """Where it is done."""

    def press(self, name: str, within: str = "main") -> None:
        """Follow a link, push a button, or unfold something."""

    def write(self, label: str, text: str, within: str = "main") -> None:
        """Write into a field, in place of what stands there."""

    def tick(self, label: str, within: str = "main") -> None:
        """Tick a box, or choose one of several."""

    def hand_in(self, label: str, file: Path, within: str = "main") -> None:
        """Choose a file."""


def _pressed(page: Page, name: str, within: str) -> Locator:
    place = page.locator(within)
    found = place.get_by_role("link", name=name).or_(place.get_by_role("button", name=name))
    return found.or_(place.locator("summary").filter(has_text=name)).first


def _labelled(page: Page, label: str, within: str) -> Locator:
    return page.locator(within).get_by_label(label).first


@dataclass(frozen=True)
class Finger:
    """Touches what it means."""

    page: Page

    def press(self, name: str, within: str = "main") -> None:
        _pressed(self.page, name, within).click()

    def write(self, label: str, text: str, within: str = "main") -> None:
        _labelled(self.page, label, within).fill(text)

    def tick(self, label: str, within: str = "main") -> None:
        _labelled(self.page, label, within).check()

    def hand_in(self, label: str, file: Path, within: str = "main") -> None:
        _labelled(self.page, label, within).set_input_files(file)


@dataclass(frozen=True)
class Keys:
    """Goes from stop to stop by Tab, and never touches anything."""

    page: Page

    def _reach(self, wanted: Locator) -> None:
        wanted.first.wait_for()
        for _ in range(_MOST_STOPS):
            if wanted.evaluate_all("them => them.includes(document.activeElement)"):
                return
            self.page.keyboard.press("Tab")
        raise AssertionError(f"the keyboard does not reach {wanted}")

    def press(self, name: str, within: str = "main") -> None:
        self._reach(_pressed(self.page, name, within))
        self.page.keyboard.press("Enter")

    def write(self, label: str, text: str, within: str = "main") -> None:
        self._reach(_labelled(self.page, label, within))
        self.page.keyboard.press("ControlOrMeta+a")
        self.page.keyboard.type(text)

    def tick(self, label: str, within: str = "main") -> None:
        wanted = _labelled(self.page, label, within)
        group = f"input[type=radio][name='{wanted.get_attribute('name')}']"
        # Of several to choose from the keyboard stops at one, and arrows lead to the others.
        several = self.page.locator(group)
        self._reach(several if several.count() else wanted)
        self.page.keyboard.press("Space")
        while not wanted.evaluate("e => e === document.activeElement"):
            self.page.keyboard.press("ArrowDown")

    def hand_in(self, label: str, file: Path, within: str = "main") -> None:
        with self.page.expect_file_chooser() as asked:
            self._reach(_labelled(self.page, label, within))
            self.page.keyboard.press("Space")
        asked.value.set_files(file)


@dataclass(frozen=True)
class Walk:
    """A story under way."""

    lab: Lab
    address: str
    hands: Hands

    def goes(self, path: str) -> None:
        self.hands.page.goto(f"{self.address}{path}")

    def reads(self, words: str) -> None:
        """Wait until some words stand on the page."""
        self.hands.page.locator("main").get_by_text(words).first.wait_for()

    def signs_in(self, role: Role) -> None:
        """Come in by the form: with address, password, and the code where one is asked for."""
        email, lab = PEOPLE[role], self.lab
        lab.signed_in(email)
        asks_for_code = role in lab.web.second_factor
        if asks_for_code:
            with lab.program.store.begin(write=True) as record:
                account = record.access.account(email)
                assert account is not None
                record.access.put_account(replace(account, totp_key=_KEY))
                record.commit()
        self.goes("/sign-in")
        self.hands.write("E-mail address", email)
        self.hands.write("Password", PASSWORD)
        self.hands.press("Sign in")
        if asks_for_code:
            code = pyotp.TOTP(_KEY).at(int(lab.now[0].timestamp()))
            self.hands.write("Code", code)
            self.hands.press("Go on")


@contextmanager
def walk(served: Place, chromium: Chromium, hands: type[Hands]) -> Iterator[Walk]:
    """A walk by touch on a phone without script, or by keyboard at a desk."""
    lab, address = served
    is_touch = hands is Finger
    width = 360 if is_touch else 1280
    with page_of(chromium, width, 800, script=not is_touch) as page:
        page.set_default_timeout(_PATIENCE_MS)
        yield Walk(lab, address, hands(page))


by_both_hands = pytest.mark.parametrize("hands", [Finger, Keys], ids=["touch", "keyboard"])
