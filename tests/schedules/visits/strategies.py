"""Which orders of visits, and which trips, do the properties draw?

`problems()` draws a small valid order, with some needs announced; `trips(problem)` a trip on it,
that may or may not be possible. Drives are often longer than a day is, days off and closures often
in the way; everything shrinks towards one site, one technician and short legs.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from itertools import product

from hypothesis import strategies as st

from schedules.visits.model import Depot, Lock, Need, Order, Prices, Stand, Technician, Trip
from schedules.visits.problem import Problem

__all__ = ["orders", "problems", "quickest", "trips"]

# A Wednesday to a Sunday: the first and last week of the span are not whole, a year ends in it.
FROM_ON = dt.date(2026, 12, 23)
DAYS = tuple(FROM_ON + dt.timedelta(days=number) for number in range(19))
ALL = frozenset(DAYS)
KINDS = ("microscope", "centrifuge")

Table = tuple[tuple[int, ...], ...]


@st.composite
def orders(draw: st.DrawFn) -> Order:
    """A valid order: 1 to 4 sites, 1 or 2 depots, 1 or 2 technicians, 1 to 6 needs."""
    sites = ("Alder", "Birch", "Cedar", "Elm")[: draw(st.integers(1, 4))]
    depots = ("North", "South")[: draw(st.integers(1, 2))]
    technicians = ("Ash", "Bay")[: draw(st.integers(1, 2))]
    needs = [draw(_needs(number, sites)) for number in range(draw(st.integers(1, 6)))]
    places = len(sites) + len(depots)
    return Order(
        from_on=DAYS[0],
        to_on=DAYS[-1],
        stands=tuple(
            Stand(site=site, latitude=41.0, longitude=-97.0, open_on=ALL - draw(_few_days()))
            for site in sites
        ),
        depots=tuple(Depot(depot=depot, latitude=41.0, longitude=-96.0) for depot in depots),
        technicians=tuple(draw(_technicians(name, depots)) for name in technicians),
        needs=tuple(needs),
        prices=draw(_prices()),
        miles=draw(_tables(places, st.integers(0, 50_000))),
        minutes=draw(
            _tables(places, st.one_of(st.integers(0, 60), st.integers(0, 240), st.integers(0, 900)))
        ),
    )


def quickest(legs: Table) -> Table:
    """The legs by the quickest ways, so that no way round is quicker than the way itself.

    Roads are so, and a table drawn at random is not (Floyd and Warshall's method).
    """
    some = [list(row) for row in legs]
    for via, start, end in product(range(len(legs)), repeat=3):
        some[start][end] = min(some[start][end], some[start][via] + some[via][end])
    return tuple(map(tuple, some))


@st.composite
def problems(draw: st.DrawFn) -> Problem:
    """An order of which some needs are announced."""
    order = draw(orders())
    names = st.sampled_from([need.name for need in order.needs])
    return Problem(order, Lock(announced=draw(st.dictionaries(names, st.sampled_from(DAYS)))))


@st.composite
def trips(draw: st.DrawFn, problem: Problem) -> Trip:
    """Any technician, day of the axis and needs in any order, those of a site often together."""
    technician = draw(st.sampled_from(problem.order.technicians))
    needs = draw(st.permutations(problem.order.needs))[: draw(st.integers(1, 6))]
    if technician.kinds is not None and draw(st.booleans()):
        needs = [need for need in needs if need.kind in technician.kinds] or needs
    if draw(st.booleans()):
        needs = sorted(needs, key=lambda need: need.site)
    return Trip(
        technician.technician,
        draw(st.sampled_from(problem.days)),
        tuple(need.name for need in needs),
    )


def _few_days(sets: int = 3) -> st.SearchStrategy[frozenset[dt.date]]:
    """None, or about one day in eight: one number is three sets of days, that share so many."""
    bits = len(DAYS)
    return st.integers(0, 2 ** (sets * bits) - 1).map(
        lambda drawn: frozenset(
            on
            for number, on in enumerate(DAYS)
            if all(drawn >> (turn * bits + number) & 1 for turn in range(sets))
        )
    )


@st.composite
def _technicians(draw: st.DrawFn, name: str, depots: Sequence[str]) -> Technician:
    weekend = draw(st.booleans())
    days = ALL - draw(_few_days())
    return Technician(
        technician=name,
        vendor=draw(st.sampled_from(("Loup Service", "Sandhills Service"))),
        depot=draw(st.sampled_from(depots)),
        works_on=frozenset(on for on in days if weekend or on.weekday() < 5) or ALL,
        day_minutes=draw(st.sampled_from((480, 120, 607))),
        max_nights=draw(st.integers(0, 5)),
        kinds=draw(st.sampled_from((None, None, frozenset(KINDS[:1])))),
    )


@st.composite
def _needs(draw: st.DrawFn, number: int, sites: Sequence[str]) -> Need:
    is_wide = draw(st.integers(0, 3)) > 0
    opens = -3 if is_wide else draw(st.integers(-3, 14))
    limit = 21 if is_wide else opens + draw(st.integers(0, 30))
    nominal = opens + draw(st.integers(0, 40))
    return Need(
        property_number=f"{number + 1:04}",
        task="annual-service",
        kind=draw(st.sampled_from((KINDS[0], *KINDS))),
        site=draw(st.sampled_from(sites)),
        opens_on=FROM_ON + dt.timedelta(days=opens),
        nominal_on=FROM_ON + dt.timedelta(days=nominal),
        due_on=FROM_ON + dt.timedelta(days=limit),
        limit_on=FROM_ON + dt.timedelta(days=limit),
        minutes=draw(st.integers(1, 130)),
        fee=draw(st.integers(0, 200_000)),
        interval_days=draw(st.sampled_from((0, 30, 365))),
        kept_days=draw(st.integers(0, 12)),
        closed_on=draw(_few_days(sets=2)),
    )


def _prices() -> st.SearchStrategy[Prices]:
    cents = st.integers(0, 20_000)
    return st.builds(
        Prices,
        mile=st.integers(0, 300),
        hour=cents,
        trip=cents,
        night=cents,
        visit=cents,
        change=cents,
        lost_day=st.one_of(st.none(), st.integers(0, 500)),
    )


def _tables(places: int, legs: st.SearchStrategy[int]) -> st.SearchStrategy[Table]:
    """A leg for each two places, there and back not always alike."""
    rows = st.lists(legs, min_size=places * places, max_size=places * places)
    return rows.map(
        lambda drawn: tuple(
            tuple(0 if a == b else drawn[a * places + b] for b in range(places))
            for a in range(places)
        )
    )
