"""Is a told trip true to its order? It is walked day by day, with a clock, from depot to depot."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import dataclass, field, fields
from fractions import Fraction
from itertools import pairwise

from schedules.visits.model import Lock, Need, Order, Stand, Technician
from schedules.visits.told import Costs, ToldNeed, ToldTrip, ToldVisit

__all__ = ["Book", "differs", "trip_faults", "trip_name"]


@dataclass(slots=True)
class Book:
    """An order and what was told before, looked up by name."""

    order: Order
    lock: Lock
    places: dict[str, int] = field(init=False)
    stands: dict[str, Stand] = field(init=False)
    technicians: dict[str, Technician] = field(init=False)
    needs: dict[str, Need] = field(init=False)

    def __post_init__(self) -> None:
        self.places = {name: number for number, name in enumerate(self.order.places)}
        self.stands = {stand.site: stand for stand in self.order.stands}
        self.technicians = {one.technician: one for one in self.order.technicians}
        self.needs = {need.name: need for need in self.order.needs}

    def miles(self, start: str, end: str) -> int:
        """Of the leg between two places, hundredths of a mile."""
        return self.order.miles[self.places[start]][self.places[end]]

    def minutes(self, start: str, end: str) -> int:
        """Of driving between two places."""
        return self.order.minutes[self.places[start]][self.places[end]]

    def next_day(self, on: dt.date) -> dt.date:
        """The next day of the plan that somebody works; after the last, the days as they come."""
        later = on + dt.timedelta(days=1)
        while later <= self.order.to_on:
            if any(later in one.works_on for one in self.order.technicians):
                return later
            later += dt.timedelta(days=1)
        return max(on, self.order.to_on) + dt.timedelta(days=1)

    def days_between(self, first: dt.date, last: dt.date) -> list[dt.date]:
        """The days of the plan from the first to the last, both included."""
        days = [first]
        while days[-1] < last:
            days.append(self.next_day(days[-1]))
        return days


@dataclass(slots=True)
class _Clock:
    """Which day it is on a trip, and which minute of the technician's day."""

    book: Book
    length: int
    on: dt.date
    minute: int = 0

    def drive(self, minutes: int) -> None:
        """Drive on, over a night if the day ends before."""
        while minutes > self.length - self.minute:
            minutes -= self.length - self.minute
            self.sleep()
        self.minute += minutes

    def sleep(self) -> None:
        """Begin the next day."""
        self.on, self.minute = self.book.next_day(self.on), 0


def trip_faults(book: Book, trip: ToldTrip) -> Iterator[str]:
    """What is wrong with a trip; names that the order does not hold keep the rest unchecked."""
    strangers = list(_strangers(book, trip))
    yield from strangers
    if not strangers:
        yield from _walk(book, trip, book.technicians[trip.technician])


def _strangers(book: Book, trip: ToldTrip) -> Iterator[str]:
    if trip.technician not in book.technicians:
        yield f"{trip_name(trip)}: {trip.technician} is no technician of the order."
    for visit in trip.visits:
        if visit.site not in book.stands:
            yield f"{trip_name(trip)}: {visit.site} is no site of the order."
        for need in visit.needs:
            if need.name not in book.needs:
                yield f"{trip_name(trip)}: {need.name} is no need of the order."


def _walk(book: Book, trip: ToldTrip, technician: Technician) -> Iterator[str]:
    """From the depot to every need and home again."""
    name, clock = trip_name(trip), _Clock(book, technician.day_minutes, trip.starts_on)
    yield from differs(name, "vendor", trip.vendor, technician.vendor)
    yield from differs(name, "depot", trip.depot, technician.depot)
    if not trip.visits:
        yield f"{name} has no visit."
    place = technician.depot
    for visit in trip.visits:
        if visit.site == place:
            yield f"{name} stops twice in a row at {place}: that is one visit."
        yield from _visit(book, technician, clock, place, visit)
        place = visit.site
    clock.drive(book.minutes(place, technician.depot))
    yield from _days(book, trip, technician, clock)
    yield from _money(book, trip, technician, clock)


def _visit(
    book: Book, technician: Technician, clock: _Clock, place: str, visit: ToldVisit
) -> Iterator[str]:
    """The leg to a site, what is served there, and leaving it."""
    where = f"The visit at {visit.site} on {visit.arrives_on}"
    drive = book.minutes(place, visit.site)
    yield from differs(where, "miles", visit.miles, book.miles(place, visit.site))
    yield from differs(where, "drive_minutes", visit.drive_minutes, drive)
    clock.drive(drive)
    arrives = (visit.arrives_on, visit.arrives_minute)
    yield from differs(where, "arrival", arrives, (clock.on, clock.minute))
    if not visit.needs:
        yield f"{where} serves nothing."
    for need in visit.needs:
        yield from _need(book, technician, clock, visit.site, need)
    leaves = (visit.leaves_on, visit.leaves_minute)
    yield from differs(where, "leaving", leaves, (clock.on, clock.minute))


def _need(
    book: Book, technician: Technician, clock: _Clock, site: str, told: ToldNeed
) -> Iterator[str]:
    """One service: by whom, where, on which day and when; then the clock is set to what is told."""
    need = book.needs[told.name]
    if technician.kinds is not None and need.kind not in technician.kinds:
        yield f"{need.name} is a {need.kind}, which {technician.technician} does not serve."
    if need.site != site:
        yield f"{need.name} is at {need.site}, not at {site}."
    if told.to_minute > technician.day_minutes:
        yield f"{need.name} is still being served when the day of {told.on} ends."
    yield from differs(need.name, "minutes", told.to_minute - told.from_minute, need.minutes)
    yield from differs(need.name, "lost_days", told.lost_days, _lost_days(need, told.on))
    bad_day = list(_bad_day(book, need, told.on))
    yield from bad_day
    begins = _begins(book, need, clock)
    if not bad_day:
        yield from differs(need.name, "beginning", (told.on, told.from_minute), begins)
    clock.on, clock.minute = told.on, told.to_minute


def _begins(book: Book, need: Need, clock: _Clock) -> tuple[dt.date, int]:
    """At once, if the day is long enough and suits; else at the beginning of one that suits."""
    if clock.minute + need.minutes > clock.length:
        clock.sleep()
    while clock.on < need.limit_on and any(_bad_day(book, need, clock.on)):
        clock.sleep()
    return clock.on, clock.minute


def _bad_day(book: Book, need: Need, on: dt.date) -> Iterator[str]:
    """Why a need may not be served on a day."""
    if not need.opens_on <= on <= need.limit_on:
        window = f"{need.opens_on} to {need.limit_on}"
        yield f"{need.name} is served on {on}, outside its window of {window}."
    if on not in book.stands[need.site].open_on:
        yield f"{need.name} is served on {on}, when {need.site} is closed."
    if on in need.closed_on:
        yield f"{need.name} is served on {on}, a day that does not suit it."


def _days(book: Book, trip: ToldTrip, technician: Technician, clock: _Clock) -> Iterator[str]:
    """The days it takes: worked, of one week, not too many nights; and when it is home."""
    name, order = trip_name(trip), book.order
    days = book.days_between(trip.starts_on, clock.on)
    for on in days:
        if not order.from_on <= on <= order.to_on:
            yield f"{name}: {on} is outside the days of the plan."
        elif on not in technician.works_on:
            yield f"{name}: {technician.technician} does not work on {on}."
    if trip.starts_on.isocalendar()[:2] != clock.on.isocalendar()[:2]:
        yield f"{name} begins in one week and ends in another."
    nights = (clock.on - trip.starts_on).days
    if nights > technician.max_nights:
        yield f"{name} is away for more than {technician.max_nights} nights: {nights}."
    home = (clock.on, clock.minute)
    yield from differs(name, "coming home", (trip.ends_on, trip.ends_minute), home)
    yield from differs(name, "days", trip.days, len(days))
    yield from differs(name, "nights", trip.nights, nights)


def _money(book: Book, trip: ToldTrip, technician: Technician, clock: _Clock) -> Iterator[str]:
    """Miles, minutes, and each part of the money; legs and needs are rounded one by one."""
    name, prices = trip_name(trip), book.order.prices
    stops = [technician.depot, *(visit.site for visit in trip.visits), technician.depot]
    miles = [book.miles(*leg) for leg in pairwise(stops)]
    minutes = [book.minutes(*leg) for leg in pairwise(stops)]
    needs = [need for visit in trip.visits for need in visit.needs]
    announced = book.lock.announced
    moved = [n for n in needs if n.name in announced and announced[n.name] != n.on]
    reckoned = Costs(
        miles=sum(_half_up(Fraction(leg * prices.mile, 100)) for leg in miles),
        hours=sum(_half_up(Fraction(leg * prices.hour, 60)) for leg in minutes),
        trips=prices.trip,
        nights=(clock.on - trip.starts_on).days * prices.night,
        visits=len(trip.visits) * prices.visit,
        lost_days=sum(_lost_cents(book, need) for need in needs),
        changes=len(moved) * prices.change,
    )
    yield from differs(name, "miles", trip.miles, sum(miles))
    yield from differs(name, "drive_minutes", trip.drive_minutes, sum(minutes))
    for part in (one.name for one in fields(Costs)):
        told, own = getattr(trip.costs, part), getattr(reckoned, part)
        yield from differs(name, f"cents of {part}", told, own)


def _lost_cents(book: Book, told: ToldNeed) -> int:
    """What being early costs: the price of a day, or the fee's part of the interval."""
    need, price = book.needs[told.name], book.order.prices.lost_day
    days = _lost_days(need, told.on)
    if days == 0:
        return 0
    return (
        days * price
        if price is not None
        else _half_up(Fraction(days * need.fee, need.interval_days))
    )


def _lost_days(need: Need, on: dt.date) -> int:
    """How many days of its interval are lost by being served early."""
    early = (need.nominal_on - on).days
    if need.interval_days == 0 or early <= max(0, need.kept_days):
        return 0
    return early


def _half_up(amount: Fraction) -> int:
    return (amount + Fraction(1, 2)).__floor__()


def differs(where: str, what: str, told: object, reckoned: object) -> Iterator[str]:
    """A sentence where what is told is not what is reckoned."""
    if told != reckoned:
        yield f"{where}: {what} told as {_said(told)}, reckoned as {_said(reckoned)}."


def _said(value: object) -> str:
    """A number as it is; a day and minute in words."""
    return f"{value[0]} minute {value[1]}" if isinstance(value, tuple) else str(value)


def trip_name(trip: ToldTrip) -> str:
    """What a sentence calls it."""
    return f"The trip of {trip.technician} on {trip.starts_on}"
