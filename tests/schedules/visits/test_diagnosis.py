"""Is it said why needs cannot be placed, in whole sentences, with a mend that works?"""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from schedules.visits.diagnosis import Code, Finding, diagnose, explain_unplaced, mended
from schedules.visits.diagnosis.mends import (
    AllowNights,
    ExtendLimit,
    LiftUnsuitable,
    LongerDay,
    Mend,
    MoreTechnicians,
    OpenSite,
    OpenTrip,
    ServeKind,
    Several,
    SplitService,
    WorkOn,
    mended_problem,
)
from schedules.visits.model import Lock, Order, Plan, Trip
from schedules.visits.problem import Problem
from schedules.visits.walk import home_at
from tests.schedules.visits.good_plan import FRI, MON, NEXT_WEEK, ORDER, THU, TUE, WED, WEEK, need

NAME = "1/service/2027-01-20"
FIRST_WEEK: dict[str, Any] = {"opens_on": MON, "limit_on": FRI}


def order_of(site: str = "Alder", **other: Any) -> Order:
    return replace(ORDER, needs=(need("1", site, **other),))


def of_technicians(order: Order, **other: Any) -> Order:
    return replace(order, technicians=tuple(replace(one, **other) for one in order.technicians))


def the_one(order: Order) -> Finding:
    (finding,) = diagnose(Problem(order))
    return finding


def is_servable(order: Order) -> bool:
    """Whether every need has a trip of its own, asked of the walk alone."""
    problem = Problem(order)
    begun = np.zeros(1, dtype=np.int32)
    return all(
        any(
            home_at(problem.arrays, who, start, np.array([n], np.int32), 1, begun) >= 0
            for who in range(len(order.technicians))
            for start in range(len(problem.days))
        )
        for n in range(len(order.needs))
    )


CLOSED = replace(
    order_of(**FIRST_WEEK, closed_on=frozenset((THU, FRI))),
    stands=(replace(ORDER.stands[0], open_on=NEXT_WEEK | {THU, FRI}), ORDER.stands[1]),
)
SHUT = replace(
    order_of(opens_on=MON, limit_on=TUE),
    stands=(replace(ORDER.stands[0], open_on=NEXT_WEEK), ORDER.stands[1]),
)
FAR = replace(
    of_technicians(order_of(), max_nights=0), minutes=((0, 120, 400), (120, 0, 240), (400, 240, 0))
)
KINDS = of_technicians(order_of(kind="autoclave"), kinds=frozenset({"microscope"}))

CASES: list[tuple[Order, Code, str, Mend]] = [
    (
        order_of(opens_on=dt.date(2026, 12, 1), limit_on=dt.date(2027, 1, 1)),
        Code.PAST_LIMIT,
        "Unit 1 (service) at Alder was to be served by Fri 1 Jan 2027, 3 days before the plan"
        " begins on Mon 4 Jan 2027.",
        ExtendLimit(NAME, MON),
    ),
    (
        CLOSED,
        Code.NO_OPEN_DAY,
        "Unit 1 (service) at Alder has no day to be served: from Mon 4 Jan 2027 to Fri 8 Jan 2027"
        " the site is closed on Mon 4 Jan 2027 to Wed 6 Jan 2027, and not suitable on"
        " Thu 7 Jan 2027 to Fri 8 Jan 2027.",
        LiftUnsuitable(NAME, FRI),
    ),
    (
        SHUT,
        Code.NO_OPEN_DAY,
        "Unit 1 (service) at Alder has no day to be served: from Mon 4 Jan 2027 to Tue 5 Jan 2027"
        " the site is closed on Mon 4 Jan 2027 to Tue 5 Jan 2027.",
        OpenSite("Alder", TUE),
    ),
    (
        order_of(minutes=500),
        Code.LONGER_THAN_DAY,
        "Unit 1 (service) at Alder takes 8 h 20 min, longer than the longest day of a technician"
        " who may serve it, 8 h.",
        LongerDay("Ash", 500),
    ),
    (
        order_of(minutes=900),
        Code.LONGER_THAN_DAY,
        "Unit 1 (service) at Alder takes 15 h, longer than the longest day of a technician who may"
        " serve it, 8 h.",
        SplitService(NAME, 2),
    ),
    (
        FAR,
        Code.OUT_OF_REACH,
        "Unit 1 (service) at Alder is out of reach: 6 h 40 min there, 1 h of service and 6 h 40 min"
        " back take 2 days and 1 night away, and 0 is the most a technician may be away.",
        AllowNights("Ash", 1),
    ),
    (
        KINDS,
        Code.OUT_OF_REACH,
        "Unit 1 (service) at Alder cannot be served: no technician serves the kind autoclave.",
        ServeKind("Ash", "autoclave"),
    ),
    (
        of_technicians(order_of(**FIRST_WEEK), works_on=NEXT_WEEK),
        Code.OUT_OF_REACH,
        "Unit 1 (service) at Alder is out of reach: no technician who may serve it works on one of"
        " its 5 open days from Mon 4 Jan 2027 to Fri 8 Jan 2027.",
        WorkOn("Ash", (FRI,)),
    ),
]


@pytest.mark.parametrize(("order", "code", "words", "mend"), CASES)
def test_what_no_trip_can_serve_is_said_with_the_mildest_mend(
    order: Order, code: Code, words: str, mend: Mend
) -> None:
    finding = the_one(order)

    assert (finding.code, finding.words, finding.mend) == (code, words, mend)
    assert finding.is_proved
    assert not is_servable(order)
    assert is_servable(mended(order, mend))


def test_two_faults_at_once_get_a_mend_of_two_changes() -> None:
    far = replace(FAR, needs=order_of(limit_on=dt.date(2027, 1, 1)).needs)
    finding = the_one(far)

    assert finding.code is Code.PAST_LIMIT
    assert isinstance(finding.mend, Several)
    assert is_servable(mended(far, finding.mend))


def test_too_full_a_span_is_said_with_its_needs_and_numbers() -> None:
    needs = tuple(need(str(n), "Alder", opens_on=MON, limit_on=TUE, minutes=200) for n in range(6))
    order = replace(ORDER, needs=needs, technicians=ORDER.technicians[:1])
    finding = the_one(order)

    assert finding.code is Code.CAPACITY
    assert finding.words == (
        "Too much for Ash: the 6 needs that can be served only from Mon 4 Jan 2027 to"
        " Tue 5 Jan 2027 (unit 0 at Alder, unit 1 at Alder, unit 2 at Alder, unit 3 at Alder,"
        " unit 4 at Alder, and 1 more) take 20 h of service and at least 3 h of driving, and there"
        " are 16 h."
    )
    assert finding.numbers["excess_minutes"] == 1200 + 180 - 960
    assert isinstance(finding.mend, MoreTechnicians)
    assert diagnose(Problem(mended(order, finding.mend))) == []


def test_a_need_on_a_day_of_confirmed_trips_asks_for_the_trip_to_be_opened() -> None:
    trips = (
        Trip("Ash", MON, ("2/service/2027-01-20",)),
        Trip("Bay", MON, ("3/service/2027-01-20",)),
    )
    single = need("1", "Alder", opens_on=MON, limit_on=MON, minutes=30)
    near = tuple(tuple(leg // 4 for leg in row) for row in ORDER.minutes)
    order = replace(ORDER, minutes=near, needs=(single, *ORDER.needs[1:]))
    problem, plan = Problem(order, Lock(confirmed=trips)), Plan(trips, (NAME,))
    (finding,) = explain_unplaced(problem, plan)

    assert not finding.is_proved
    assert finding.mend == OpenTrip(trips[0])
    assert finding.words == (
        "Unit 1 (service) at Alder found no place by Mon 4 Jan 2027 beside the other visits; it"
        " would: open Ash's confirmed trip of Mon 4 Jan 2027."
    )
    # Joined to the visit of unit 2 at the same site, it adds its 16 lost days at 1.00 each.
    assert finding.cents == 1600
    assert mended_problem(problem, OpenTrip(trips[0])).lock.confirmed == trips[1:]


def test_what_the_search_only_missed_is_said_to_have_a_place() -> None:
    (finding,) = explain_unplaced(Problem(order_of()), Plan((), (NAME,)))

    assert (finding.code, finding.mend) == (Code.NOT_FOUND, None)
    assert finding.words == (
        "Unit 1 (service) at Alder was left out by the search and has a place by Fri 22 Jan 2027 in"
        " the plan as it is."
    )


@pytest.mark.parametrize(
    "order",
    [
        replace(ORDER, needs=()),
        replace(ORDER, technicians=()),
        replace(ORDER, technicians=(), depots=(), minutes=((0, 1), (1, 0)), miles=((0, 1), (1, 0))),
        of_technicians(ORDER, works_on=frozenset()),
        replace(ORDER, stands=tuple(replace(one, open_on=frozenset()) for one in ORDER.stands)),
        order_of(minutes=0),
        order_of(minutes=1_000_000),
        order_of(opens_on=dt.date(2027, 3, 1), limit_on=dt.date(2027, 3, 31)),
        order_of(opens_on=WED, limit_on=TUE),
        of_technicians(order_of(), works_on=WEEK, max_nights=0, day_minutes=30),
    ],
)
def test_a_poor_order_is_survived(order: Order) -> None:
    problem = Problem(order)
    names = tuple(one.name for one in order.needs)
    findings = diagnose(problem)

    found = {name for finding in findings for name in finding.needs}
    servable = {one.name for one in order.needs if is_servable(replace(order, needs=(one,)))}
    assert found == set(names) - servable
    assert len(explain_unplaced(problem, Plan((), names))) == len(names)
