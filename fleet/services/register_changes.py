"""How does one act of a unit's life change the register? Checked as a file's rows are, then kept.

Each act makes records, or takes some out; they are laid over the register as rows of a file would
be (`load_merge`), with the same checks, and what is kept of the units they touch is rebuilt.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from fleet.domain.records import (
    Closure,
    Holiday,
    Outage,
    Pattern,
    Placement,
    RegisterRecord,
    Site,
    Unit,
)
from fleet.domain.register import Change, Register
from fleet.domain.texts import PROSE_LENGTH, Wrong, check_prose, check_text
from fleet.errors import BadInput, Fault
from fleet.services.columns import book_of
from fleet.services.kept import rebuild
from fleet.services.load_checks import check_register
from fleet.services.load_merge import merge, register_changes
from fleet.services.load_ports import REGISTER_TABLES, Faults, RegisterRows, Row
from fleet.services.ports import PublicHolidays, Record, Stamp

__all__ = ["change_register", "checked_text", "ever_at", "reason_given", "refused"]

_TABLE_OF = {kind: table for table, kind in REGISTER_TABLES.items()}


def refused(act: str, option: str | None, problem: str, mend: str) -> BadInput:
    """The refusal of an act, in the words of a file's fault: where, what, how to mend it."""
    return BadInput([Fault(act, None, option, problem, mend)])


def reason_given(act: str, why: str) -> str:
    """A reason, stripped; BadInput for one that is empty or that no file could hold."""
    if not why.strip():
        raise refused(act, "why", "no reason is given", "say why with --why")
    return _text_of(act, "why", why.strip(), check_prose(why.strip(), PROSE_LENGTH))


def checked_text(act: str, option: str, value: str, most: int) -> str:
    """A text on one line; BadInput for one that no file could hold."""
    return _text_of(act, option, value, check_text(value, most))


def _text_of(act: str, option: str, value: str, wrong: Wrong | None) -> str:
    if wrong is not None:
        raise refused(act, option, wrong.problem, wrong.mend)
    return value


def change_register(
    record: Record,
    public_holidays: PublicHolidays,
    act: str,
    records: Sequence[RegisterRecord],
    stamp: Stamp,
    *,
    withdrawn: Sequence[RegisterRecord] = (),
) -> list[Change]:
    """Write these records (new, or in the place of their like) and take out the withdrawn ones.

    act: the command's name, for refusals. Answers the changes, none where all stood so already.
    Raises BadInput as `load` would. The caller commits.
    """
    register, faults = record.register(), Faults()
    tables: dict[str, list[Row[RegisterRecord]]] = {}
    rows = [Row(act, 0, one) for one in records] + [Row(act, 0, one, True) for one in withdrawn]
    for row in rows:
        tables.setdefault(_TABLE_OF[type(row.record)], []).append(row)
    merged = merge(register, RegisterRows(tables), record.withdrawn, faults)
    check_register(merged, book_of(register), faults)
    if faults.total:
        raise BadInput([replace(fault, row=None) for fault in faults.kept], faults.total)
    changes = register_changes(merged)
    if changes:
        record.change(changes, stamp)
        _rebuild(record, public_holidays, changes)
    return changes


def _rebuild(record: Record, public_holidays: PublicHolidays, changes: Iterable[Change]) -> None:
    register, numbers = record.register(), set[str]()
    for change in changes:
        if isinstance(change.record, Unit | Placement | Outage):
            numbers.add(change.record.property_number)
        elif isinstance(change.record, Closure | Holiday | Pattern | Site):
            # Spans of marks speak of expected days, which the calendar of the site makes.
            numbers |= ever_at(register, change.record.site)
    if numbers:
        ids = record.unit_ids()
        rebuild(record, sorted(ids[number] for number in numbers), public_holidays)


def ever_at(register: Register, site: str) -> set[str]:
    """The numbers of the units that ever stand at a site (an empty one: at any)."""
    issued = {u.property_number for u in register.units.values() if site in ("", u.site)}
    moved = {p.property_number for p in register.placements.values() if site in ("", p.site)}
    return issued | moved
