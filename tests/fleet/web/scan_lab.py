"""A chart of the small state that was printed, filled with invented ink, and scanned."""

from __future__ import annotations

import datetime as dt
import random
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from io import BytesIO

from PIL import Image, ImageDraw, ImageFilter

from fleet.charts.geometry import FORM_HEIGHT, FORM_WIDTH, origin
from fleet.charts.pdf import chart_pdf
from fleet.charts.places import Place, places_of_page
from fleet.domain.prints import Print
from fleet.domain.records import Role
from fleet.domain.scan_sheets import ScanSheet
from fleet.domain.scans import CellRead, Doubt, SheetRead, Verdict
from fleet.errors import BadInput, Fault
from fleet.services.charts.facts import PrintedChart
from fleet.services.charts.frozen import cells_of
from fleet.services.charts.printing import year_prints
from fleet.services.charts.prints import keep_prints
from fleet.services.charts.years import ChartQuestion
from fleet.services.ports import Stamp
from fleet.services.scan_ports import PageRead, PrintOf
from fleet.services.scans.keeping import keep
from tests.fleet.services.scans.scan_fleet import a_file
from tests.fleet.web.lab import PEOPLE, Lab

__all__ = ["APRIL", "FakeReader", "flat_page", "print_chart", "put_scan", "scanned", "slot"]

APRIL = dt.datetime(2026, 4, 1, 12, 30, tzinfo=dt.UTC)
"""Wednesday 1 April 2026, half past seven in Chicago."""
SCALE, MARGIN = 8, 4.0
Ink = Mapping[tuple[int, int], Verdict]


@dataclass
class FakeReader:
    """Stands in for what reads files: answers by the name of the file."""

    pages: dict[str, list[SheetRead]] = field(default_factory=dict)
    read_names: list[str] = field(default_factory=list)

    def read(self, name: str, content: bytes, print_of: PrintOf) -> Iterable[PageRead]:
        self.read_names.append(name)
        if name not in self.pages:
            raise BadInput([Fault(name, None, None, "it cannot be opened", "scan it again")])
        return [PageRead(n, one) for n, one in enumerate(self.pages[name], 1)]


def slot(on: str) -> int:
    """The slot of a day of 2026, in a row of days."""
    return (dt.date.fromisoformat(on) - dt.date(2026, 1, 1)).days


def print_chart(lab: Lab, number: str = "A-1") -> PrintedChart:
    """Print the chart of a unit as the lab's clock stands, and keep the print."""
    with lab.program.store.begin(write=True) as record:
        asked = ChartQuestion(year=2026, now=lab.now[0], numbers=(number,))
        made = year_prints(record, asked, lab.program.chart_means()).printed
        keep_prints(record, made, Stamp(lab.now[0], "command:tester", "command"))
        record.commit()
    return made[0]


def scanned(
    print_: Print,
    page: int,
    verdict: Callable[[int, int], Verdict | Doubt],
    flat: bytes = b"",
) -> SheetRead:
    """A page as a reader would give it: what each open cell holds, or why a person must look."""
    cells = []
    for place in _open(print_, page):
        said = verdict(place.row, place.slot)
        if isinstance(said, Doubt):
            cells.append(CellRead(place.row, place.slot, Verdict.UNCERTAIN, 0.5, said))
        else:
            cells.append(CellRead(place.row, place.slot, said, 0.97))
    return SheetRead(number=print_.number, page=page, cells=tuple(cells), flat=flat)


def _open(print_: Print, page: int) -> list[Place]:
    signs = cells_of(print_)
    found = places_of_page(print_.geometry, print_.year, page)
    return [one for one in found if signs[one.row][one.slot] in ".,"]


def put_scan(lab: Lab, read: SheetRead, by: Role = Role.SITE_LEAD, name: str = "") -> ScanSheet:
    """Keep a page as the only one of a file."""
    sent = a_file(name or f"scan of page {read.page}.pdf", lab.program.draw_token().encode())
    stamp = Stamp(lab.now[0], f"account:{PEOPLE[by]}", "page")
    with lab.program.store.begin(write=True) as record:
        kept = keep(record, lab.program.draw_number, sent, [PageRead(1, read)], stamp)
        record.commit()
    return kept.sheets[0]


def flat_page(made: PrintedChart, page: int, verdict: Callable[[int, int], object]) -> bytes:
    """A printed page with invented ink in it, laid flat: a grey JPEG."""
    import pypdfium2

    pdf = pypdfium2.PdfDocument(chart_pdf([made], "letter", APRIL))
    whole = pdf[page - 1].render(scale=SCALE * 25.4 / 72, grayscale=True).to_pil()
    pdf.close()
    left, top = (edge - MARGIN for edge in origin("letter"))
    sizes = [FORM_WIDTH + 2 * MARGIN, FORM_HEIGHT + 2 * MARGIN]
    box = [left, top, left + sizes[0], top + sizes[1]]
    flat = whole.convert("L").crop(tuple(round(SCALE * edge) for edge in box))
    _fill(flat, made.print, page, verdict)
    out = BytesIO()
    flat.filter(ImageFilter.GaussianBlur(0.8)).save(out, "JPEG", quality=70)
    return out.getvalue()


def _fill(
    flat: Image.Image, print_: Print, page: int, verdict: Callable[[int, int], object]
) -> None:
    pen, chance = ImageDraw.Draw(flat), random.Random(7)
    for place in _open(print_, page):
        said = verdict(place.row, place.slot)
        if said is Verdict.BLANK:
            continue
        ink = 190 if isinstance(said, Doubt) else chance.randrange(40, 90)
        x, y = (place.x + MARGIN) * SCALE, (place.y + MARGIN) * SCALE
        w, h = place.w * SCALE, place.h * SCALE
        points = [(0.25, 0.55), (0.42, 0.8), (0.8, 0.2)]
        line = [
            (x + w * a + chance.uniform(-3, 3), y + h * b + chance.uniform(-3, 3))
            for a, b in points
        ]
        pen.line(line, fill=ink, width=2 if isinstance(said, Doubt) else 4, joint="curve")
