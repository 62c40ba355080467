"""How do pages say dates, counts and states? In the words that mails have."""

from __future__ import annotations

import datetime as dt
import re
from collections.abc import Callable, Mapping
from typing import Any, Final
from zoneinfo import ZoneInfo

from markupsafe import Markup, escape

from fleet.services.visits.move_words import move_words
from notifications.digests.words import counted, county, day, dollars, joined, month

__all__ = ["FILTERS", "browser", "clock", "place", "state"]

_SHAPES: Final[Mapping[str, str]] = {
    "overdue": "\N{BLACK SQUARE}",
    "due": "\N{BLACK DIAMOND}",
    "upcoming": "\N{WHITE CIRCLE}",
    "done": "\N{CHECK MARK}",
    "out of service": "\N{MULTIPLICATION SIGN}",
    "retired": "\N{EM DASH}",
    "not in service yet": "\N{EM DASH}",
}

_PRODUCT: Final = re.compile(r"([A-Za-z]+)/(\d+)")
_SYSTEM: Final = re.compile(r"\((?:(?:X11|Linux); )?([^;)]+)")
_OF_ALL: Final = frozenset({"Mozilla", "AppleWebKit", "Gecko", "Version", "Mobile", "Safari"})
"""Names that nearly every browser gives, whichever it is."""


def state(word: str) -> Markup:
    """A state as word and shape; the shape is for the eye alone."""
    name = word.replace(" ", "-")
    shape = _SHAPES.get(word, "")
    said = word[:1].upper() + word[1:]
    return Markup('<span class="state {}"><span aria-hidden="true">{}</span> {}</span>').format(
        name, shape, said
    )


def clock(at: dt.datetime, zone: str) -> str:
    """An instant as the clock on the wall shows it: '08:14'."""
    return f"{at.astimezone(ZoneInfo(zone)):%H:%M}"


def time_element(on: dt.date | None) -> Markup:
    """A date as people say it, with its ISO form for machines; empty for none."""
    if on is None:
        return Markup("")
    return Markup('<time datetime="{}">{}</time>').format(on.isoformat(), day(on))


def instant_element(at: dt.datetime | None, zone: str = "UTC") -> Markup:
    """An instant as day and clock at a place."""
    if at is None:
        return Markup("")
    local = at.astimezone(ZoneInfo(zone))
    words = f"{day(local.date())}, {local:%H:%M}" + (" UTC" if zone == "UTC" else "")
    return Markup('<time datetime="{}">{}</time>').format(at.isoformat(), words)


def place(number: str) -> str:
    """The place of a unit on a page, as an address names it."""
    return "unit-" + "".join(sign if sign.isalnum() else "-" for sign in number)


def browser(label: str) -> str:
    """What a browser calls itself (User-Agent, RFC 9110 10.1.5), without what all of them say."""
    products = _PRODUCT.findall(label)
    own = [product for product in products if product[0] not in _OF_ALL] or products
    if not own:
        return label or "a browser that gives no name"
    name, version = own[-1]
    system = _SYSTEM.search(label)
    return f"{name} {version}" + (f" on {system[1]}" if system else "")


def paragraphs(text: str) -> Markup:
    """Text of several lines as lines."""
    return Markup("<br>").join(escape(line) for line in text.splitlines())


FILTERS: Final[Mapping[str, Callable[..., Any]]] = {
    "day": day,
    "month": month,
    "counted": counted,
    "county": county,
    "dollars": dollars,
    "joined": joined,
    "clock": clock,
    "state": state,
    "time": time_element,
    "instant": instant_element,
    "place": place,
    "first_on": dt.date.fromisoformat,
    "move": move_words,
    "paragraphs": paragraphs,
    "browser": browser,
}
