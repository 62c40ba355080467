"""How does a test get a browser? Debian's chromium, driven by Playwright, kept on loopback."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

import pytest

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["HOST", "a_browser", "browser", "page_of", "program"]

HOST: Final = "127.0.0.1"
"""The one host that the browser finds; pages under test are served there."""
_FLAGS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    f"--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE {HOST}",
)


def program() -> str:
    """The path of chromium; without one a test is skipped, and with `CI` set it fails."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    if found is None:
        reason = "no browser to test with: chromium is not on this machine"
        if os.environ.get("CI"):
            pytest.fail(reason)
        pytest.skip(reason)
    return found


@contextmanager
def browser() -> Iterator[Browser]:
    """Launch chromium without a window, and close it at the end.

    While it is open the thread has a running event loop, so `asyncio.run` is refused in it.
    """
    path = program()
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        launched = playwright.chromium.launch(executable_path=path, args=_FLAGS)
        try:
            yield launched
        finally:
            launched.close()


# A browser a file, not a session: tests of other files may want an event loop of their own.
@pytest.fixture(scope="module")
def a_browser() -> Iterator[Browser]:
    """The browser of one file of tests."""
    with browser() as launched:
        yield launched


@contextmanager
def page_of(
    browser: Browser,
    width: int,
    height: int,
    *,
    script: bool = True,
    forced_colors: bool = False,
    reduced_motion: bool = False,
    dark: bool = False,
    offline: bool = False,
    cookies: Mapping[str, str] | None = None,
) -> Iterator[Page]:
    """Open an empty page with a cold cache, and close it at the end.

    width, height: CSS pixels. cookies: values by name, sent to every port of `HOST` as secure ones.
    """
    context = browser.new_context(
        viewport={"width": width, "height": height},
        java_script_enabled=script,
        forced_colors="active" if forced_colors else "none",
        reduced_motion="reduce" if reduced_motion else "no-preference",
        color_scheme="dark" if dark else "light",
        offline=offline,
    )
    try:
        for name, value in (cookies or {}).items():
            context.add_cookies(
                [{"name": name, "value": value, "domain": HOST, "path": "/", "secure": True}]
            )
        yield context.new_page()
    finally:
        context.close()
