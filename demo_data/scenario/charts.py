"""What do the bench's charts say? One mark a day for cell rules, with the habits of each site.

Most sites are good, some are fair, a few are poor. A chart is held day by day, so that the flaws of
the story can change single days; `entries_of` then folds runs of the same mark into `to` spans.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from demo_data.scenario.chance import Chance
from demo_data.scenario.habits import habit_of
from demo_data.scenario.opening import LAST_ON
from demo_data.scenario.presence import expected_days, site_on, version_on
from demo_data.scenario.staff import initials_of_site
from fleet.domain.records import Entry, Mark, Unit
from schedules.rules import Each, ReadingRange, Rule

__all__ = ["Chart", "DayMark", "draw_chart", "entries_of", "period_of"]

READINGS_FROM = LAST_ON - dt.timedelta(days=115)
"""Before this day the paper charts came in without their readings."""

_GAP_CHANCE = {"good": 0.0004, "fair": 0.002, "poor": 0.012}


@dataclass(frozen=True, slots=True)
class DayMark:
    """What the chart says of one day."""

    mark: Mark
    initials: str
    note: str = ""
    reading: str = ""
    recorded_at: dt.datetime | None = None
    key: str = ""


Chart = dict[dt.date, DayMark]


def period_of(each: Each, on: dt.date) -> tuple[int, int]:
    """A number for the period of a day: year (ISO year for weeks) and place in the year."""
    if each is Each.WEEK:
        return on.isocalendar()[:2]
    places = {
        Each.OPEN_DAY: on.timetuple().tm_yday,
        Each.MONTH: on.month,
        Each.QUARTER: (on.month - 1) // 3,
        Each.HALF_YEAR: (on.month - 1) // 6,
        Each.YEAR: 0,
    }
    return on.year, places[each]


def draw_chart(unit: Unit, versions: Sequence[Rule], copy: int) -> Chart:
    """The chart of one cell rule; `copy` counts from 0 where a rule asks for several marks."""
    chance = Chance("chart", unit.property_number, versions[0].task, str(copy))
    days = list(_marking_days(expected_days(unit), versions, copy, chance))
    chart: Chart = {}
    hand, unused_left, gap_left = 0, 0, 0
    for day, rule in days:
        site = site_on(unit, day)
        hands = initials_of_site(site)
        daily = rule.each is Each.OPEN_DAY
        if chance.happens(1 / 30 if daily else 1 / 8):
            hand = chance.whole(0, len(hands) - 1)
        if gap_left == 0 and chance.happens(_GAP_CHANCE[habit_of(site)] * (1 if daily else 4)):
            gap_left = chance.whole(1, 3) if daily else 1
        if unused_left == 0 and _may_rest(rule) and chance.happens(0.008):
            unused_left = chance.whole(1, 5)
        if gap_left:
            gap_left -= 1
            continue
        mark = Mark.UNUSED if unused_left else Mark.DONE
        unused_left = max(0, unused_left - 1)
        reading = _reading(rule, day, chance) if mark is Mark.DONE else ""
        chart[day] = DayMark(mark, hands[hand % len(hands)], reading=reading)
    return chart


def _may_rest(rule: Rule) -> bool:
    """What keeps running is never marked unused: cold and warm stores, safety equipment."""
    always_on = {"refrigerator", "freezer", "incubator", "thermometer", "eyewash"}
    return rule.each is Each.OPEN_DAY and rule.range is None and rule.kind not in always_on


def _marking_days(
    days: Sequence[dt.date], versions: Sequence[Rule], copy: int, chance: Chance
) -> Iterator[tuple[dt.date, Rule]]:
    """The days on which a mark is due to be made: every expected day, or one a period."""
    ruled = [(day, rule) for day in days if (rule := version_on(versions, day)) is not None]
    weekday = chance.whole(0, 4)

    def period(row: tuple[dt.date, Rule]) -> tuple[Each, tuple[int, int]]:
        each = row[1].each or Each.OPEN_DAY
        return each, period_of(each, row[0])

    for (each, _), rows in groupby(ruled, key=period):
        found = [row for row in rows if row[1].times > copy]
        if each is Each.OPEN_DAY or not found:
            yield from found
            continue
        place = weekday if each is Each.WEEK else chance.whole(1, 12)
        if place < len(found) or found[-1][0] < LAST_ON - dt.timedelta(days=6):
            yield found[min(place, len(found) - 1)]


def _reading(rule: Rule, on: dt.date, chance: Chance) -> str:
    if rule.range is None or (rule.each is Each.OPEN_DAY and on < READINGS_FROM):
        return ""
    low, high = _limits(rule.range)
    middle, reach = (low + high) / 2, (high - low) * 0.3
    return f"{middle + reach * chance.spread():.1f}"


def _limits(held: ReadingRange) -> tuple[float, float]:
    """The ends of a range; an open end lies ten degrees beyond the other."""
    low = None if held.low is None else float(held.low)
    high = None if held.high is None else float(held.high)
    if low is None:
        return (high or 0.0) - 10, high or 0.0
    return low, low + 10 if high is None else high


def entries_of(
    unit: Unit, task: str, chart: Mapping[dt.date, DayMark], *, folded: bool
) -> Iterator[Entry]:
    """The chart as entries; `folded` runs of the same mark become spans within one year.

    A run is broken by an expected day without mark, so no span fills a gap.
    """
    place_of = {day: place for place, day in enumerate(expected_days(unit))}
    run: list[dt.date] = []
    for day in sorted(chart):
        if run and not (
            folded
            and day in place_of
            and place_of.get(run[-1], -9) + 1 == place_of[day]
            and chart[day] == chart[run[0]]
            and day.year == run[0].year
        ):
            yield _entry(unit, task, chart[run[0]], run)
            run = []
        run.append(day)
    if run:
        yield _entry(unit, task, chart[run[0]], run)


def _entry(unit: Unit, task: str, said: DayMark, run: Sequence[dt.date]) -> Entry:
    return Entry(
        key=said.key,
        property_number=unit.property_number,
        task=task,
        on=run[0],
        to_on=run[-1] if len(run) > 1 else None,
        mark=said.mark,
        initials=said.initials,
        note=said.note,
        reading=said.reading,
        recorded_at=said.recorded_at,
    )
