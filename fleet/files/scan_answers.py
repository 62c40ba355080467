"""What did a person say of the cells of scanned charts, in a CSV as `read --format csv` gives?"""

from __future__ import annotations

import csv
import datetime as dt
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from fleet.domain.scans import Verdict
from fleet.errors import BadInput, Fault
from fleet.services.scans.accuracy import CellName

__all__ = ["scan_answers"]

_NEEDED: Final = ("unit", "task", "date", "verdict")
_WORDS: Final = {"blank": Verdict.BLANK, "marked": Verdict.MARKED}
_MOST_FAULTS: Final = 20


def scan_answers(path: Path) -> dict[CellName, Verdict]:
    """The answers by cell: columns unit, task, turn (1 where there is none), date, verdict.

    Rows without a task (pages that were not read) and those left uncertain are passed over; other
    columns are not looked at. Raises BadInput naming rows and columns.
    """
    if not path.is_file():
        raise _refused(path, None, None, "there is no such file", "check the path")
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise _refused(path, None, None, "the text is not UTF-8", "save it as CSV UTF-8") from None
    reader = csv.DictReader(text.splitlines())
    missing = [name for name in _NEEDED if name not in (reader.fieldnames or ())]
    if missing:
        mend = "begin with what dueward read --format csv gives"
        raise _refused(path, 1, None, f"there is no column {missing[0]}", mend)
    found, faults = dict[CellName, Verdict](), list[Fault]()
    for number, row in enumerate(reader, 2):
        if not (row["task"] or "").strip() or row["verdict"] == Verdict.UNCERTAIN:
            continue
        wrong = list(_faults(path, number, row))
        faults += wrong
        if not wrong:
            name = (
                row["unit"] or "",
                row["task"] or "",
                int(row.get("turn") or 1),
                row["date"] or "",
            )
            found[name] = _WORDS[(row["verdict"] or "").strip()]
    if faults:
        raise BadInput(faults[:_MOST_FAULTS], len(faults))
    return found


def _faults(path: Path, number: int, row: dict[str, str | None]) -> Iterator[Fault]:
    said, on, turn = (row["verdict"] or "").strip(), row["date"] or "", row.get("turn") or "1"
    if said not in _WORDS:
        mend = "write blank or marked as the paper shows, or leave it uncertain"
        yield Fault(path.name, number, "verdict", f"'{said}' is no answer", mend)
    try:
        dt.date.fromisoformat(on)
    except ValueError:
        yield Fault(path.name, number, "date", f"'{on}' is not a date", "write it as YYYY-MM-DD")
    if not turn.isdecimal():
        yield Fault(path.name, number, "turn", f"'{turn}' is no number", "leave it as it was")


def _refused(path: Path, row: int | None, column: str | None, problem: str, mend: str) -> BadInput:
    return BadInput([Fault(path.name, row, column, problem, mend)])
