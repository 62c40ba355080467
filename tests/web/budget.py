"""What does a first visit to a page cost, over a slow line and on a slow machine?"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from tests.web.chromium import page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser

__all__ = ["Cold", "cold"]

# "Slow 3G": 400 kbit/s each way and 400 ms to an answer, on a processor that is six times slower.
_BYTES_A_SECOND: Final = 400_000 / 8
_LATENCY_MS: Final = 400
_SLOWER: Final = 6
_FIRST_PAINT: Final = """() => new Promise(told => {
  new PerformanceObserver(list => {
    const paint = list.getEntriesByName('first-contentful-paint')[0];
    if (paint) told(paint.startTime);
  }).observe({type: 'paint', buffered: true});
})"""


@dataclass(frozen=True)
class Cold:
    """What a first visit took; bytes as they go over the line, headers included."""

    requests: int
    bytes_received: int
    first_paint_ms: float


def cold(
    page_url: str, browser: Browser, *, cookies: Mapping[str, str] | None = None, width: int = 360
) -> Cold:
    """Measure a first visit until the page has loaded; width in CSS pixels.

    Bytes and requests are the same at every run; the time varies with what else the machine does.
    """
    asked: list[dict[str, Any]] = []
    received: list[dict[str, Any]] = []
    with page_of(browser, width, 700, cookies=cookies) as page:
        line = page.context.new_cdp_session(page)
        line.on("Network.requestWillBeSent", lambda event: asked.append(event))
        line.on("Network.loadingFinished", lambda event: received.append(event))
        line.send("Network.enable")
        line.send(
            "Network.emulateNetworkConditions",
            {
                "offline": False,
                "latency": _LATENCY_MS,
                "downloadThroughput": _BYTES_A_SECOND,
                "uploadThroughput": _BYTES_A_SECOND,
            },
        )
        line.send("Emulation.setCPUThrottlingRate", {"rate": _SLOWER})
        page.goto(page_url, wait_until="networkidle")
        first_paint_ms: float = page.evaluate(_FIRST_PAINT)
    counted = [event for event in asked if _is_of_the_page(event)]
    names = {event["requestId"] for event in counted}
    answers = [event["redirectResponse"] for event in counted if "redirectResponse" in event]
    answers += [event for event in received if event["requestId"] in names]
    return Cold(
        requests=len(counted),
        bytes_received=sum(int(answer["encodedDataLength"]) for answer in answers),
        first_paint_ms=first_paint_ms,
    )


def _is_of_the_page(event: dict[str, Any]) -> bool:
    """The tab's icon ("Other") is fetched after the page was shown, when it pleases the browser."""
    return event["type"] != "Other" and not event["request"]["url"].startswith("data:")
