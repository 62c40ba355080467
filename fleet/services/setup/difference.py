"""What would some files change, record by record, before they are loaded?

The counts, faults and remarks are those of `load` itself, which is run and keeps nothing; beside
them stands what each record holds before and after. Kept as JSON, so that a page shows it later.
"""

from __future__ import annotations

import dataclasses
import datetime as dt
import json
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Final

from fleet.errors import BadInput, Fault
from fleet.services.columns import book_of
from fleet.services.load import load
from fleet.services.load_merge import merge, register_changes
from fleet.services.load_ports import Faults, FilesReader, Progress, TableCount
from fleet.services.ports import PublicHolidays, Record, Stamp, Store
from fleet.services.setup.book_changes import book_changes
from fleet.services.setup.record_changes import FieldChange, RecordChange, Sort, told_change
from schedules.rulebook import read_book

__all__ = ["MOST_CHANGES", "MOST_FAULTS", "Difference", "difference_of"]

MOST_CHANGES: Final = 100
"""So many changes of a table are told one by one; all are counted."""
MOST_FAULTS: Final = 200


@dataclass(frozen=True, slots=True)
class Difference:
    """What some files would do; with a single fault, nothing."""

    register_version: str
    """Under which the files were compared: under another one the comparison is an old one."""
    counts: Mapping[str, TableCount] = field(default_factory=dict)
    """By table, in the order of a load; 'rules' counts the book as one."""
    changes: Sequence[RecordChange] = ()
    """At most `MOST_CHANGES` a table, what is changed or gone before what is new."""
    backdated: int = 0
    """How many of all changes the audit would report as backdated."""
    remarks: Sequence[str] = ()
    faults: Sequence[Fault] = ()
    """At most `MOST_FAULTS`."""
    fault_total: int = 0

    @property
    def is_empty(self) -> bool:
        """Say whether loading would change nothing."""
        return not any(count.new or count.changed for count in self.counts.values())

    def to_json(self) -> bytes:
        """The whole as JSON in UTF-8."""
        return json.dumps(dataclasses.asdict(self), default=str, ensure_ascii=False).encode()

    @classmethod
    def from_json(cls, content: bytes) -> Difference:
        """What `to_json` made."""
        told: dict[str, Any] = json.loads(content)
        return cls(
            register_version=told["register_version"],
            counts={name: TableCount(**count) for name, count in told["counts"].items()},
            changes=[_change(one) for one in told["changes"]],
            backdated=told["backdated"],
            remarks=told["remarks"],
            faults=[Fault(**fault) for fault in told["faults"]],
            fault_total=told["fault_total"],
        )


def _change(told: Mapping[str, Any]) -> RecordChange:
    on = told["backdated_on"]
    return RecordChange(
        table=told["table"],
        name=told["name"],
        sort=Sort(told["sort"]),
        fields=[FieldChange(**one) for one in told["fields"]],
        backdated_on=None if on is None else dt.date.fromisoformat(on),
    )


def difference_of(
    store: Store,
    files: Callable[[], FilesReader],
    public_holidays: PublicHolidays,
    rebuild: Callable[[Record, Sequence[int]], None],
    *,
    stamp: Stamp,
    progress: Progress,
) -> Difference:
    """What loading the files would change; nothing is kept, whatever it comes to.

    files: makes a new reader of the same files each time it is called.
    """
    with store.begin() as record:
        version = record.register_version()
    reader, holidays = files(), public_holidays
    try:
        report = load(
            store, reader, holidays, rebuild, stamp=stamp, progress=progress, dry_run=True
        )
    except BadInput as error:
        faults = error.faults[:MOST_FAULTS]
        return Difference(version, faults=faults, fault_total=error.total)
    with store.begin() as record:
        changes = _changes(record, files(), stamp.at)
    return Difference(
        version,
        counts=report.tables,
        changes=list(_told(changes)),
        backdated=sum(change.backdated_on is not None for change in changes),
        remarks=report.remarks,
    )


def _changes(record: Record, files: FilesReader, now: dt.datetime) -> list[RecordChange]:
    """Every change of the book and the register, from files that have no fault."""
    register, faults = record.register(), Faults()
    merged = merge(register, files.register(faults), record.withdrawn, faults)
    found = [told_change(register, change, now) for change in register_changes(merged)]
    book = files.book(faults)
    of_book = [] if book is None else list(book_changes(book_of(register), read_book(book.text)))
    return [*of_book, *found]


def _told(changes: Sequence[RecordChange]) -> Iterator[RecordChange]:
    told: Counter[str] = Counter()
    for change in sorted(changes, key=lambda one: one.sort is Sort.NEW):
        told[change.table] += 1
        if told[change.table] <= MOST_CHANGES:
            yield change
