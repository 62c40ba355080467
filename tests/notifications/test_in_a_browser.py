"""Mails as a browser lays them out at 360 pixels: nothing runs out of the page, all can be read."""

from __future__ import annotations

import html
import json
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from notifications.examples import examples
from notifications.languages import LANGUAGES, speaking
from notifications.rendering import render

pytestmark = pytest.mark.browser

_WIDTH = 360
_SCRIPT = """
function light(c) {
  const parts = c.match(/[\\d.]+/g).slice(0, 3).map(Number).map(p => p / 255)
    .map(p => p <= 0.04045 ? p / 12.92 : ((p + 0.055) / 1.055) ** 2.4);
  return 0.2126 * parts[0] + 0.7152 * parts[1] + 0.0722 * parts[2];
}
function ground(e) {
  while (e && /rgba\\(.*, 0\\)|transparent/.test(getComputedStyle(e).backgroundColor)) {
    e = e.parentElement;
  }
  return e ? getComputedStyle(e).backgroundColor : 'rgb(255, 255, 255)';
}
onload = () => {
  const told = [...document.querySelectorAll('iframe')].map(frame => {
    const doc = frame.contentDocument;
    let least = 99, which = '';
    for (const e of doc.body.querySelectorAll('*')) {
      const own = [...e.childNodes].some(n => n.nodeType === 3 && n.textContent.trim());
      if (!own) continue;
      const [a, b] = [light(getComputedStyle(e).color), light(ground(e))].sort((x, y) => y - x);
      const ratio = (a + 0.05) / (b + 0.05);
      if (ratio < least) { least = ratio; which = e.textContent.trim().slice(0, 40); }
    }
    return {name: frame.name, width: doc.documentElement.scrollWidth, least, which};
  });
  document.body.textContent = JSON.stringify(told);
};
"""


def mails() -> Iterator[tuple[str, str]]:
    """One mail of every kind in each language with hostile names, light and dark."""
    for language in LANGUAGES:
        with speaking(language):
            hostile = [one for one in examples(language) if "x" * 100 in one.name]
            for kind in {one.kind for one in hostile}:
                most = max(
                    (one for one in hostile if one.kind is kind),
                    key=lambda one: len(str(one.context)),
                )
                page = render(most).html
                dark = page.replace("@media (prefers-color-scheme: dark)", "@media all")
                yield f"{language} {kind.value} light", page
                yield f"{language} {kind.value} dark", dark


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> list[dict[str, Any]]:
    """What a browser measures of each mail, in one page of frames."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        reason = "no browser to test with: chromium is not on this machine"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    frames = "".join(
        f'<iframe name="{name}" style="width:{_WIDTH}px;height:900px;border:0"'
        f' srcdoc="{html.escape(page)}"></iframe>'
        for name, page in mails()
    )
    path: Path = tmp_path_factory.mktemp("browser") / "mails.html"
    path.write_text(
        f"<!DOCTYPE html><meta charset='utf-8'><script>{_SCRIPT}</script><body>{frames}",
        encoding="utf-8",
    )
    flags = ["--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--dump-dom"]
    command = [chromium, *flags, f"--user-data-dir={path.parent}", path.as_uri()]
    done = subprocess.run(command, capture_output=True, check=True, timeout=120)
    found = re.search(r"<body>(\[.*\])</body>", done.stdout.decode(), flags=re.DOTALL)
    assert found is not None, done.stdout[-500:]
    told: list[dict[str, Any]] = json.loads(html.unescape(found[1]))
    return told


def test_no_mail_runs_out_of_a_narrow_screen(measured: list[dict[str, Any]]) -> None:
    """WCAG 2.2 1.4.10 (reflow) asks for 320 CSS pixels; phones have 360."""
    assert len(measured) == 32
    assert {one["name"]: one["width"] for one in measured if one["width"] > _WIDTH} == {}


def test_every_text_stands_out_from_its_ground(measured: list[dict[str, Any]]) -> None:
    """WCAG 2.2 1.4.3: a contrast of 4.5 to 1 at least, light and dark."""
    assert {
        one["name"]: (one["least"], one["which"]) for one in measured if one["least"] < 4.5
    } == {}
