"""What do the filled chart pages in a picture say, cell by cell, and can each page be trusted?

A page passes gates before any cell of it is judged: its codes agree with each other and with its
tags, the print is known, and the picture lies on the print's lines everywhere. What does not pass
goes to a person, with the reason in words.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import cv2

from fleet.charts.codes import Code
from fleet.charts.geometry import LAYOUT
from fleet.charts.places import Place
from fleet.charts.reading.arrays import Grey, Points
from fleet.charts.reading.coded import codes_anywhere, codes_on
from fleet.charts.reading.figures import WINDOW_SCALE, seen
from fleet.charts.reading.fitting import SCALES, far_off, laid_on
from fleet.charts.reading.flat import Fit, flat_picture, starts_of
from fleet.charts.reading.found import FoundPage, found_pages
from fleet.charts.reading.ink import SCALE, ink_of, lost_strokes
from fleet.charts.reading.judges import judges
from fleet.charts.reading.lines import STRUCK, drawn_page, page_places
from fleet.charts.reading.verdicts import Trust, verdicts
from fleet.domain.prints import Print
from fleet.domain.scans import SheetRead, Verdict
from fleet.services.charts.facts import OPEN, OVER
from fleet.services.charts.frozen import cells_of

__all__ = ["open_places", "read_pages"]

_LEAST_SHARE, _MOST_OFF = 0.6, 0.3
"""Of the pieces of a page so many must lie on its lines; of the large ones so many may lie off."""
_FEWEST_PIECES = 25
_MANY_DOUBTS, _TOO_MANY = 0.1, 0.5
_QUALITY = 60
NO_CHART = "no chart of ours was found: all of the page with its four corner squares must be in it"
NO_CORNERS = (
    "this is chart {number}, page {page}, but its corner squares cannot be seen: scan it again"
    " with all of the page in view, or take the photo from above"
)
NO_CODE = (
    "the square codes at the top cannot be read: uncover them, or scan the page again at 200 dpi"
)
CODES_DIFFER = "the two codes at the top do not say the same: scan the page again, by itself"
OTHER_PAGE = "the codes say page {code}, the corners page {corners}: scan the page again, by itself"
UNKNOWN = "no chart with the number {number} was printed from this database"
NEWER = "the chart was printed by a newer version of the program (layout {layout})"
MISFIT = (
    "the printed lines are not where they should be, so no cell can be told from its neighbour:"
    " lay the page flat and scan it again"
)
TOO_PALE = "hardly a line of it can be seen: scan the page again at 200 dpi, darker"
DOUBTFUL = "more than half of its cells cannot be told: scan the page again at 200 dpi"
MANY = "one cell in ten or more cannot be told: a better scan would spare you the looking"
PALE = (
    "pale strokes of the copy test are gone, so pale marks may be gone too: ask for a better copy"
)


def read_pages(picture: Grey, print_of: Callable[[str], Print | None]) -> list[SheetRead]:
    """Read every chart page in a picture, from top to bottom; one that says why if there is none.

    picture: uint8, height x width, 255 white, at 100 to 300 dots an inch or so. print_of: the print
    of a number, None where there is none.
    """
    found = found_pages(picture)
    if not found:
        return [_without_corners(picture)]
    return [_read(picture, one, print_of) for one in found]


def open_places(print_: Print, page: int) -> list[Place]:
    """The cells of a page that were printed empty, without the boxes in its head.

    Those whose days were over already are among them: paper takes ink later too.
    """
    signs = cells_of(print_)
    return [
        one
        for one in page_places(print_, page)
        if one.month and signs[one.row][one.slot : one.slot + 1] in (OPEN, OVER)
    ]


def _closed(print_: Print, page: int) -> Iterator[tuple[int, int]]:
    """Rows and slots of cells that were crossed out in print."""
    signs = cells_of(print_)
    for one in page_places(print_, page):
        if one.month and signs[one.row][one.slot : one.slot + 1] in STRUCK:
            yield one.row, one.slot


def _without_corners(picture: Grey) -> SheetRead:
    codes = codes_anywhere(picture)
    if len(codes) != 1:
        return SheetRead(problem=NO_CHART)
    (code,) = codes
    told = NO_CORNERS.format(number=code.number, page=code.page)
    return SheetRead(number=code.number, page=code.page, problem=told)


def _read(picture: Grey, found: FoundPage, print_of: Callable[[str], Print | None]) -> SheetRead:
    codes, start = _codes(picture, found)
    if len(codes) != 1:
        problem = CODES_DIFFER if codes else NO_CODE
        return SheetRead(page=found.page, problem=problem, flat=_kept(picture, start))
    (code,) = codes
    print_ = print_of(code.number)
    problem = _gate(code, found.page, print_)
    if problem or print_ is None:
        named = code.number if print_ else ""
        return SheetRead(number=named, page=code.page, problem=problem, flat=_kept(picture, start))
    return _judged(picture, found, print_)


def _codes(picture: Grey, found: FoundPage) -> tuple[set[Code], Points]:
    """The codes, by the first way of laying the page flat that shows any."""
    starts = starts_of(found)
    for start in starts:
        if codes := codes_on(picture, start):
            return codes, start
    return set(), starts[0]


def _gate(code: Code, page: int, print_: Print | None) -> str:
    if code.page != page:
        return OTHER_PAGE.format(code=code.page, corners=page)
    if code.layout != LAYOUT:
        return NEWER.format(layout=code.layout)
    if print_ is None or page > print_.pages:
        return UNKNOWN.format(number=code.number)
    return ""


def _judged(picture: Grey, found: FoundPage, print_: Print) -> SheetRead:
    page = found.page
    drawn = drawn_page(print_, page, (*SCALES, WINDOW_SCALE))
    fit = laid_on(picture, found, drawn)
    flat = flat_picture(picture, fit.start, SCALE, fit.shifts)
    closed = tuple(_closed(print_, page))
    told = SheetRead(number=print_.number, page=page, closed=closed, flat=_jpeg(flat))
    off, share_off = far_off(picture, fit, drawn[2.0])
    problem = _misfit(fit, share_off)
    if problem:
        return replace(told, problem=problem)
    cells = open_places(print_, page)
    if not cells:
        return told
    ink = ink_of(flat, found.corners)
    measured = seen(ink, drawn[WINDOW_SCALE], cells)
    read = verdicts(measured, judges(), cells, Trust(fit, off, picture.shape))
    doubts = sum(one.verdict is Verdict.UNCERTAIN for one in read) / len(read)
    if doubts > _TOO_MANY and len(read) > _FEWEST_PIECES:
        return replace(told, problem=DOUBTFUL)
    warnings = [MANY] if doubts > _MANY_DOUBTS and len(read) > _FEWEST_PIECES else []
    if lost_strokes(ink):
        warnings.append(PALE)
    return replace(told, cells=tuple(read), warnings=tuple(warnings))


def _misfit(fit: Fit, share_off: float) -> str:
    """Why the picture does not lie on the print's lines; '' where it does.

    share_off: of the large pieces, those that lie a row or a day off.
    """
    if fit.tried < _FEWEST_PIECES or len(fit.seen) < _FEWEST_PIECES:
        return TOO_PALE
    return MISFIT if fit.share < _LEAST_SHARE or share_off > _MOST_OFF else ""


def _kept(picture: Grey, start: Points) -> bytes:
    return _jpeg(flat_picture(picture, start, SCALE))


def _jpeg(flat: Grey) -> bytes:
    done, content = cv2.imencode(".jpg", flat, [cv2.IMWRITE_JPEG_QUALITY, _QUALITY])
    return content.tobytes() if done else b""
