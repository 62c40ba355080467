"""Are the checks that every page is held to able to fail? Nineteen faults planted one by one."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.web.chromium import page_of
from tests.web.page_checks import everything, faults_of
from tests.web.served import PLANTED, served

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser
GOOD = (PLANTED / "good.html").read_text(encoding="utf-8")

LABEL = '<label for="done_on">Done on</label>'
CAPTION = '<caption id="units">Units at Alder County, as of 2 March 2026</caption>'
HEAD = '<th scope="col">Unit</th>'
REGION = '<div class="scroll" tabindex="0" role="region" aria-labelledby="units">'
TIED = ' aria-describedby="done_on_error" aria-invalid="true"'
RING = ":focus-visible { outline: 3px solid #1b1b1b; box-shadow: 0 0 0 6px #fff; }"
STATE = '<span class="state overdue"><span aria-hidden="true">■</span> overdue</span>'
OTHER = '<span class="state"><span aria-hidden="true">□</span> in order</span>'
MARK = '<button class="mark">Mark as done</button>'
OF_UNIT = '<span class="vh"> service of SN000007</span>'
OF_OTHER = '<span class="vh"> service of SN000008</span>'
TINY = '<a href="/{0}" style="display: block; width: 9px; height: 9px; font-size: 8px">{0}</a>'
CLOSE = f"{TINY.format(1)}{TINY.format(2)}<p>Kept by"
WIDE = '<p style="width: 500px">Kept by the county.'

FAULTS = (
    ("a field without a label", {LABEL: "Done on"}, "label:"),
    ("no language", {'<html lang="en">': "<html>"}, "html-has-lang:"),
    ("no title", {"<title>Error: Record a service</title>": ""}, "document-title:"),
    (
        "contrast too low",
        {".error { color: #9b1c1c; }": ".error { color: #ccc; }"},
        "color-contrast:",
    ),
    (
        "no zoom",
        {"initial-scale=1": "initial-scale=1, maximum-scale=1, user-scalable=no"},
        "meta-viewport:",
    ),
    ("a button without a name", {MARK: '<button class="mark"></button>'}, "button-name:"),
    (
        "links too close",
        {"<p>Kept by": CLOSE},
        "target-size:",
    ),
    (
        "a state told by colour",
        {STATE: '<span class="spot"></span>', OTHER: '<span class="spot"></span>'},
        "colour or sign alone",
    ),
    ("no caption", {CAPTION: ""}, "a table without a caption"),
    ("no scope", {HEAD: "<th>Unit</th>"}, "without scope"),
    (
        "header cells that are td",
        {f"<tr>{HEAD}": "<tr><td>Unit</td>", '<th scope="col">State</th>': "<td>State</td>"},
        "header cells that are td",
    ),
    ("no h1", {"<h1>Record a service</h1>": "<div>Record a service</div>"}, "no h1"),
    ("an error tied to no field", {TIED: ""}, "an error text tied to no field"),
    ("an id twice", {'<main id="main">': '<main id="main"><b id="units">x</b>'}, "stands twice"),
    ("Record, and Record", {OF_UNIT: "", OF_OTHER: ""}, "is the text of links to 2 places"),
    ("no ring", {RING: ":focus { outline: none }"}, "the focus is not seen"),
    (
        "a link under 24 px",
        {"min-width: 24px; min-height: 24px;": "font: 12px/1 serif;"},
        "under 24 px",
    ),
    (
        "a small mark button",
        {"min-width: 44px; min-height: 44px;": "font-size: 9px"},
        "under 44 px",
    ),
    ("a scroll area without keyboard", {REGION: '<div class="scroll">'}, "a scroll area without"),
    ("a page that scrolls sideways", {"<p>Kept by the county.": WIDE}, "scrolls sideways"),
)


def test_a_good_page_has_no_fault_in_any_mode(a_browser: Browser) -> None:
    with served(PLANTED) as address:
        assert everything(f"{address}/good.html", a_browser) == []


@pytest.mark.parametrize(
    ("changed", "told"), [fault[1:] for fault in FAULTS], ids=[f[0] for f in FAULTS]
)
def test_a_planted_fault_is_found_and_named(
    a_browser: Browser, tmp_path: Path, changed: dict[str, str], told: str
) -> None:
    page_text = GOOD
    for old, new in changed.items():
        assert old in page_text, old
        page_text = page_text.replace(old, new)
    with page_of(a_browser, 320, 700) as page:
        page.set_content(page_text)
        found = faults_of(page)
    assert any(told in fault for fault in found), found


def test_being_led_elsewhere_and_errors_of_the_console_are_faults(
    a_browser: Browser, tmp_path: Path
) -> None:
    refresh = '<head><meta http-equiv="refresh" content="0; url=good.html">'
    (tmp_path / "away.html").write_text(GOOD.replace("<head>", refresh), encoding="utf-8")
    missing = GOOD.replace("</main>", '<img src="none.png" alt="x"></main>')
    (tmp_path / "missing.html").write_text(missing, encoding="utf-8")
    with served(tmp_path) as address:
        found = everything(f"{address}/missing.html", a_browser)
    assert any("the console says" in fault for fault in found), found
