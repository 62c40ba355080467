"""What cannot be placed by any plan? Proved before any search."""

from __future__ import annotations

from dataclasses import replace

from schedules.visits.diagnosis.alone import alone_order, is_servable, shortest_minutes
from schedules.visits.diagnosis.capacity import Overload, overloads
from schedules.visits.diagnosis.dates_in_words import span_in_words
from schedules.visits.diagnosis.findings import Code, Finding
from schedules.visits.diagnosis.reasons import duration, reason
from schedules.visits.diagnosis.relief import relief
from schedules.visits.diagnosis.remedies import remedy
from schedules.visits.model import Need
from schedules.visits.problem import Problem

__all__ = ["diagnose"]

_NAMED = 5


def diagnose(problem: Problem) -> list[Finding]:
    """Every need that no trip can serve, then every span of days that is too full.

    Needs of confirmed trips are placed and are passed over. A need is found for the first reason
    that holds; those found are left out of the spans.
    """
    if not problem.order.needs:
        return []
    shortest = shortest_minutes(problem.order)
    servable = is_servable(problem, shortest)
    confirmed = {name for trip in problem.lock.confirmed for name in trip.needs}
    findings = [
        _alone(problem, need)
        for number, need in enumerate(problem.order.needs)
        if not servable[number] and need.name not in confirmed
    ]
    if not servable.any():
        return findings
    full = overloads(problem.arrays, shortest, servable)
    return findings + [_too_full(problem, one) for one in _least(full)]


def _alone(problem: Problem, need: Need) -> Finding:
    order = alone_order(problem.order, need)
    mend, cents = remedy(order)
    return replace(reason(order, need), mend=mend, cents=cents)


def _least(full: list[Overload]) -> list[Overload]:
    """Those that hold no other's needs beside their own."""
    sets = [set(one.needs) for one in full]
    return [
        one
        for place, one in enumerate(full)
        if not any(
            other < sets[place] or (other == sets[place] and number < place)
            for number, other in enumerate(sets)
        )
    ]


def _too_full(problem: Problem, overload: Overload) -> Finding:
    order, count = problem.order, len(overload.needs)
    span = span_in_words(problem.days[overload.first], problem.days[overload.last])
    needs = [order.needs[number] for number in overload.needs]
    names = tuple(order.technicians[number].technician for number in overload.technicians)
    parts = f"{duration(overload.service)} of service"
    if overload.drive:
        parts += f" and at least {duration(overload.drive)} of driving"
    of = "that can be served only" if count > 1 else "that can only be served"
    return Finding(
        code=Code.CAPACITY,
        needs=tuple(need.name for need in needs),
        technicians=names,
        is_proved=True,
        numbers={
            "service_minutes": overload.service,
            "drive_minutes": overload.drive,
            "technician_minutes": overload.minutes,
            "excess_minutes": overload.excess,
            "first_day": int(problem.arrays.day_number[overload.first]),
            "last_day": int(problem.arrays.day_number[overload.last]),
        },
        words=f"Too much for {_and(names)}: the {count} {'need' if count == 1 else 'needs'} {of}"
        f" {span} ({_named(needs)}) take {parts}, and there are {duration(overload.minutes)}.",
        mend=relief(problem, overload),
    )


def _named(needs: list[Need]) -> str:
    said = [f"unit {need.property_number} at {need.site}" for need in needs[:_NAMED]]
    more = len(needs) - _NAMED
    return ", ".join(said) + (f", and {more} more" if more > 0 else "")


def _and(names: tuple[str, ...]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
