"""How long does a full room of twelve units take somebody who knows the page?

python -m tests.studies.bench_room opens the bench's page in Chromium and touches what is open, unit
by unit from the top, with TOUCH seconds between touches and SWIPE for each screen that is passed
(both common practice, no source; no person was timed). Told are the seconds from asking for the
page to all twelve marks on the server, and how many of them were pauses.
"""

from __future__ import annotations

import datetime as dt
import tempfile
import time
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from fleet.services.load import load
from tests.fakes import NoProgress
from tests.fleet.web.lab import Lab, make_lab
from tests.fleet.web.served_lab import cookies_of, served_lab, stop_clock
from tests.web.chromium import browser, page_of

if TYPE_CHECKING:
    from playwright.sync_api import Browser as Chromium
    from playwright.sync_api import Page

UNITS = 12
TOUCH, SWIPE = 0.5, 0.5
BUTTON = "form[data-mark]:visible button.mark:enabled"
WAYS = (
    ("phone, 360 x 740", 360, 740, True),
    ("desk, 1280 x 900", 1280, 900, True),
    ("phone, without script", 360, 740, False),
)


def main() -> None:
    """Print a row a way to mark the room."""
    print("| where | touches | screens passed | pauses s | all in all s |")
    print("|---|---|---|---|---|")
    with browser() as chromium:
        for name, width, height, script in WAYS:
            told = room(chromium, width, height, script=script)
            print(f"| {name} | {told} |", flush=True)


def room(chromium: Chromium, width: int, height: int, *, script: bool) -> str:
    """Mark one room; touches, screens passed, seconds of pauses and in all."""
    with tempfile.TemporaryDirectory() as folder:
        lab = make_lab(Path(folder))
        with closing(lab.program), served_lab(lab) as address:
            add_units(lab, Path(folder))
            cookies = cookies_of(lab.at_bench())
            with page_of(chromium, width, height, script=script, cookies=cookies) as page:
                if script:
                    stop_clock(page, lab)
                begun = time.perf_counter()
                page.goto(f"{address}/bench/alder")
                touches, screens = walk(page)
                while count_marks(lab) < UNITS:
                    time.sleep(0.02)
                seconds = time.perf_counter() - begun
    pauses = touches * TOUCH + screens * SWIPE
    return f"{touches} | {screens} | {pauses:.1f} | {seconds:.1f}"


def add_units(lab: Lab, folder: Path) -> None:
    """Bring the room to twelve microscopes; its refrigerator is left alone."""
    more = folder / "more"
    more.mkdir()
    rows = [
        f"R-{n:02},microscope,Exemplar,M1,{n},alder,2025-01-06,{lab.now[0]:%Y-%m-%d}"
        for n in range(UNITS - 2)
    ]
    header = "property_number,kind,manufacturer,model,serial,site,in_service_on,record_from"
    (more / "units.csv").write_text("\n".join([header, *rows, ""]), encoding="utf-8")
    with closing(lab.program.at(lab.program.settings.database)) as maker:
        reader, stamp = maker.reader([more]), maker.stamp("file")
        load(
            maker.store,
            reader,
            maker.public_holidays,
            maker.rebuild,
            stamp=stamp,
            progress=NoProgress(),
        )


def walk(page: Page) -> tuple[int, int]:
    """Touch every open cell of a microscope; how many touches, and how many screens were passed."""
    touches = screens = 0
    numbers = page.locator("[data-unit]").evaluate_all("all => all.map(one => one.dataset.unit)")
    for number in numbers:
        if number == "A-3":
            continue
        button = page.locator(f'[data-unit="{number}"] {BUTTON}').first
        if not is_in_sight(button.bounding_box(), page):
            button.evaluate("one => one.scrollIntoView({block: 'start'})")
            screens += 1
            time.sleep(SWIPE)
        button.click()
        touches += 1
        time.sleep(TOUCH)
    return touches, screens


def is_in_sight(box: object, page: Page) -> bool:
    """Whether the whole of a button can be touched where the page stands now."""
    size = page.viewport_size
    assert isinstance(box, dict)
    assert size is not None
    return bool(box["y"] >= 0 and box["y"] + box["height"] <= size["height"])


def count_marks(lab: Lab) -> int:
    """How many units of the room have a mark of the bench today."""
    today = dt.date(2026, 3, 3)
    with lab.program.store.begin() as record:
        ids = record.unit_ids()
        return sum(
            any(s.source == "bench" and s.entry.on == today for s in record.entries([unit_id]))
            for unit_id in ids.values()
        )


if __name__ == "__main__":
    main()
