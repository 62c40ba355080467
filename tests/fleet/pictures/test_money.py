"""Where the money goes: what is late and unplaced first, parts as wide as their dollars."""

from __future__ import annotations

from dataclasses import fields, replace
from textwrap import dedent

import pytest

from fleet.pictures.money import money, money_text
from fleet.services.visits.answer import Compared, compared
from schedules.visits.told import Costs
from tests.fleet.pictures.made import a_plan
from tests.fleet.pictures.svg_read import boxes, called, groups, outside, read, texts

DEAR = Costs(
    miles=7_822_400,
    hours=19_345_550,
    trips=4_200_000,
    nights=2_100_000,
    visits=1_120_000,
    lost_days=0,
    changes=49,
)


def three_plans() -> list[Compared]:
    plan = compared("this plan", a_plan())
    own = replace(plan, name="own dates", costs=DEAR, late=46, unplaced=0, miles=11_174_750)
    return [plan, own, replace(own, name="by site", late=3, costs=replace(DEAR, hours=50))]


def test_the_parts_and_their_bars_stand_in_80_columns() -> None:
    assert money_text(three_plans()) == dedent(
        """\
                                     this plan            own dates              by site
          late                               0                   46                    3
          unplaced                           2                    0                    0
          total                         $3,596             $345,880             $152,425
        M miles                           $679              $78,224              $78,224
        H hours driven                  $1,682             $193,456                   $1
        T trips                           $450              $42,000              $42,000
        N nights away                     $280              $21,000              $21,000
        V visits                          $200              $11,200              $11,200
        L lost interval                   $306                   $0                   $0
        C changes                           $0                   $0                   $0
          miles driven                     969              111,748              111,748

        this plan  $3,596
        own dates MMMMMMMMMMMMMHHHHHHHHHHHHHHHHHHHHHHHHHHHHHHHHHHTTTTTTTTNNNNVC $345,880
        by site   MMMMMMMMMMMMMTTTTTTTTNNNVV $152,425

        Each sum is rounded to the dollar by itself.
        Unplaced services are not paid for: compare the counts first.
        """
    )


def test_every_part_is_as_wide_as_its_dollars_and_says_them() -> None:
    root = read(money(three_plans()))
    _, own, _ = groups(root, "plan")
    assert called(own) == "own dates: $345,880"
    parts = {called(part): boxes(part)[0][2] for part in groups(own, "part")}
    assert list(parts) == [
        "miles: $78,224",
        "hours driven: $193,456",
        "trips: $42,000",
        "nights away: $21,000",
        "visits: $11,200",
        "changes: $0",
    ]
    cents = [getattr(DEAR, part.name) for part in fields(DEAR) if getattr(DEAR, part.name)]
    whole = sum(parts.values())
    for wide, part in zip(parts.values(), cents, strict=True):
        assert wide == pytest.approx(whole * part / DEAR.total, abs=0.02)
    assert texts(own)[:2] == ["own dates", "46 late, 0 unplaced"]
    assert list(outside(root)) == []


def test_plans_that_leave_different_counts_out_are_not_compared_by_their_totals_alone() -> None:
    told = "Unplaced services are not paid for: compare the counts first."
    plans = three_plans()
    assert told in money_text(plans)
    assert told in texts(read(money(plans)))
    assert told not in money_text(plans[1:])


def test_names_of_plans_may_be_anything() -> None:
    plans = [replace(one, name="<&> " + "x" * 60) for one in three_plans()]
    root = read(money(plans, "A & B <c>"))
    assert texts(root)[0] == "A & B <c>"
    assert list(outside(root)) == []
    assert max(map(len, money_text(plans).splitlines())) <= 80


def test_a_plan_that_costs_nothing_has_a_bar_of_nothing() -> None:
    free = replace(three_plans()[0], costs=Costs(), unplaced=0, miles=0)
    assert groups(read(money([free])), "part") == []
    assert money_text([free], 60).splitlines()[-3:] == [
        "this plan  $0",
        "",
        "Each sum is rounded to the dollar by itself.",
    ]


def test_the_same_plans_are_the_same_text() -> None:
    assert money(three_plans()) == money(three_plans())
