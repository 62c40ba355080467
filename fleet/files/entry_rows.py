"""Which entries do the rows of an `entries` file make, and under which keys?

An empty key becomes property_number/task/on/n, n the n-th row of that triple in the file. Rows
that cannot be used are not counted: with one of them nothing is loaded.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from fleet.domain.records import Entry, Mark
from fleet.files.frames import CellProblem, Chunk
from fleet.files.tables import ENTRIES
from fleet.files.values import Values, chunk_values
from fleet.services.load_ports import EntryRows, Faults

__all__ = ["EntryFile"]


class EntryFile:
    """One entries file being read; it remembers how often each triple has come."""

    def __init__(self, label: str, faults: Faults) -> None:
        self._label, self._faults = label, faults
        self._times: dict[tuple[str, str], dict[dt.date, int]] = {}

    def rows(self, chunk: Chunk) -> EntryRows:
        """Read the next chunk; what cannot be used goes to the faults."""
        values = chunk_values(chunk, ENTRIES)
        entries = self._entries(values)
        wrong = list(_row_problems(values.numbers, entries))
        for problem in sorted([*values.problems, *wrong], key=lambda problem: problem.row):
            self._faults.add(
                self._label, problem.row, problem.column, problem.problem, problem.mend
            )
        if not wrong:
            return EntryRows(self._label, values.numbers, entries)
        bad = {problem.row for problem in wrong}
        kept = [at for at, number in enumerate(values.numbers) if number not in bad]
        return EntryRows(
            self._label, [values.numbers[at] for at in kept], [entries[at] for at in kept]
        )

    def _entries(self, values: Values) -> list[Entry]:
        columns = [values.columns[column.name] for column in ENTRIES.columns]
        return [self._entry(*row) for row in zip(*columns, strict=True)]

    def _entry(
        self,
        number: str,
        task: str,
        on: dt.date,
        to_on: dt.date | None,
        mark: Mark | None,
        initials: str,
        note: str,
        reading: str,
        recorded_at: dt.datetime | None,
        key: str,
        strikes: str,
        why: str,
    ) -> Entry:
        """Make an entry; the arguments are in the order of the table's columns."""
        return Entry(
            key=key or self._key(number, task, on),
            property_number=number,
            task=task,
            on=on,
            to_on=to_on,
            mark=mark,
            initials=initials,
            note=note,
            reading=reading,
            recorded_at=recorded_at,
            strikes=strikes,
            why=why,
        )

    def _key(self, number: str, task: str, on: dt.date) -> str:
        times = self._times.setdefault((number, task), {})
        times[on] = n = times.get(on, 0) + 1
        return f"{number}/{task}/{on}/{n}"


def _row_problems(numbers: list[int], entries: list[Entry]) -> Iterator[CellProblem]:
    """What is wrong between the cells of one row."""
    for number, entry in zip(numbers, entries, strict=True):
        if entry.to_on is not None and entry.to_on < entry.on:
            problem = f"{entry.to_on} is before on {entry.on}"
            yield CellProblem(number, "to", problem, "check both dates; both are included")
        if entry.strikes:
            if not entry.why:
                problem = "the row strikes an entry and does not say why"
                yield CellProblem(number, "why", problem, "write the reason")
        elif entry.mark is None:
            problem = "the row has neither a mark nor a key to strike"
            yield CellProblem(number, "mark", problem, "write done, unused, filled or explained")
