"""What does the engine say of one unit and one task? A fleet of one, written in dates."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from schedules.calendars import CalendarIndex, SiteCalendar, Spell
from schedules.dates import FAR, NEVER, date_of, day_of
from schedules.errors import ScheduleError
from schedules.marks import MarkedYears
from schedules.rules import Each, Interval, Kind, Roll, Rule
from schedules.status import Duties, prepare, status
from schedules.units import STATES, UnitColumns, UnitSpan
from tests.outside import day

__all__ = [
    "EVERY_DAY",
    "MON_TO_FRI",
    "Answer",
    "OneUnit",
    "a_cell_rule",
    "a_fixed_rule",
    "a_rule",
    "a_site",
    "closed",
    "days",
]

MON_TO_FRI = frozenset(range(5))
EVERY_DAY = frozenset(range(7))


def days(*texts: str) -> tuple[dt.date, ...]:
    """Dates written YYYY-MM-DD."""
    return tuple(day(text) for text in texts)


def a_rule(every: str | None = "P1Y", **fields: object) -> Rule:
    """An anchored rule, not rolled unless said so."""
    values = {"roll": Roll.NONE, "every": Interval.parse(every) if every else None, **fields}
    return Rule(kind="microscope", task="service", title="Service", source="test", **values)  # type: ignore[arg-type]


def a_fixed_rule(anchor: str, every: str = "P1Y", **fields: object) -> Rule:
    """A fixed rule, not rolled unless said so."""
    return a_rule(every, anchor_on=day(anchor), **fields)


def a_cell_rule(each: str, **fields: object) -> Rule:
    """A cell rule."""
    return a_rule(None, each=Each(each), **fields)


def closed(first: str, last: str, reason: str = "rebuilding") -> Spell:
    """Days closed, both ends included."""
    return Spell(day(first), day(last), reason)


def a_site(
    open_days: Iterable[int] = MON_TO_FRI, *closures: Spell, site: str = "Alder", **fields: object
) -> SiteCalendar:
    """A site with one weekly pattern, without holidays unless said so."""
    weekly = ((dt.date.min, frozenset(open_days)),)
    return SiteCalendar(site, weekly=weekly, closures=closures, **fields)  # type: ignore[arg-type]


class Answer(NamedTuple):
    """The fields of `due` that a rule makes; None where they are empty."""

    state: str
    nominal: dt.date | None
    opens: dt.date | None
    due: dt.date | None
    limit: dt.date | None
    days_past_due: int | None
    open_days_past_due: int | None
    missed: int | None


@dataclass(frozen=True, kw_only=True)
class OneUnit:
    """One unit and the versions of its one task; moves and outages by calendar and by dates."""

    rules: Sequence[Rule]
    sites: Sequence[SiteCalendar] = (a_site(EVERY_DAY),)
    in_service: str
    retired: str = ""
    record_from: str = ""
    moves: Sequence[tuple[str, int]] = ()
    outages: Sequence[tuple[str, str]] = ()
    """First day and day of return, '' for not back yet."""
    done: Sequence[dt.date] = ()
    unused: Sequence[dt.date] = field(default=())

    def columns(self) -> UnitColumns:
        """The unit as columns."""
        span = UnitSpan(
            in_service=day_of(day(self.in_service)),
            retired=day_of(day(self.retired)) if self.retired else FAR,
            record_from=day_of(day(self.record_from or self.in_service)),
            calendar=0,
            moves=tuple((day_of(day(on)), site) for on, site in self.moves),
            outages=tuple(
                (day_of(day(first)), day_of(day(back)) if back else FAR)
                for first, back in self.outages
            ),
        )
        return UnitColumns.build([span])

    def marks(self) -> MarkedYears:
        """The unit's record."""
        marked = [day_of(on) for on in (*self.done, *self.unused)]
        is_done = np.arange(len(marked)) < len(self.done)
        return MarkedYears.pack(
            np.zeros(len(marked), dtype=np.int64), np.array(marked, dtype=np.int32), is_done
        )

    def versions(self) -> tuple[Rule, ...]:
        """The rules in the order of `Kind.tasks`."""
        return Kind("microscope", "Bench microscope", tuple(self.rules)).tasks("A1")["service"]

    def asked(self, on: str) -> tuple[Answer, ScheduleError | None]:
        """The answer on a day, and what kept the row from one."""
        duties = Duties([self.versions()], [0, 1], np.zeros(1, dtype=np.int64))
        prepared = prepare(duties, self.columns(), self.marks(), day_of(day(on)))
        found = status(prepared, CalendarIndex(self.sites, *prepared.span()))
        dates = (found.nominal, found.opens, found.due, found.limit)
        counts = (found.days_past_due, found.open_days_past_due, found.missed)
        state = STATES[found.state[0]] if found.state[0] >= 0 else "no row"
        nominal, opens, due, limit = (
            None if column[0] in (FAR, NEVER) else date_of(column[0]) for column in dates
        )
        late, open_late, missed = (None if column[0] < 0 else int(column[0]) for column in counts)
        answer = Answer(state, nominal, opens, due, limit, late, open_late, missed)
        return answer, found.failures.get(0)

    def on(self, on: str) -> Answer:
        """The answer on a day, which must be one."""
        answer, failure = self.asked(on)
        assert failure is None, str(failure)
        return answer

    def refused(self, on: str) -> str:
        """The words in which the row was refused."""
        _, failure = self.asked(on)
        assert failure is not None
        return str(failure)
