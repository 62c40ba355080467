"""Do the drawn fleets hold to the contract, and does every state and feature appear among them?"""

from __future__ import annotations

import datetime as dt
import itertools
from collections import Counter

import pytest
from hypothesis import HealthCheck, Phase, given, settings

from tests.reference import (
    RefCalendar,
    RefClosure,
    RefEntry,
    RefOutage,
    RefRule,
    RefUnit,
    gaps,
    status,
)
from tests.reference.choices import LEAP_ON
from tests.strategies import Case, cases

DRAWS = 1000
ABSENT = ("retired", "not in service yet", "out of service")
TIMED = (*ABSENT, "upcoming", "due", "overdue")
SEASON_DAYS, LONG_DAYS, LONGEST_DAYS = 181, 127, 366
ONE_DAY = dt.timedelta(days=1)

LEAST_OF_1000 = {
    **{f"anchored {state}": 20 for state in TIMED},
    **{f"fixed {state}": 20 for state in TIMED},
    **{f"cell {state}": 20 for state in (*TIMED, "done")},
    "anchored upcoming without dates": 1,
    "fixed upcoming without dates": 1,
    "fixed missed several": 50,
    "cell missed several": 50,
    "cell due in a longer period": 20,
    "no cell of the day": 50,
    "no open day": 10,
    "no row for a task": 20,
    "gap": 150,
    "asked as known at": 100,
    "open one day a week": 100,
    "closed half a year": 50,
    "closed over 127 days": 50,
    "closed over 366 days": 30,
    "closed everywhere": 30,
    "opened on a closure, a holiday or a weekend": 50,
    "a weekly pattern changes": 100,
    "in service on 29 February": 20,
    "anchor on 29 February": 1,
    "asked on 29 February": 1,
    "month-end anchor": 20,
    "anchor before service": 100,
    "anchor after service": 50,
    "early of the interval": 1,
    "early beyond the interval": 50,
    "moved": 100,
    "moved to the same site": 50,
    "outage without end": 50,
    "touching outages": 50,
    "record from a later day": 50,
    "retirement ahead": 20,
    "first at-start": 100,
    "keep_anchor": 100,
    "due_after moved": 50,
    "due_after repaired": 50,
    "times 2": 50,
    "version by from": 150,
    "version by until": 50,
    "basis changes with the version": 20,
    "version for a model": 50,
    "task of one model only": 20,
    **{f"roll {how}": 100 for how in ("none", "following", "preceding", "modified-following")},
    "entry before service": 50,
    "entry in an outage": 20,
    "entry after retirement": 10,
    "entry after the day asked": 100,
    "entry spanning days": 200,
    "struck": 100,
    "strike of a strike": 10,
    "replaced": 50,
    "strike with its own instant": 50,
}


@pytest.fixture(scope="module")
def drawn() -> list[Case]:
    """A thousand cases, the same in every run."""
    found: list[Case] = []

    @settings(
        max_examples=DRAWS,
        database=None,
        deadline=None,
        derandomize=True,
        phases=[Phase.generate],
        suppress_health_check=list(HealthCheck),
    )
    @given(case=cases())
    def collect(case: Case) -> None:
        found.append(case)

    collect()
    return found


def test_every_state_and_feature_appears_often_enough(drawn: list[Case]) -> None:
    seen = Counter(name for case in drawn for name in _features(case))

    short = {name: seen[name] for name, least in LEAST_OF_1000.items() if seen[name] < least}
    assert short == {}


def test_drawn_fleets_keep_to_the_contract_of_the_files(drawn: list[Case]) -> None:
    for case in drawn:
        for unit in case.fleet.units:
            _check_unit(case, unit)
        keys = [entry.key for entry in case.fleet.entries]
        assert len(keys) == len(set(keys))
        closures = [(row.site, row.from_on, row.open) for row in case.fleet.closures]
        assert len(closures) == len(set(closures))
        for earlier, later in zip(case.fleet.rules, case.fleet.rules[1:], strict=False):
            if (earlier.kind, earlier.task, earlier.models) == (
                later.kind,
                later.task,
                later.models,
            ):
                assert later.from_on is not None
                assert later.from_on > (earlier.from_on or dt.date.min)


def _check_unit(case: Case, unit: RefUnit) -> None:
    fleet = case.fleet
    own = [outage for outage in fleet.outages if outage.property_number == unit.property_number]
    for earlier, later in itertools.pairwise(own):
        assert earlier.to_on is not None
        assert earlier.from_on < earlier.to_on <= later.from_on
    moves = [row.from_on for row in fleet.placements if row.property_number == unit.property_number]
    assert len(moves) == len(set(moves))
    assert all(unit.in_service_on < day < (unit.retired_on or dt.date.max) for day in moves)
    assert unit.retired_on is None or unit.retired_on > unit.in_service_on
    own_rules = [
        rule
        for rule in fleet.rules
        if rule.kind == unit.kind and (not rule.models or unit.model in rule.models)
    ]
    tasks = {rule.task for rule in own_rules}
    with_cells = {rule.task for rule in own_rules if rule.each}
    for entry in fleet.entries:
        if entry.property_number == unit.property_number:
            assert entry.task in tasks
            assert entry.to_on is None or entry.to_on >= entry.on
            assert entry.to_on is None or entry.task in with_cells


def _features(case: Case) -> set[str]:
    named = _of_answer(case) | _of_sites(case) | _of_units(case)
    units = {unit.property_number: unit for unit in case.fleet.units}
    for rule in case.fleet.rules:
        named |= _of_rule(rule, [u for u in case.fleet.units if u.kind == rule.kind])
    named |= _of_versions(case)
    strikers = {entry.key for entry in case.fleet.entries if entry.strikes}
    for entry in case.fleet.entries:
        unit = units[entry.property_number]
        own = [o for o in case.fleet.outages if o.property_number == unit.property_number]
        named |= _of_entry(entry, unit, own, case.on, strikers)
    return named


def _only(named: dict[str, bool]) -> set[str]:
    return {name for name, holds in named.items() if holds}


def _of_answer(case: Case) -> set[str]:
    answer = status(case.fleet, case.on, case.known_at)
    named = {f"{row.basis} {row.state}" for row in answer.rows}
    for row in answer.rows:
        is_present = row.state not in ABSENT
        several = (row.missed or 0) > 1
        named |= _only(
            {
                f"{row.basis} missed several": several,
                f"{row.basis} upcoming without dates": is_present and row.limit is None,
                "no cell of the day": is_present and row.basis == "cell" and row.limit is None,
                "cell due in a longer period": (row.basis, row.state) == ("cell", "due")
                and row.opens != row.limit,
            }
        )
    asked = len({(u.property_number, r.task) for u in case.fleet.units for r in case.fleet.rules
                 if r.kind == u.kind and (not r.models or u.model in r.models)})  # fmt: skip
    found = gaps(case.fleet, case.gaps_from, case.gaps_to, case.on, case.known_at)
    return named | _only(
        {
            "no open day": bool(answer.errors),
            "no row for a task": len(answer.rows) + len(answer.errors) < asked,
            "gap": bool(found),
            "asked as known at": case.known_at is not None,
            "asked on 29 February": case.on == LEAP_ON,
        }
    )


def _of_sites(case: Case) -> set[str]:
    fleet = case.fleet
    named = _only(
        {
            "open one day a week": any(len(site.open_days) == 1 for site in fleet.sites),
            "a weekly pattern changes": bool(fleet.patterns),
        }
    )
    for row in fleet.closures:
        length = (row.to_on - row.from_on).days + 1
        named |= _only(
            {
                "closed half a year": not row.open and length == SEASON_DAYS,
                "closed over 127 days": length > LONG_DAYS and row.reason == "rebuilding",
                "closed over 366 days": length > LONGEST_DAYS,
                "closed everywhere": not row.open and row.site == "",
                "opened on a closure, a holiday or a weekend": row.open and _beats(case, row),
            }
        )
    return named


def _beats(case: Case, opening: RefClosure) -> bool:
    """Say whether a site would be closed on the opening's first day without it."""
    fleet = case.fleet
    without = type(fleet)(
        sites=fleet.sites,
        units=[],
        rules=[],
        patterns=fleet.patterns,
        holidays=fleet.holidays,
        closures=[row for row in fleet.closures if row != opening],
    )
    return any(
        not RefCalendar(without, site).is_open(opening.from_on)
        for site in fleet.sites
        if opening.site in ("", site.site)
    )


def _of_units(case: Case) -> set[str]:
    fleet = case.fleet
    named = set()
    for unit in fleet.units:
        number = unit.property_number
        out = [outage for outage in fleet.outages if outage.property_number == number]
        starts = {outage.from_on for outage in out}
        stands_at = unit.site
        for move in [row for row in fleet.placements if row.property_number == number]:
            named |= {"moved to the same site" if move.site == stands_at else "moved"}
            stands_at = move.site
        named |= _only(
            {
                "in service on 29 February": unit.in_service_on == LEAP_ON,
                "record from a later day": unit.record_from_on not in (None, unit.in_service_on),
                "retirement ahead": unit.retired_on is not None and unit.retired_on > case.on,
                "outage without end": any(outage.to_on is None for outage in out),
                "touching outages": any(outage.to_on in starts for outage in out),
            }
        )
    return named


def _of_rule(rule: RefRule, units: list[RefUnit]) -> set[str]:
    named = {f"due_after {event}" for event in rule.due_after}
    anchor_on = rule.anchor_on
    if rule.every is not None:
        named.add(f"roll {rule.roll}")
        length = rule.every.count * {"D": 1, "W": 7, "M": 30, "Y": 365}[rule.every.letter]
        named |= _only(
            {
                "early of the interval": rule.early == length and rule.every.letter in "DW",
                "early beyond the interval": rule.early > length,
            }
        )
    if anchor_on is not None:
        named |= _only(
            {
                "anchor on 29 February": (anchor_on.month, anchor_on.day) == (2, 29),
                "month-end anchor": (anchor_on + ONE_DAY).day == 1,
                "anchor before service": any(anchor_on < u.in_service_on for u in units),
                "anchor after service": any(anchor_on > u.in_service_on for u in units),
            }
        )
    return named | _only(
        {
            "first at-start": rule.first == "at-start",
            "keep_anchor": rule.keep_anchor > 0,
            "times 2": rule.times == 2,
            "version by from": rule.from_on is not None,
            "version by until": rule.until_on is not None,
        }
    )


def _of_versions(case: Case) -> set[str]:
    named = set()
    for kind, task in {(rule.kind, rule.task) for rule in case.fleet.rules}:
        versions = [r for r in case.fleet.rules if (r.kind, r.task) == (kind, task)]
        for_models = [bool(version.models) for version in versions]
        named |= _only(
            {
                "basis changes with the version": len({v.basis for v in versions}) > 1,
                "version for a model": any(for_models) and not all(for_models),
                "task of one model only": all(for_models),
            }
        )
    return named


def _of_entry(
    entry: RefEntry, unit: RefUnit, outages: list[RefOutage], on: dt.date, strikers: set[str]
) -> set[str]:
    return _only(
        {
            "entry before service": entry.on < unit.in_service_on,
            "entry in an outage": any(
                outage.from_on <= entry.on < (outage.to_on or dt.date.max) for outage in outages
            ),
            "entry after retirement": entry.on >= (unit.retired_on or dt.date.max),
            "entry after the day asked": entry.on > on,
            "entry spanning days": entry.to_on is not None and entry.to_on > entry.on,
            "struck": bool(entry.strikes) and entry.mark is None,
            "strike of a strike": entry.strikes in strikers,
            "replaced": bool(entry.strikes) and entry.mark is not None,
            "strike with its own instant": bool(entry.strikes) and entry.recorded_at is not None,
        }
    )
