"""The pages of the small state on a real server, and a browser that looks at them."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING

from fleet.domain.records import Role
from fleet.web.guard import COOKIE, DEVICE_COOKIE
from fleet.web.serving import Door, make_server
from tests.fleet.web.lab import Browser, Lab

if TYPE_CHECKING:
    from playwright.sync_api import Page

__all__ = ["as_word", "cookies_of", "served_lab", "stop_clock"]


@contextmanager
def served_lab(lab: Lab) -> Iterator[str]:
    """Serve the lab's pages by the server that `serve` uses; answers their address."""
    server = make_server(lab.web, Door("127.0.0.1", 0, 4))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.effective_port}"
    finally:
        server.close()
        thread.join(5)


def cookies_of(browser: Browser) -> dict[str, str]:
    """What a client of the lab holds, for another browser to hold."""
    found = {}
    for name in (COOKIE, DEVICE_COOKIE):
        cookie = browser.client.get_cookie(name, domain="pages.example")
        if cookie is not None:
            found[name] = cookie.value
    return found


def as_word(lab: Lab, word: str) -> Browser:
    """A client of somebody: 'nobody', 'bench', or a role."""
    if word == "nobody":
        return lab.browser()
    return lab.at_bench() if word == "bench" else lab.as_role(Role(word))


def stop_clock(page: Page, lab: Lab) -> None:
    """Let the browser's clock stand where the lab's does; its timers go on."""
    page.clock.install(time=lab.now[0])
    page.clock.resume()
