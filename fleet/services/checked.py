"""Is a copy of the record whole? What its chains say, and what is kept beside them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from fleet.domain.chain import Flaw, root_of
from fleet.services.load_ports import Progress
from fleet.services.ports import KeptYears, Record

__all__ = ["Checked", "checked", "flaw_words", "kept_by_unit", "mend_kept"]


@dataclass(frozen=True, slots=True)
class Checked:
    """What a walk along every chain of a record found."""

    root: str
    """The root over all heads, 64 hexadecimal digits."""
    lines: int
    """How many lines the heads count."""
    flaws: tuple[Flaw, ...]


def checked(record: Record, progress: Progress) -> Checked:
    """Walk every chain; `progress` is told the lines."""
    heads = record.heads()
    flaws = tuple(record.flaws(progress.step))
    return Checked(root_of(heads), sum(head.seq for head in heads.values()), flaws)


def flaw_words(flaw: Flaw) -> str:
    """One flaw as a sentence that names the place."""
    place = flaw.chain if flaw.seq is None else f"{flaw.chain}, line {flaw.seq}"
    key = f" ({flaw.key})" if flaw.key.strip() else ""
    return f"{place}{key}: {flaw.problem}"


def mend_kept(record: Record, rebuild: Callable[[Record, Sequence[int]], None]) -> int:
    """Work out anew what is kept of every unit; the answer: of how many it was not so."""
    before = kept_by_unit(record.kept_years())
    rebuild(record, sorted(set(record.unit_ids().values())))
    after = kept_by_unit(record.kept_years())
    return sum(before.get(unit) != after.get(unit) for unit in before.keys() | after.keys())


_Row = tuple[str, int, bytes, bytes, bytes | None]


def kept_by_unit(kept: KeptYears) -> dict[int, frozenset[_Row]]:
    """What is kept of each unit, by the number the store uses for it."""
    rows: dict[int, list[_Row]] = {}
    columns = (kept.unit_ids, kept.tasks, kept.years, kept.marked, kept.done, kept.extra)
    for unit, *row in zip(*columns, strict=True):
        rows.setdefault(unit, []).append(tuple(row))
    return {unit: frozenset(of_unit) for unit, of_unit in rows.items()}
