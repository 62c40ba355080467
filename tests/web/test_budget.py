"""A first visit is counted whole, and the slow line is slow."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.web.budget import cold
from tests.web.served import served

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = pytest.mark.browser

_HEADERS = 400
"""More than the headers of one answer take, in bytes."""


def test_a_first_visit_counts_every_request_byte_and_wait(
    tmp_path: Path, a_browser: Browser
) -> None:
    page = "<!DOCTYPE html><title>Cold</title><link rel=stylesheet href=a.css><h1>Cold</h1>"
    page += "<img src='data:image/gif;base64,R0lGODlhAQABAAAAACw=' alt=''>"
    style = f"h1 {{ color: navy }} /* {'x' * 20_000} */"
    (tmp_path / "a.html").write_text(page, encoding="utf-8")
    (tmp_path / "a.css").write_text(style, encoding="utf-8")
    with served(tmp_path) as address:
        first, second = (cold(f"{address}/a.html", a_browser) for _ in range(2))
    content = len(page) + len(style)
    assert first.requests == 2, "a picture inside the page is no request"
    assert content < first.bytes_received < content + 2 * _HEADERS
    assert (second.requests, second.bytes_received) == (first.requests, first.bytes_received)
    # Two answers one after the other, 400 ms each, and 20 kB at 50 kB a second.
    assert 1200 < first.first_paint_ms < 10_000


def test_an_answer_that_leads_on_counts_as_a_request(tmp_path: Path, a_browser: Browser) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "index.html").write_text("<title>There</title><h1>There</h1>")
    with served(tmp_path) as address:
        straight, led = (cold(f"{address}/{path}", a_browser) for path in ("there/", "there"))
    assert (straight.requests, led.requests) == (1, 2)
    assert straight.bytes_received + 100 < led.bytes_received < straight.bytes_received + _HEADERS
