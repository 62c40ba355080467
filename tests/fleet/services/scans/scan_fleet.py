"""Two sites, a microscope at one, its printed chart, and pages of it that came back as scans."""

from __future__ import annotations

import datetime as dt
import hashlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import closing
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path

from fleet.charts.layout import ChartLayout
from fleet.charts.places import places_of_head, places_of_page
from fleet.domain.evidence import Attachment
from fleet.domain.prints import Print
from fleet.domain.records import StoredEntry
from fleet.domain.scan_sheets import Answer, ScanSheet, Scope
from fleet.domain.scans import CellRead, Doubt, SheetRead, Verdict
from fleet.services.charts.frozen import cells_of
from fleet.services.charts.printing import Means, year_prints
from fleet.services.charts.prints import keep_prints
from fleet.services.charts.years import ChartQuestion
from fleet.services.load import load
from fleet.services.ports import AttachedFile, Stamp, Store
from fleet.services.scan_ports import PageRead
from fleet.services.scans.accepting import Accepted, accept, effect
from fleet.services.scans.answering import answer
from fleet.services.scans.keeping import keep
from fleet.services.scans.proposals import Proposals, Question, proposals
from fleet.wiring import Program, Settings
from tests.fakes import NoProgress

__all__ = [
    "FILES", "JANUARY", "LEAD", "MAY", "OPTICS", "SCOPE", "STAND", "TIGHTEN", "ScanFleet", "a_file",
    "made_fleet", "printed", "read_page",
]  # fmt: skip

JANUARY = dt.datetime(2026, 1, 5, 15, tzinfo=dt.UTC)
"""Monday, nine in the morning in Chicago: the chart of 2026 is printed."""
MAY = dt.datetime(2026, 5, 4, 15, tzinfo=dt.UTC)
"""A Monday, too: its first pages are back."""
LEAD = Stamp(MAY, "account:lead@alder.example", "page")
SCOPE = Scope(frozenset({"alder"}), LEAD.by)
OPTICS, STAND, TIGHTEN = 0, 1, 2
"""The rows of the chart; then come initials and the boxes of the head."""

FILES = {
    "sites.csv": """\
site,name,county,region,country,subdivision,time_zone,open_days
alder,Alder Laboratory,Adams,North,US,NE,America/Chicago,Mon Tue Wed Thu Fri
birch,Birch Hill Laboratory,Boone,South,US,NE,America/Chicago,Mon Tue Wed Thu Fri
""",
    "units.csv": """\
property_number,kind,manufacturer,model,serial,site,in_service_on
A-1,microscope,Exemplar,M1,100,alder,2025-01-06
""",
    "rules.toml": """\
[kind.microscope]
name = "Bench microscope"

[[kind.microscope.rule]]
task = "optics"
title = "Clean the optical surfaces"
each = "open-day"
source = "common practice, no source"

[[kind.microscope.rule]]
task = "stand"
title = "Check the stand"
each = "week"
source = "common practice, no source"

[[kind.microscope.rule]]
task = "tighten"
title = "Tighten the stage"
every = "P14D"
source = "common practice, no source"

[[kind.microscope.rule]]
task = "annual-service"
title = "Service by the vendor"
every = "P1Y"
vendor = true
source = "common practice, no source"
""",
}


@dataclass
class ScanFleet:
    """The fleet behind a program whose clock can be set."""

    program: Program
    now: list[dt.datetime] = field(default_factory=lambda: [JANUARY])
    turns: Iterator[int] = field(default_factory=lambda: count(1))

    @property
    def store(self) -> Store:
        return self.program.store

    def load(self, **files: str) -> None:
        """Load files, by their names without an ending."""
        load_files(self.program, {f"{name}.csv": text for name, text in files.items()})

    def scan(self, read: SheetRead, name: str = "") -> ScanSheet:
        """Keep a page as the only one of a file of its own."""
        sent = a_file(name or f"scan-{next(self.turns)}.pdf")
        with self.store.begin(write=True) as record:
            kept = keep(record, self.program.draw_number, sent, [PageRead(1, read)], self.stamp())
            record.commit()
        (sheet,) = kept.sheets
        return sheet

    def stamp(self) -> Stamp:
        return Stamp(self.now[0], LEAD.by, LEAD.source)

    def proposals(self, sheet: ScanSheet) -> Proposals:
        with self.store.begin() as record:
            return proposals(record, self.program.public_holidays, sheet, self.now[0])

    def answer(
        self, sheet: ScanSheet, question: Question, said: Answer, words: str = "", most: int = 99
    ) -> None:
        cells = [(question.row, slot) for slot in question.slots[:most]]
        with self.store.begin(write=True) as record:
            holidays = self.program.public_holidays
            answer(record, holidays, sheet, cells, said, words, self.stamp())
            record.commit()

    def accept(self, sheet: ScanSheet, seen: str = "") -> Accepted:
        """Accept what a look shows now, or what it showed when it had the digest `seen`."""
        with self.store.begin(write=True) as record:
            now = record.scans.sheet(sheet.number, SCOPE)
            assert now is not None
            if not seen:
                holidays = self.program.public_holidays
                seen = effect(now, proposals(record, holidays, now, self.now[0])).digest
            done = accept(
                record, self.program.public_holidays, now, seen, self.stamp(), initials="LA"
            )
            record.commit()
        return done

    def entries(self) -> list[StoredEntry]:
        with self.store.begin() as record:
            return list(record.entries())


def a_file(name: str, content: bytes = b"") -> AttachedFile:
    content = content or f"the content of {name}".encode()
    digest = hashlib.sha256(content).hexdigest()
    return AttachedFile(Attachment(digest, name, "application/pdf", len(content)), content)


def made_fleet(folder: Path) -> ScanFleet:
    """The fleet in a new database of SQLite; close its program."""
    now = [JANUARY]
    made = Program(
        settings=Settings(database=f"sqlite:///{folder / 'fleet.db'}"),
        clock=lambda: now[0],
        stopwatch=lambda: 0.0,
        user="tester",
    )
    load_files(made, FILES)
    return ScanFleet(made, now)


def load_files(program: Program, files: Mapping[str, str]) -> None:
    from tempfile import TemporaryDirectory

    maker = program.at(program.settings.database)
    with TemporaryDirectory() as folder, closing(maker), maker.filled() as store:
        for name, text in files.items():
            (Path(folder) / name).write_text(text, encoding="utf-8")
        load(
            store,
            maker.reader([Path(folder)]),
            maker.public_holidays,
            maker.rebuild,
            stamp=maker.stamp("file"),
            progress=NoProgress(),
        )


def printed(program: Program, now: dt.datetime, number: str = "A-1", year: int = 2026) -> Print:
    """Print the chart of a unit, as the program does, and keep the print."""
    means = Means(
        public_holidays=program.public_holidays,
        layout=ChartLayout(),
        number=program.draw_number,
        paper="letter",
        step=lambda _: None,
    )
    with program.store.begin(write=True) as record:
        asked = ChartQuestion(year=year, now=now, numbers=(number,))
        made = year_prints(record, asked, means).printed
        keep_prints(record, made, Stamp(now, "command:tester", "command"))
        record.commit()
    return made[0].print


def read_page(
    print_: Print,
    page: int = 1,
    empty: Callable[[int, int], bool] = lambda _row, _slot: False,
    doubt: Callable[[int, int], Doubt | None] = lambda _row, _slot: None,
    flat: bytes = b"",
) -> SheetRead:
    """A page of which all open cells are marked, but for those said to be empty or doubtful."""
    signs, cells = cells_of(print_), []
    for place in places_of_page(print_.geometry, print_.year, page):
        if signs[place.row][place.slot] not in ".,":
            continue
        why = doubt(place.row, place.slot)
        verdict = Verdict.BLANK if empty(place.row, place.slot) else Verdict.MARKED
        verdict = verdict if why is None else Verdict.UNCERTAIN
        cells.append(CellRead(place.row, place.slot, verdict, 0.9, why))
    for place in places_of_head(print_.geometry, print_.year, page):
        cells.append(CellRead(place.row, place.slot, Verdict.BLANK, 0.9))
    return SheetRead(number=print_.number, page=page, cells=tuple(cells), flat=flat)
