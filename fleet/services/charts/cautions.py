"""What has to be warned of on a chart, gravest first (design 8)?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Iterator
from itertools import zip_longest

from fleet.services.charts.rows import RowPlans
from fleet.services.readings import rule_on
from schedules.rules import Kind, Rule

__all__ = ["cautions_of", "defers"]

_MAKERS = ("manufacturer", "maker", "fabricante")


def cautions_of(kind: Kind, model: str, plans: RowPlans, on: dt.date) -> tuple[str, ...]:
    """The cautions of a chart's rules and of those in force on a day, each once.

    The first of each rule, in the order of the book, then the second of each, and so on. What
    defers to the maker's manual, as the last line of a rule's cautions does, comes last.
    """
    told = {rule for row in plans.rows for rule in row.versions}
    told |= {rule for versions in plans.dated for rule in versions}
    rules = [
        rule
        for versions in kind.tasks(model).values()
        for rule in versions
        if rule in told or rule is rule_on(versions, on)
    ]
    last = [rule.cautions[-1] for rule in rules if rule.cautions and defers(rule.cautions[-1])]
    warns = (line for line in _in_turns(rules) if line not in last)
    return tuple(dict.fromkeys((*warns, *last)))


def defers(caution: str) -> bool:
    """Say whether a caution puts the maker's manual first, as the last of a rule's does."""
    said = caution.casefold()
    return "manual" in said and any(maker in said for maker in _MAKERS)


def _in_turns(rules: Iterable[Rule]) -> Iterator[str]:
    for turn in zip_longest(*(rule.cautions for rule in rules)):
        yield from (line for line in turn if line is not None)
