"""May the printed charts of some files stand in the record? A print never becomes another one."""

from __future__ import annotations

from fleet.domain.prints import Print
from fleet.services.load_merge import Merged
from fleet.services.load_ports import Faults, Row

__all__ = ["check_prints"]


def check_prints(merged: Merged, faults: Faults) -> None:
    """A print that stands is not changed, and one that is replaced is known and of the same."""
    for row in merged.rows(Print).values():
        old = merged.before(Print).get(row.record.key)
        if old is not None and old != row.record:
            problem = f"print {old.number} stands in the record and says otherwise"
            mend = "a print is never changed: take the row out, or write it as it was exported"
            faults.add(row.file, row.row, "number", problem, mend)
        _check_replaced(merged, row, faults)


def _check_replaced(merged: Merged, row: Row[Print], faults: Faults) -> None:
    one, earlier = row.record, merged.now(Print).get((row.record.replaces,))
    if not one.replaces or merged.is_spoiled(Print, one.replaces):
        return
    if earlier is None:
        mend = "add it to prints, or leave it empty"
        faults.add(row.file, row.row, "replaces", f"no print '{one.replaces}'", mend)
    elif _what(earlier) != _what(one):
        problem = f"print {earlier.number} is of {' '.join(_what(earlier))}"
        mend = "write the number of one of the same unit, site and year"
        faults.add(row.file, row.row, "replaces", problem, mend)


def _what(one: Print) -> tuple[str, str, str]:
    return one.property_number, one.site, str(one.year)
