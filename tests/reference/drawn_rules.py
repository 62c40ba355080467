"""Which rule books do the properties draw: versions, overrides, all bases?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import replace

from tests.reference.choices import AWKWARD_DAYS, MODELS, Pick, days, length
from tests.reference.records import RefEvery, RefRule

__all__ = ["rules_of_kind"]

TASKS = ("lens-care", "rotor-check", "yearly-service", "lamp-check")
BASES = ("cell", "anchored", "fixed")
EACHES = ("open-day", "week", "month", "quarter", "half-year", "year")
ROLLS = ("following", "none", "preceding", "modified-following")
EVERIES = tuple(
    RefEvery(count, letter)
    for count, letter in (
        (1, "Y"), (6, "M"), (1, "M"), (3, "M"), (2, "W"), (45, "D"), (90, "D"), (2, "Y"), (18, "M"),
        (10, "D"), (1, "W"),
    )
)  # fmt: skip
SHORT_EVERIES = tuple(
    RefEvery(c, x) for c, x in ((3, "D"), (1, "W"), (20, "D"), (2, "M"), (5, "M"))
)


def rules_of_kind(pick: Pick, on: dt.date, kind: str) -> list[RefRule]:
    """Two to four tasks of a kind, each with its versions, around the day asked."""
    return [
        rule
        for task in TASKS[: pick.number(2, 4)]
        for rule in _versions(pick, on, kind, task, pick.of(BASES))
    ]


def _versions(pick: Pick, on: dt.date, kind: str, task: str, basis: str) -> list[RefRule]:
    """One to three versions in order of `from`, and perhaps a shorter one for one model."""
    versions = [_rule(pick, on, kind, task, basis)]
    if pick.one_in(6):
        versions[0] = replace(versions[0], from_on=pick.day(on - days(360), 200, 100))
    starts = {pick.day(on, 200, 20) for _ in range(pick.of((0, 0, 0, 1, 1, 2)))}
    for from_on in sorted(starts):
        if pick.one_in(4):
            until_on = max(from_on - days(pick.of((1, 10))), versions[-1].from_on or dt.date.min)
            versions[-1] = replace(versions[-1], until_on=until_on)
        changed = pick.of(BASES) if pick.one_in(8) else basis
        versions.append(replace(_rule(pick, on, kind, task, changed), from_on=from_on))
    if pick.one_in(8):
        last = versions[-1]
        until_on = max(pick.day(on, 20, 60), last.from_on or dt.date.min)
        versions[-1] = replace(last, until_on=until_on)
    if pick.one_in(10):
        return [replace(version, models=MODELS[:1]) for version in versions]
    return versions + (_override(pick, on, versions) if pick.one_in(4) else [])


def _rule(pick: Pick, on: dt.date, kind: str, task: str, basis: str) -> RefRule:
    if basis == "cell":
        times = 2 if pick.one_in(4) else 1
        return RefRule(kind=kind, task=task, each=pick.of(EACHES), times=times)
    every = pick.of(EVERIES)
    rule = RefRule(
        kind=kind,
        task=task,
        every=every,
        early=pick.of((0, 0, 7, 30, 45, 366)),
        grace=pick.of((0, 0, 5, 15, 40)),
        roll=pick.of(ROLLS),
    )
    if basis == "fixed":
        return replace(rule, anchor_on=_anchor(pick, on, every))
    return replace(
        rule,
        keep_anchor=pick.of((0, 0, 10, 30, 400)),
        due_after=pick.of(
            [
                frozenset(),
                frozenset({"moved"}),
                frozenset({"repaired"}),
                frozenset({"moved", "repaired"}),
            ]
        ),
        first=pick.of(("after-interval", "after-interval", "at-start")),
    )


def _anchor(pick: Pick, on: dt.date, every: RefEvery) -> dt.date:
    """An anchor some intervals back or a little ahead, so that an occurrence lies near the day."""
    if pick.one_in(8):
        return pick.of(AWKWARD_DAYS)
    return pick.day(on - days(round(pick.number(-1, 4) * length(every))), 30, 10)


def _override(pick: Pick, on: dt.date, versions: Sequence[RefRule]) -> list[RefRule]:
    """A version for one model that only shortens; none where nothing is shorter."""
    rule = versions[0]
    if any(version.basis != rule.basis for version in versions):
        return []
    from_on = pick.day(on, 200, 20) if pick.one_in(3) else None
    until_on = pick.day(on, 20, 60) if from_on is None and pick.one_in(3) else None
    rule = replace(rule, models=MODELS[1:], from_on=from_on, until_on=until_on)
    if rule.each is not None:
        finest = min(EACHES.index(version.each) for version in versions if version.each)
        if finest == 0:
            return []
        return [replace(rule, each=pick.of(EACHES[:finest]))]
    shortest = min(length(version.every) for version in versions if version.every)
    choices = [every for every in SHORT_EVERIES if 1.2 * length(every) < shortest]
    if not choices:
        return []
    grace = min(version.grace for version in versions)
    return [replace(rule, every=pick.of(choices), grace=grace)]
