"""How are days said? 'Tue 5 Jan 2027'; many of them as runs."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable

__all__ = ["days_in_words", "in_words", "span_in_words"]

_RUNS = 3


def in_words(on: dt.date) -> str:
    """A date as it is said: Tue 17 Mar 2026."""
    return f"{on:%a} {on.day} {on:%b %Y}"


def span_in_words(first_on: dt.date, last_on: dt.date) -> str:
    """A day, or 'from ... to ...'."""
    if first_on == last_on:
        return f"on {in_words(first_on)}"
    return f"from {in_words(first_on)} to {in_words(last_on)}"


def days_in_words(days: Iterable[dt.date]) -> str:
    """Days, those that follow each other as a run; of more than three runs the count and ends."""
    some = sorted(days)
    runs = _runs(some)
    if len(runs) > _RUNS:
        return f"{len(some)} days between {in_words(some[0])} and {in_words(some[-1])}"
    said = [
        in_words(run[0]) if len(run) == 1 else f"{in_words(run[0])} to {in_words(run[-1])}"
        for run in runs
    ]
    return said[0] if len(said) == 1 else f"{', '.join(said[:-1])} and {said[-1]}"


def _runs(days: list[dt.date]) -> list[list[dt.date]]:
    runs: list[list[dt.date]] = []
    for on in days:
        if runs and (on - runs[-1][-1]).days == 1:
            runs[-1].append(on)
        else:
            runs.append([on])
    return runs
