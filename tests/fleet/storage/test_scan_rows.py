"""Do scanned pages come back as they were kept, on both databases, and only within a scope?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace

from fleet.domain.scan_sheets import Answer, ScanCell, ScanFile, ScanSheet, Scope, SheetState
from fleet.domain.scans import Doubt, Verdict
from fleet.storage import SqlStore

AT = dt.datetime(2026, 5, 4, 15, tzinfo=dt.UTC)
FILE = ScanFile(
    sha256="a" * 64, name="ä.pdf", media_type="application/pdf", size=3, by="account:a", sent_at=AT
)
SHEET = ScanSheet(
    number="AAAA", file=FILE.sha256, place=2, print="PRINT001", page=1, site="alder",
    warnings=("the right edge is cut", "2 of 4 corners"),
)  # fmt: skip
CELLS = [
    ScanCell(row=0, slot=3, verdict=Verdict.MARKED, confidence=0.98),
    ScanCell(row=0, slot=4, verdict=Verdict.UNCERTAIN, confidence=0.5, doubt=Doubt.RUN),
    ScanCell(row=1, slot=0, verdict=Verdict.BLANK, confidence=1.0),
]
ALL = Scope({"alder", "birch"}, "account:b")


def keep(store: SqlStore, *sheets: ScanSheet) -> None:
    with store.begin(write=True) as record:
        record.scans.add_file(FILE, b"pdf")
        for sheet in sheets:
            record.scans.add_sheet(sheet, CELLS, b"\xff\xd8flat")
        record.commit()


def test_a_page_comes_back_as_it_was_kept(store: SqlStore) -> None:
    keep(store, SHEET)
    with store.begin() as record:
        scans = record.scans
        assert scans.file(FILE.sha256) == FILE
        assert scans.file("b" * 64) is None
        assert scans.content(FILE.sha256) == b"pdf"
        assert scans.sheet("AAAA", ALL) == SHEET
        assert scans.cells("AAAA") == CELLS
        assert scans.flat("AAAA") == b"\xff\xd8flat"


def test_an_answer_and_a_state_are_kept_and_pictures_let_go(store: SqlStore) -> None:
    keep(store, SHEET)
    settled = replace(
        SHEET, state=SheetState.SETTLED, settled_by="account:b", settled_at=AT, accepted=7
    )
    with store.begin(write=True) as record:
        record.scans.put_answer("AAAA", [(0, 4)], Answer.EXPLAINED, "flood", "account:b", AT)
        record.scans.put_sheet(settled)
        record.scans.drop_flat("AAAA")
        record.scans.drop_content(FILE.sha256)
        record.commit()
    answered = replace(
        CELLS[1], answer=Answer.EXPLAINED, words="flood", answered_by="account:b", answered_at=AT
    )
    with store.begin() as record:
        assert record.scans.cells("AAAA") == [CELLS[0], answered, CELLS[2]]
        assert record.scans.sheet("AAAA", ALL) == settled
        assert (record.scans.flat("AAAA"), record.scans.content(FILE.sha256)) == (b"", None)


def test_nobody_sees_a_page_beyond_their_sites_nor_a_stranger_s_without_one(
    store: SqlStore,
) -> None:
    nowhere = replace(SHEET, number="BBBB", print="", page=0, site="", problem="too dark")
    keep(store, SHEET, nowhere)
    with store.begin() as record:
        scans = record.scans

        def seen(*sites: str, by: str = "account:b") -> list[str]:
            return [sheet.number for sheet in scans.sheets(Scope(sites, by))]

        assert seen("birch") == seen() == []
        assert scans.sheet("AAAA", Scope({"birch"}, "account:a")) is None
        assert seen("alder") == ["AAAA"]
        assert seen("birch", by="account:a") == ["BBBB"]
        assert scans.sheets(ALL, SheetState.SETTLED) == []
        assert [s.number for s in scans.sheets(ALL, file=FILE.sha256)] == ["AAAA"]


def test_copies_of_a_page_are_found_and_pages_without_a_print_have_none(store: SqlStore) -> None:
    copy, other = replace(SHEET, number="BBBB"), replace(SHEET, number="CCCC", page=2)
    nowhere = [replace(SHEET, number=number, print="", page=0) for number in ("DDDD", "EEEE")]
    keep(store, SHEET, copy, other, *nowhere)
    with store.begin() as record:
        assert record.scans.copies(SHEET) == [copy]
        assert record.scans.copies(other) == record.scans.copies(nowhere[0]) == []
