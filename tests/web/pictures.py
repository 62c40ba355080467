"""How does a page look to a person? `python -m tests.web.pictures URL FILE.png [--width 360]`.

`--cookie NAME=VALUE` shows the page to whoever is signed in by it, `--no-script` to a browser that
runs none, `--dark` on a dark ground; `--window` takes only what is seen without scrolling.
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from pathlib import Path

from tests.web.chromium import browser, page_of

__all__ = ["main", "shoot"]

_HEIGHT = 800


def shoot(
    url: str,
    path: Path,
    *,
    width: int = 1280,
    dark: bool = False,
    full: bool = True,
    script: bool = True,
    cookies: Mapping[str, str] | None = None,
) -> None:
    """Write a picture (PNG) of a page; width in CSS pixels, full: also what is below the window."""
    with (
        browser() as launched,
        page_of(launched, width, _HEIGHT, script=script, dark=dark, cookies=cookies) as page,
    ):
        page.goto(url, wait_until="networkidle")
        page.screenshot(path=path, full_page=full)


def main(arguments: list[str] | None = None) -> None:
    """Take the picture that the command line asks for."""
    parser = argparse.ArgumentParser(prog="python -m tests.web.pictures")
    parser.add_argument("url", help="a page on 127.0.0.1")
    parser.add_argument("path", type=Path, metavar="FILE.png")
    parser.add_argument("--width", type=int, default=1280, help="CSS pixels (default: 1280)")
    parser.add_argument("--cookie", action="append", default=[], metavar="NAME=VALUE", type=_pair)
    parser.add_argument("--no-script", action="store_true")
    parser.add_argument("--dark", action="store_true")
    parser.add_argument("--window", action="store_true", help="only what is seen at first")
    asked = parser.parse_args(arguments)
    shoot(
        asked.url,
        asked.path,
        width=asked.width,
        dark=asked.dark,
        full=not asked.window,
        script=not asked.no_script,
        cookies=dict(asked.cookie),
    )


def _pair(text: str) -> tuple[str, str]:
    name, equals, value = text.partition("=")
    if not (name and equals):
        raise argparse.ArgumentTypeError(f"{text!r} is not a cookie; write it as NAME=VALUE")
    return name, value


if __name__ == "__main__":
    main()
