"""How is what was read of a file kept, and put aside?

A file that was sent before is not read twice. A page that was scanned again is kept as another
copy: both can be accepted, and what the record holds by then is not asked about.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from fleet.domain.prints import Print
from fleet.domain.scan_sheets import ScanCell, ScanFile, ScanSheet, SheetState
from fleet.domain.scans import CellRead, SheetRead
from fleet.errors import BadInput, Fault
from fleet.services.ports import AttachedFile, Record, Stamp
from fleet.services.scan_ports import PageRead, PrintOf

__all__ = ["Kept", "keep", "print_of", "set_aside", "take_up"]

_UNKNOWN = (
    "no chart was ever printed here under the number {number} in its codes; set the page aside"
)
_NOTHING = "no page of a chart was found in it; look whether it is the right file, and lies flat"


@dataclass(frozen=True, slots=True)
class Kept:
    """A file and its pages; is_new False: it was sent before, and nothing of it was read now."""

    file: ScanFile
    sheets: Sequence[ScanSheet]
    is_new: bool


def print_of(record: Record) -> PrintOf:
    """What finds the print of a number, for whoever reads pages."""
    prints = record.register().prints
    return lambda number: prints.get((number,))


def keep(
    record: Record,
    draw: Callable[[], str],
    sent: AttachedFile,
    pages: Sequence[PageRead],
    stamp: Stamp,
) -> Kept:
    """Keep a file and what was read of it; the caller commits.

    draw: gives a page a number that nobody can guess. A file in which nothing was found is kept as
    one page with that problem.
    """
    known = record.scans.file(sent.attachment.sha256)
    if known is not None:
        return Kept(known, (), is_new=False)
    about = sent.attachment
    file = ScanFile(
        sha256=about.sha256,
        name=about.name,
        media_type=about.media_type,
        size=about.size,
        by=stamp.by,
        sent_at=stamp.at,
    )
    record.scans.add_file(file, sent.content)
    found, sheets = print_of(record), []
    for page in pages or [PageRead(1, SheetRead(problem=_NOTHING))]:
        sheet = _sheet(draw(), file, page, found(page.read.number))
        cells = [] if sheet.problem else [_cell(one) for one in page.read.cells]
        record.scans.add_sheet(sheet, cells, page.read.flat)
        sheets.append(sheet)
    return Kept(file, sheets, is_new=True)


def _cell(one: CellRead) -> ScanCell:
    return ScanCell(
        row=one.row,
        slot=one.slot,
        verdict=one.verdict,
        confidence=one.confidence,
        doubt=one.doubt,
    )


def _sheet(number: str, file: ScanFile, page: PageRead, known: Print | None) -> ScanSheet:
    read = page.read
    problem = read.problem
    if known is None and not problem:
        problem = _UNKNOWN.format(number=read.number) if read.number else _NOTHING
    return ScanSheet(
        number=number,
        file=file.sha256,
        place=page.place,
        print=known.number if known else "",
        page=read.page if known else 0,
        site=known.site if known else "",
        problem=problem,
        warnings=read.warnings,
    )


def set_aside(record: Record, sheet: ScanSheet, stamp: Stamp) -> None:
    """Take nothing (more) from a page; the caller commits. BadInput where it does not wait."""
    if sheet.state is not SheetState.WAITING:
        raise _refused(sheet, "only a page that waits can be set aside")
    aside = replace(sheet, state=SheetState.ASIDE, settled_by=stamp.by, settled_at=stamp.at)
    record.scans.put_sheet(aside)


def take_up(record: Record, sheet: ScanSheet) -> None:
    """Let a page that was set aside wait again; the caller commits."""
    if sheet.state is not SheetState.ASIDE:
        raise _refused(sheet, "only a page that was set aside can be taken up again")
    record.scans.put_sheet(replace(sheet, state=SheetState.WAITING, settled_by="", settled_at=None))


def _refused(sheet: ScanSheet, problem: str) -> BadInput:
    return BadInput(
        [Fault("scan", None, None, f"{problem} (it is {sheet.state})", "load the page again")]
    )
