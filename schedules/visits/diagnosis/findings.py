"""What is found where needs cannot be placed? A reason, the numbers behind it, a mend."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from schedules.visits.diagnosis.mends import Mend

__all__ = ["Code", "Finding"]


class Code(StrEnum):
    """Why needs cannot be placed, in the order in which it is looked for."""

    PAST_LIMIT = "past-limit"
    NO_OPEN_DAY = "no-open-day"
    LONGER_THAN_DAY = "longer-than-day"
    OUT_OF_REACH = "out-of-reach"
    CAPACITY = "capacity"
    NOT_FOUND = "not-found"


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """Why needs cannot be placed.

    needs: their names; technicians: those it depends on. is_proved: it cannot be; else only that
    nothing was found. numbers: behind it, by name, in minutes, days, nights or counts. mend: the
    mildest change that was tried and helps, None where none did; cents: what the needs then cost
    at least (a trip alone, or what a place in a plan adds), None where that is not known.
    """

    code: Code
    needs: tuple[str, ...]
    words: str
    is_proved: bool
    technicians: tuple[str, ...] = ()
    numbers: Mapping[str, int] = field(default_factory=dict)
    mend: Mend | None = None
    cents: int | None = None
