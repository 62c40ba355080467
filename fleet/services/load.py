"""How do files become the register and the record? All or nothing (design 7).

Everything is read and checked in one unit of work; with a single fault, or with `dry_run`, nothing
of it is kept. The same files loaded twice change nothing the second time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from fleet.domain.records import Closure, Holiday, Outage, Pattern, Placement, Site, Unit
from fleet.domain.register import Change
from fleet.services.load_book import GivenBook, given_book
from fleet.services.load_checks import check_register, register_remarks
from fleet.services.load_entries import EntryLoad
from fleet.services.load_lines import load_lines
from fleet.services.load_merge import Merged, counts, merge, register_changes
from fleet.services.load_ports import Faults, FilesReader, LoadReport, Progress
from fleet.services.ports import HolidayYear, PublicHolidays, Record, Stamp, Store

__all__ = ["HOLIDAY_YEARS_AFTER", "HOLIDAY_YEARS_BEFORE", "load"]

HOLIDAY_YEARS_BEFORE, HOLIDAY_YEARS_AFTER = 2, 15
"""The snapshot of holidays spans so many years before the first unit and after the load."""


def load(
    store: Store,
    files: FilesReader,
    public_holidays: PublicHolidays,
    rebuild: Callable[[Record, Sequence[int]], None],
    *,
    stamp: Stamp,
    progress: Progress,
    dry_run: bool = False,
) -> LoadReport:
    """Load the files into the store and say what that changed.

    `rebuild` brings up to date what the store keeps of the units whose ids it is given. Raises
    BadInput with every fault of the files, StoreError where the store cannot be written; either
    way, and with `dry_run`, nothing is kept.
    """
    if (lines := files.export()) is not None:
        return load_lines(store, lines, rebuild, progress=progress, dry_run=dry_run)
    faults = Faults()
    with store.begin(write=True) as record:
        merged = merge(record.register(), files.register(faults), record.withdrawn, faults)
        book = given_book(files.book(faults), merged.known, faults)
        check_register(merged, book.book, faults)
        is_writing = faults.total == 0
        changes = register_changes(merged)
        is_wide = is_writing and _write(record, merged, changes, book, public_holidays, stamp)
        entries = EntryLoad(record, merged, book.book, is_writing=is_writing, stamp=stamp)
        for rows in files.entries(faults):
            entries.take(rows, faults)
            progress.step(len(rows.numbers))
        faults.raise_if_any()
        opened = entries.readings.settle(record, public_holidays, stamp)
        if touched := _touched(record, changes, entries.touched, is_wide):
            rebuild(record, touched)
        if not dry_run:
            record.commit()
    tables = {**book.count, **counts(merged), **entries.count}
    remarks = (*files.remarks(), *register_remarks(merged), *entries.remarks, *opened)
    return LoadReport(tables, remarks, dry_run)


def _write(
    record: Record,
    merged: Merged,
    changes: Sequence[Change],
    book: GivenBook,
    public_holidays: PublicHolidays,
    stamp: Stamp,
) -> bool:
    """Write book, change lines and holidays; say whether that may move the days of every unit."""
    if book.is_new:
        is_initial = merged.is_first and merged.known.book is None
        record.add_book(book.text, book.sha256, is_initial, stamp)
    if changes:
        record.change(changes, stamp)
    years = list(_missing_years(record, merged, public_holidays, stamp.at.year))
    if years:
        record.add_holiday_years(years, stamp)
    return book.is_new or bool(years) or any(_moves_all(change) for change in changes)


def _moves_all(change: Change) -> bool:
    """Say whether a change is one of a calendar, which may be that of any unit."""
    return isinstance(change.record, Site | Pattern | Holiday | Closure)


def _missing_years(
    record: Record, merged: Merged, public_holidays: PublicHolidays, this_year: int
) -> Iterator[HolidayYear]:
    """The years of the sites' public holidays that the snapshot does not hold yet."""
    sites, units = merged.now(Site).values(), merged.now(Unit).values()
    first = min((unit.in_service_on.year for unit in units), default=this_year)
    years = range(first - HOLIDAY_YEARS_BEFORE, this_year + HOLIDAY_YEARS_AFTER + 1)
    held = {(held.country, held.subdivision, held.year) for held in record.holiday_years()}
    for country, subdivision in sorted({(site.country, site.subdivision) for site in sites}):
        for year in years:
            if (country, subdivision, year) not in held:
                yield public_holidays.year(country, subdivision, year)


def _touched(
    record: Record, changes: Sequence[Change], marked: set[str], is_wide: bool
) -> list[int]:
    """The ids of the units whose kept days may not be right any more."""
    records = [change.record for change in changes]
    of_units = (one for one in records if isinstance(one, Unit | Placement | Outage))
    numbers = marked | {record.property_number for record in of_units}
    if not numbers and not is_wide:
        return []
    ids = record.unit_ids()
    return sorted(ids.values() if is_wide else (ids[number] for number in numbers))
