"""How does what was read of a page enter the record? Once, when a person accepts it.

The key of an entry is made of print, row and slot, so that no cell comes in twice, whichever copy
of the page is accepted. What paper shows comes through the door 'paper': nobody judges there
whether it was marked in time (design 4.7). A reason that a person gives now is their own entry.
"""

from __future__ import annotations

import hashlib
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from fleet.domain.evidence import Attachment
from fleet.domain.records import Entry, Mark
from fleet.domain.scan_sheets import Answer, ScanFile, ScanSheet, SheetState
from fleet.errors import BadInput, Fault
from fleet.services.mark import mark_all
from fleet.services.ports import PublicHolidays, Record, Stamp
from fleet.services.scans.proposals import Asked, Proposals, proposals
from fleet.services.scans.today import key_of

__all__ = ["Accepted", "Effect", "accept", "effect"]

_PAPER = "paper"
_MARK = {
    Answer.FILLED: Mark.FILLED,
    Answer.DONE: Mark.DONE,
    Answer.UNUSED: Mark.UNUSED,
    Answer.EXPLAINED: Mark.EXPLAINED,
}


@dataclass(frozen=True, slots=True)
class Effect:
    """What accepting a page would write, and what would be left to answer."""

    marks: Sequence[tuple[Mark, int]]
    """How many entries of each sort."""
    open: int
    """Questions that stay."""
    digest: str
    """A word for exactly these entries: what is accepted is what was seen."""

    @property
    def total(self) -> int:
        """How many entries."""
        return sum(count for _, count in self.marks)


@dataclass(frozen=True, slots=True)
class Accepted:
    """What was written, and how the page stands now."""

    entries: int
    sheet: ScanSheet


def effect(sheet: ScanSheet, found: Proposals) -> Effect:
    """What accepting a page would do now."""
    planned = list(_planned(found))
    counts = Counter(mark for _, mark in planned)
    lines = [f"{key_of(sheet, c.read.row, c.read.slot)} {m} {c.read.words}" for c, m in planned]
    digest = hashlib.sha256("\n".join(lines).encode()).hexdigest()[:32]
    marks = [(mark, counts[mark]) for mark in Mark if counts[mark]]
    return Effect(marks, len(found.open), digest)


def _planned(found: Proposals) -> Iterator[tuple[Asked, Mark]]:
    for cell in found.proposed:
        yield cell, Mark.FILLED
    for question in found.questions:
        for cell in question.cells:
            if cell.read.answer in _MARK:
                yield cell, _MARK[cell.read.answer]


def accept(
    record: Record,
    public_holidays: PublicHolidays,
    sheet: ScanSheet,
    seen: str,
    stamp: Stamp,
    *,
    initials: str = "",
) -> Accepted:
    """Write the entries of what was read and answered; the caller commits.

    seen: the digest of the effect that was looked at. initials: of who accepts, for reasons they
    gave. A page without an open question is settled; else it waits with what is left. BadInput
    where it does not wait, or would write something else by now.
    """
    if sheet.state is not SheetState.WAITING or sheet.problem:
        raise _refused(f"this page is {sheet.state}: nothing can be accepted from it")
    found = proposals(record, public_holidays, sheet, stamp.at)
    told = effect(sheet, found)
    if told.digest != seen:
        raise _refused("the record has changed since this page was looked at")
    file = record.scans.file(sheet.file)
    if file is None:
        raise _refused("its file is not there any more")
    entries = [_entry(sheet, file, found, cell, mark) for cell, mark in _planned(found)]
    paper = [entry for entry in entries if entry.mark is not Mark.EXPLAINED]
    own = [replace(one, initials=initials) for one in entries if one.mark is Mark.EXPLAINED]
    written = mark_all(record, public_holidays, paper, replace(stamp, source=_PAPER))
    written += mark_all(record, public_holidays, own, stamp)
    if written:
        _attach(record, file, stamp)
    return Accepted(written, _settled(record, sheet, written, told, stamp))


def _entry(sheet: ScanSheet, file: ScanFile, found: Proposals, cell: Asked, mark: Mark) -> Entry:
    where = f"print {sheet.print}, page {sheet.page}, scan {file.sha256[:16]}"
    words = cell.read.words if mark is Mark.EXPLAINED else ""
    return Entry(
        key=key_of(sheet, cell.read.row, cell.read.slot),
        property_number=found.today.unit.property_number,
        task=cell.row.task,
        on=cell.today.on,
        mark=mark,
        note=f"{words} ({where})" if words else f"read from paper: {where}",
    )


def _attach(record: Record, file: ScanFile, stamp: Stamp) -> None:
    """Keep the file with the record; what is attached already stays as it is."""
    content = record.scans.content(file.sha256)
    if content is None:
        return
    record.attach(Attachment(file.sha256, file.name, file.media_type, file.size), content, stamp)
    record.scans.drop_content(file.sha256)


def _settled(
    record: Record, sheet: ScanSheet, written: int, told: Effect, stamp: Stamp
) -> ScanSheet:
    after = replace(sheet, accepted=sheet.accepted + written)
    if not told.open:
        after = replace(after, state=SheetState.SETTLED, settled_by=stamp.by, settled_at=stamp.at)
        record.scans.drop_flat(sheet.number)
    record.scans.put_sheet(after)
    return after


def _refused(problem: str) -> BadInput:
    return BadInput([Fault("scan", None, "form", problem, "load it again and look once more")])
