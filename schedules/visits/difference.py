"""What has become of a plan? Which visits and units moved, came or went, and what that costs.

A *visit* is a stop at a site. It is the same visit in both plans that has most needs in common; it
*moved* if it begins on another day, or another technician comes. A *unit* moved if it is served on
another day.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from schedules.visits.model import Grade
from schedules.visits.told import ToldPlan

__all__ = ["Difference", "Move", "Stop", "difference", "paired", "stops", "unit_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stop:
    """A visit as it is compared: `on` is the day its first need is served."""

    site: str
    technician: str
    on: dt.date
    needs: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """A visit that is not what it was; `was` None: it came, `now` None: it went."""

    was: Stop | None
    now: Stop | None
    grade: Grade = Grade.FREE

    @property
    def stop(self) -> Stop:
        """The visit as it is, or was before it went."""
        stop = self.was if self.now is None else self.now
        if stop is None:
            raise ValueError("a move has a visit before it, after it or both")
        return stop


@dataclass(frozen=True, slots=True, kw_only=True)
class Difference:
    """How two plans differ; units are property numbers, money whole cents, miles hundredths."""

    moves: tuple[Move, ...]
    units_moved: int
    units_added: int
    units_dropped: int
    cents_before: int
    cents_after: int
    miles_before: int
    miles_after: int

    @property
    def visits_moved(self) -> int:
        """Visits that are on another day, or by another technician."""
        return sum(move.was is not None and move.now is not None for move in self.moves)

    @property
    def visits_added(self) -> int:
        """Visits that were not there."""
        return sum(move.was is None for move in self.moves)

    @property
    def visits_dropped(self) -> int:
        """Visits that are there no longer."""
        return sum(move.now is None for move in self.moves)

    def moved_of(self, grade: Grade) -> int:
        """How many visits of a grade moved or went."""
        return sum(move.was is not None and move.grade is grade for move in self.moves)

    @property
    def cost_percent(self) -> str:
        """By how much the cost changed, to a tenth of a percent: '+1.2'; '' from nothing."""
        if not self.cents_before:
            return ""
        change = self.cents_after - self.cents_before
        tenths = (2000 * abs(change) + self.cents_before) // (2 * self.cents_before)
        sign = "-" if change < 0 and tenths else "+"
        return f"{sign}{tenths // 10}.{tenths % 10}"

    @property
    def words(self) -> str:
        """'moved: 3 visits, 4 units; cost +1.2 %', and what came and went, if anything did."""
        counts = {
            "moved": (self.visits_moved, self.units_moved),
            "added": (self.visits_added, self.units_added),
            "dropped": (self.visits_dropped, self.units_dropped),
        }
        parts = [
            f"{what}: {_counted(visits, 'visit')}, {_counted(units, 'unit')}"
            for what, (visits, units) in counts.items()
            if what == "moved" or visits or units
        ]
        percent = self.cost_percent
        money = f"cost {percent} %" if percent else f"cost {_money(self.cents_after)} from nothing"
        return "; ".join([*parts, money])


def difference(
    before: ToldPlan, after: ToldPlan, grades: Mapping[str, Grade] | None = None
) -> Difference:
    """How `after` differs from `before`; grades: how firmly needs stood before, by their names."""
    old, new = stops(before), stops(after)
    grade_of = grades or {}
    moves = []
    met = set()
    for one, other in paired(old, new):
        met |= {one, other}
        if (one.on, one.technician) != (other.on, other.technician):
            moves.append(Move(was=one, now=other, grade=_firmest(grade_of, one.needs)))
    moves += [
        Move(was=one, now=None, grade=_firmest(grade_of, one.needs))
        for one in old
        if one not in met
    ]
    moves += [Move(was=None, now=one) for one in new if one not in met]
    then, now = _days(before), _days(after)
    common = then.keys() & now.keys()
    return Difference(
        moves=tuple(
            sorted(moves, key=lambda move: (move.stop.on, move.stop.site, move.stop.needs))
        ),
        units_moved=_units(name for name in common if then[name] != now[name]),
        units_added=_units(now.keys() - common),
        units_dropped=_units(then.keys() - common),
        cents_before=before.costs.total,
        cents_after=after.costs.total,
        miles_before=before.miles,
        miles_after=after.miles,
    )


def stops(plan: ToldPlan) -> list[Stop]:
    """Every visit of a plan, in the order of its trips."""
    return [
        Stop(
            site=visit.site,
            technician=trip.technician,
            on=visit.needs[0].on,
            needs=tuple(need.name for need in visit.needs),
        )
        for trip in plan.trips
        for visit in trip.visits
    ]


def paired(before: Sequence[Stop], after: Sequence[Stop]) -> list[tuple[Stop, Stop]]:
    """Which visits are the same: of one site, most needs in common; each is in one pair at most.

    Of several alike, the pair on the same day, by the same technician, then the earliest.
    """
    at: dict[str, list[Stop]] = {}
    for stop in after:
        at.setdefault(stop.site, []).append(stop)
    closeness = sorted(
        (
            (-shared, one.on != two.on, one.technician != two.technician, one.on, two.on, i, j)
            for i, one in enumerate(before)
            for j, two in enumerate(at.get(one.site, ()))
            if (shared := len(set(one.needs) & set(two.needs)))
        ),
    )
    found, taken = [], set[Stop]()
    for *_, i, j in closeness:
        one, two = before[i], at[before[i].site][j]
        if one not in taken and two not in taken:
            taken |= {one, two}
            found.append((i, one, two))
    return [(one, two) for _, one, two in sorted(found, key=lambda pair: pair[0])]


def unit_of(need: str) -> str:
    """The property number in a need's name, 'UNIT/TASK/DUE'."""
    return need.rsplit("/", 2)[0]


def _days(plan: ToldPlan) -> dict[str, dt.date]:
    needs = (need for trip in plan.trips for visit in trip.visits for need in visit.needs)
    return {need.name: need.on for need in needs}


def _units(names: Iterable[str]) -> int:
    return len({unit_of(name) for name in names})


def _firmest(grades: Mapping[str, Grade], needs: Collection[str]) -> Grade:
    found = {grades.get(name, Grade.FREE) for name in needs}
    return next(grade for grade in Grade if grade in found)


def _counted(count: int, noun: str) -> str:
    return f"{count:,} {noun}" if count == 1 else f"{count:,} {noun}s"


def _money(cents: int) -> str:
    return f"{cents // 100:,}.{cents % 100:02}"
