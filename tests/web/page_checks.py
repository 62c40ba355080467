"""What is wrong with a web page? axe-core's findings, and those of own checks that it misses.

axe-core names faults of WCAG 2.2 A and AA that a machine can be sure of; `own_checks.js` and
`focus_ring.js` hold pages to this project's rules, which are stricter than the law.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from tests.web.chromium import page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["MODES", "Mode", "everything", "faults_of", "in_every_mode"]

_TAGS: Final = ("wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa")
_RUN: Final = "tags => axe.run({runOnly: tags, resultTypes: ['violations']})"
_MOST_STOPS: Final = 200
_PLACES_NAMED: Final = 3
_NARROW: Final = (320, 360)
"""CSS pixels: what WCAG 2.2 1.4.10 asks for, and the common phone."""


@dataclass(frozen=True)
class Mode:
    """A way to look at a page; width and height in CSS pixels."""

    name: str
    width: int
    height: int
    forced_colors: bool = False
    reduced_motion: bool = False


MODES: Final = (
    Mode("desk", 1280, 900),
    Mode("phone", 320, 700),
    Mode("forced colours, no motion", 1280, 900, forced_colors=True, reduced_motion=True),
)


def everything(
    page_url: str,
    browser: Browser,
    *,
    cookies: Mapping[str, str] | None = None,
    status: int = 200,
) -> list[str]:
    """The faults of the page at an address in every mode, each with the name of its mode.

    Being led to another address, or another status than the one it is to answer with, is a fault
    too: another page would be checked in place of this one.
    """

    def visit(page: Page) -> list[str]:
        answer = page.goto(page_url)
        # A page that tells of an error answers with its code, and the console repeats that.
        faults = [
            f"the console says: {said.text}"
            for said in page.console_messages()
            if said.type == "error" and said.location["url"] != page_url
        ]
        faults += [f"a script failed: {error}" for error in page.page_errors()]
        if answer is not None and answer.status != status:
            faults.append(f"the page answered {answer.status} and not {status}")
        if page.url != page_url:
            faults.append(f"the address led to another page: {page.url}")
        return faults

    return in_every_mode(visit, browser, cookies=cookies)


def in_every_mode(
    visit: Callable[[Page], list[str]],
    browser: Browser,
    *,
    cookies: Mapping[str, str] | None = None,
) -> list[str]:
    """The faults of what `visit` brings an empty page to, each with the name of its mode.

    visit: for pages that are reached by more than an address; answers faults of the way there.
    """
    faults = []
    for mode in MODES:
        with page_of(
            browser,
            mode.width,
            mode.height,
            forced_colors=mode.forced_colors,
            reduced_motion=mode.reduced_motion,
            cookies=cookies,
        ) as page:
            faults += [f"{mode.name}: {fault}" for fault in [*visit(page), *faults_of(page)]]
    return faults


def faults_of(page: Page) -> list[str]:
    """What is wrong with a page as it stands: one sentence a fault, with its place.

    The focus is moved through the page; the width of a narrow one is changed and put back.
    """
    page.evaluate(_axe())
    found: dict[str, Any] = page.evaluate(_RUN, list(_TAGS))
    faults = [_sentence(violation) for violation in found["violations"]]
    return [*faults, *_own_faults(page), *_unseen_focus(page)]


def _sentence(violation: dict[str, Any]) -> str:
    nodes = violation["nodes"]
    places = "; ".join(str(node["target"][0]) for node in nodes[:_PLACES_NAMED])
    more = f" and {len(nodes) - _PLACES_NAMED} more" if len(nodes) > _PLACES_NAMED else ""
    return f"{violation['id']}: {violation['help']}: {places}{more}"


def _own_faults(page: Page) -> list[str]:
    """What own checks find; a narrow page is held to every narrow width."""
    size = page.viewport_size
    assert size is not None, "a page under test has a size"
    widths = _NARROW if size["width"] <= max(_NARROW) else (size["width"],)
    faults: list[str] = []
    for width in widths:
        page.set_viewport_size({"width": width, "height": size["height"]})
        faults += page.evaluate(_script("own_checks.js"))
    page.set_viewport_size(size)
    return list(dict.fromkeys(faults))


def _unseen_focus(page: Page) -> list[str]:
    page.evaluate(_script("focus_ring.js"))
    stops: int = page.evaluate("focusRing.rest()")
    # One more than there are stops: after the last one the focus leaves the page once.
    for _ in range(min(stops, _MOST_STOPS) + 1):
        page.keyboard.press("Tab")
    unseen: list[str] = page.evaluate("focusRing.unseen()")
    return unseen


@functools.cache
def _axe() -> str:
    """axe-core as a text: a script tag would be stopped by the page's own policy."""
    return (resources.files("axe_playwright_python") / "axe.min.js").read_text(encoding="utf-8")


@functools.cache
def _script(name: str) -> str:
    return (Path(__file__).parent / name).read_text(encoding="utf-8")
