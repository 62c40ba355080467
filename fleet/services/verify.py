"""Is the record as it was written, and does it carry on the one that a root was given out of?"""

from __future__ import annotations

import datetime as dt
import json
import re
from collections import deque
from collections.abc import Sequence
from dataclasses import dataclass

from fleet.domain.chain import SEALS, Flaw, Seal, root_of
from fleet.errors import BadInput, Fault
from fleet.services.checked import kept_by_unit
from fleet.services.kept import worked_out
from fleet.services.load_ports import Progress
from fleet.services.ports import PublicHolidays, Record

__all__ = ["Verification", "verify"]

_STONES = "tombstone"
_ROOT = re.compile(r"[0-9a-f]{16,64}")


@dataclass(frozen=True, slots=True, kw_only=True)
class Verification:
    """What a walk along every chain found."""

    chains: int
    lines: int
    """As many as were looked at."""
    root: str
    """The root now; one of a record with flaws is good for nothing but to compare."""
    sealed_at: dt.datetime | None = None
    """When this very root was kept as one given out; None: it was not."""
    removed: int = 0
    """Of how many lines the content was removed after its retention."""
    removed_at: dt.datetime | None = None
    """When it was last; None also where the chain of tombstones is broken."""
    flaws: Sequence[Flaw] = ()
    is_rebuilt: bool = False
    """Whether what is kept of the marked days was worked out again; never beside flaws."""
    differing: Sequence[str] = ()
    """The units whose marked days are kept otherwise than their entries add up to."""
    given_at: dt.datetime | None = None
    """When the root that was asked about was given out."""
    root_problem: str = ""
    """Why the record is no continuation of the one with that root; '' where it is."""

    @property
    def is_whole(self) -> bool:
        """Say whether nothing was found."""
        return not (self.flaws or self.differing or self.root_problem)


def verify(
    record: Record,
    public_holidays: PublicHolidays,
    *,
    rebuild: bool,
    root: str | None,
    progress: Progress,
) -> Verification:
    """Walk the whole record; with `rebuild` work out again what is kept beside it. Writes nothing.

    root: one that was given out, all 64 digits or the first 16 or more; it must be one of this
    record's, and hold. Raises BadInput for what is no root.
    """
    asked = None if root is None else _digits(root)
    told = _Told(progress)
    flaws = tuple(record.flaws(told.step))
    now, seals = root_of(record.heads()), () if _has_broken_seals(flaws) else record.seals()
    is_rebuilt = rebuild and not flaws
    given = None if asked is None else _given(asked, now, seals)
    removed, removed_at = _removed(record, flaws)
    return Verification(
        chains=len(record.heads()),
        lines=told.lines,
        root=now,
        sealed_at=next((seal.sealed_at for seal in seals if seal.root == now), None),
        removed=removed,
        removed_at=removed_at,
        flaws=flaws,
        is_rebuilt=is_rebuilt,
        differing=_differing(record, public_holidays) if is_rebuilt else (),
        given_at=given.sealed_at if isinstance(given, Seal) else None,
        root_problem="" if asked is None else _root_problem(asked, given, seals, flaws),
    )


class _Told:
    """Counts the lines that were looked at, and passes the count on."""

    def __init__(self, progress: Progress) -> None:
        self._progress, self.lines = progress, 0

    def step(self, lines: int) -> None:
        self.lines += lines
        self._progress.step(lines)


def _digits(root: str) -> str:
    digits = "".join(root.split()).lower()
    if not _ROOT.fullmatch(digits):
        problem = f"'{root}' is no root hash"
        mend = "give the 64 digits 0-9 and a-f, or the first 16 or more, as they were printed"
        raise BadInput([Fault("--root", None, None, problem, mend)])
    return digits


def _has_broken_seals(flaws: Sequence[Flaw]) -> bool:
    """Say whether the chain of seals itself is broken; then its lines may not even be readable."""
    return any(flaw.chain == SEALS and not flaw.is_of_root for flaw in flaws)


def _removed(record: Record, flaws: Sequence[Flaw]) -> tuple[int, dt.datetime | None]:
    """How many tombstones stand, and when the last was set."""
    numbered = deque(enumerate(record.lines([_STONES]), start=1), maxlen=1)
    if not numbered:
        return 0, None
    ((count, last),) = numbered
    if any(flaw.chain == _STONES for flaw in flaws):
        return count, None
    return count, dt.datetime.fromisoformat(json.loads(last.content)["stored_at"])


def _given(asked: str, now: str, seals: Sequence[Seal]) -> Seal | str | None:
    """The seal that bears the root, or the root now; None where neither does."""
    found = next((seal for seal in seals if seal.root.startswith(asked)), None)
    return found or (now if now.startswith(asked) else None)


def _root_problem(
    asked: str, given: Seal | str | None, seals: Sequence[Seal], flaws: Sequence[Flaw]
) -> str:
    if _has_broken_seals(flaws):
        return f"whether root {asked[:16]} was given out cannot be told: the seals are broken"
    if given is None:
        return (
            f"root {asked[:16]} was never given out of this record: it is not a continuation of"
            " the one that root was printed of"
        )
    number = 1 + seals.index(given) if isinstance(given, Seal) else None
    if number is not None and any((flaw.chain, flaw.seq) == (SEALS, number) for flaw in flaws):
        return (
            f"root {asked[:16]} was given out, but does not hold any more: the record is not a"
            " continuation of the one that root was printed of"
        )
    return ""


def _differing(record: Record, public_holidays: PublicHolidays) -> tuple[str, ...]:
    """The units whose years are kept otherwise than they are worked out, by property number."""
    name_of = {unit_id: name for name, unit_id in record.unit_ids().items()}
    kept = kept_by_unit(record.kept_years())
    differing = [f"unit number {unit_id}" for unit_id in kept.keys() - name_of.keys()]
    for batch, years in worked_out(record, sorted(name_of), public_holidays):
        due = kept_by_unit(years)
        differing += [name_of[i] for i in batch if kept.get(i) != due.get(i)]
    return tuple(sorted(differing))
