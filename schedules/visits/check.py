"""Is a told plan true to its order? Every rule and every number, reckoned again from the order.

Kept apart from the planner on purpose: it shares the values with it and none of its arithmetic.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import fields
from itertools import pairwise

from schedules.visits.check_trip import Book, differs, trip_faults, trip_name
from schedules.visits.model import Lock, Order, Trip
from schedules.visits.told import Costs, ToldPlan

__all__ = ["faults"]


def faults(order: Order, lock: Lock, told: ToldPlan) -> list[str]:
    """What is wrong with a plan, a sentence each; none if it keeps every rule and adds up."""
    book = Book(order, lock)
    return [
        *_needs_once(order, told),
        *_confirmed(lock, told),
        *_sequence(told),
        *_two_at_once(book, told),
        *(fault for trip in told.trips for fault in trip_faults(book, trip)),
        *_sums(told),
    ]


def _needs_once(order: Order, told: ToldPlan) -> Iterator[str]:
    """Each need is served once, or unplaced."""
    served = Counter(n.name for trip in told.trips for visit in trip.visits for n in visit.needs)
    unplaced = Counter(told.unplaced)
    known = {need.name for need in order.needs}
    for name in sorted({*unplaced} - known):
        yield f"{name}, among the unplaced, is no need of the order."
    for name in sorted(known):
        if served[name] > 1:
            yield f"{name} is served {served[name]} times."
        if unplaced[name] > 1:
            yield f"{name} stands {unplaced[name]} times among the unplaced."
        if served[name] and unplaced[name]:
            yield f"{name} is both served and unplaced."
        if not served[name] and not unplaced[name]:
            yield f"{name} is neither served nor unplaced."


def _confirmed(lock: Lock, told: ToldPlan) -> Iterator[str]:
    """A confirmed trip stands as it was told."""
    planned = [
        Trip(t.technician, t.starts_on, tuple(n.name for visit in t.visits for n in visit.needs))
        for t in told.trips
    ]
    for trip in lock.confirmed:
        if trip not in planned:
            yield f"The confirmed trip of {trip.technician} on {trip.start_on} is not in the plan."


def _sequence(told: ToldPlan) -> Iterator[str]:
    """Trips stand by their start and technician."""
    for before, after in pairwise(told.trips):
        if (after.starts_on, after.technician) < (before.starts_on, before.technician):
            earlier = f"that of {before.technician} on {before.starts_on}"
            yield f"{trip_name(after)} stands after {earlier}."


def _two_at_once(book: Book, told: ToldPlan) -> Iterator[str]:
    """No two trips of a technician share a day."""
    days = Counter(
        (on, trip.technician)
        for trip in told.trips
        for on in book.days_between(trip.starts_on, trip.ends_on)
    )
    for (on, technician), trips in sorted(days.items()):
        if trips > 1:
            yield f"{technician} is on {trips} trips on {on}."


def _sums(told: ToldPlan) -> Iterator[str]:
    """The plan's numbers are the sums of its trips'."""
    visits = [visit for trip in told.trips for visit in trip.visits]
    needs = [need for visit in visits for need in visit.needs]
    reckoned = {
        "miles": sum(trip.miles for trip in told.trips),
        "drive_minutes": sum(trip.drive_minutes for trip in told.trips),
        "days": sum(trip.days for trip in told.trips),
        "nights": sum(trip.nights for trip in told.trips),
        "visits": len(visits),
        "needs": len(needs),
        "lost_days": sum(need.lost_days for need in needs),
    }
    for what, number in reckoned.items():
        yield from differs("The plan", what, getattr(told, what), number)
    for part in (field.name for field in fields(Costs)):
        total = sum(getattr(trip.costs, part) for trip in told.trips)
        yield from differs("The plan", f"cents of {part}", getattr(told.costs, part), total)
