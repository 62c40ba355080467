"""Which outages of a unit should stand because of failed function checks?

42 CFR 493.1254(b)(2) (read in a reprint): function checks must be within limits before patients are
tested. So a unit is out from the first failure until every check that failed since is passed.
What a person set or ended stays fixed: it is neither moved nor prolonged.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from fleet.domain.records import Outage

__all__ = ["Failure", "Pass", "Span", "outage_spans", "passed_on"]

_ONE_DAY = dt.timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Failure:
    """A check that failed on a day; `number` is that of the action which tells of it."""

    task: str
    on: dt.date
    first_out: dt.date
    place: int
    """Where it stands among the entries of its task; it ranks what is of one day."""
    number: str


@dataclass(frozen=True, slots=True)
class Pass:
    """A check that was passed on a day, or on each day up to `last`; `place` as of a failure."""

    task: str
    on: dt.date
    last: dt.date
    place: int


@dataclass(frozen=True, slots=True)
class Span:
    """An outage that should stand: its first day, the day of return, and the failures in it."""

    from_on: dt.date
    to_on: dt.date | None
    failures: tuple[Failure, ...]


def passed_on(failure: Failure, passes: Iterable[Pass]) -> dt.date | None:
    """The first day on which a check is passed after its failure; None where it never is."""
    days = []
    for one in passes:
        if one.task != failure.task:
            continue
        if one.on > failure.on or (one.on == failure.on and one.place > failure.place):
            days.append(one.on)
        elif one.last > failure.on:
            days.append(failure.on + _ONE_DAY)
    return min(days, default=None)


def outage_spans(
    failures: Iterable[Failure],
    passes: Sequence[Pass],
    fixed: Sequence[Outage],
    begun: Collection[dt.date] = (),
) -> list[Span]:
    """The outages that should stand of one unit, the earliest first.

    A failure in a fixed outage adds nothing, and the next fixed outage ends what runs on to it.
    begun: first days of outages of failed checks that stand; one that runs on is parted there.
    """
    spans: list[Span] = []
    for failure in sorted(failures, key=lambda one: (one.first_out, one.on, one.place)):
        start = failure.first_out
        if any(one.from_on <= start and _is_before(start, one.to_on) for one in fixed):
            continue
        passed = passed_on(failure, passes)
        ends = [one.from_on for one in fixed if one.from_on > start]
        to_on = min([*ends, *([passed] if passed else [])], default=None)
        if not _is_before(start, to_on):
            continue
        last = spans[-1] if spans else None
        if last is None or not _is_before(failure.on, last.to_on):
            spans.append(Span(start, to_on, (failure,)))
            continue
        to_on = None if None in (to_on, last.to_on) else max(to_on or start, last.to_on or start)
        if start in begun and start > last.from_on:
            spans[-1] = replace(last, to_on=start)
            kept = [one for one in last.failures if _is_before(start, passed_on(one, passes))]
            spans.append(Span(start, to_on, (failure, *kept)))
        else:
            spans[-1] = Span(last.from_on, to_on, (*last.failures, failure))
    return spans


def _is_before(day: dt.date, end: dt.date | None) -> bool:
    return end is None or day < end
