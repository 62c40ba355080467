"""What does the program itself say of a database that it walks and works out again?"""

from __future__ import annotations

from contextlib import closing

from fleet.storage import open_store
from tests.studies.survival.invented import STORED_AT
from tests.studies.survival.programs import program

__all__ = ["said"]


def said(url: str) -> list[str]:
    """The flaws of the chains, and whether the kept years are what a rebuild makes of them.

    Nothing is kept of the rebuild. Raises what reading raises.
    """
    of = program(url, STORED_AT)
    with closing(open_store(url, clock=of.clock)) as store, store.begin(write=True) as record:
        found = [f"{flaw.chain} {flaw.seq}: {flaw.problem}" for flaw in record.flaws(_nobody)]
        kept = record.kept_years()
        of.rebuild(record, list(record.unit_ids().values()))
        if _rows(kept) != _rows(record.kept_years()):
            found.append("the kept years are not what a rebuild makes")
    return found


def _nobody(lines: int) -> None:
    """Tell nobody how far it has come."""


def _rows(kept: object) -> list[str]:
    names = ("unit_ids", "tasks", "years", "marked", "done", "extra")
    columns = [getattr(kept, name) for name in names]
    return sorted(map(repr, zip(*columns, strict=True)))
