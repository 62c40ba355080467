"""What is each cell of a unit's chart of a year printed as?

A *slot* is a place for a cell in a row; it is empty (None) where no version of the rule asks for a
cell. Days of the year are counted from 0.
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache

from fleet.domain.records import Mark, StoredEntry
from fleet.services.charts.cells import CellState, Chart, ChartCell
from fleet.services.charts.days import Cause
from fleet.services.charts.facts import (
    NOT_ASKED,
    OPEN,
    OVER,
    SIGN_OF_CAUSE,
    ChartRow,
    Face,
    RowRole,
)
from fleet.services.charts.periods import (
    MONTHS_OF_EACH,
    first_monday,
    periods_of_year,
    weeks_of_year,
)
from fleet.services.charts.rows import RowPlan
from schedules.rules import Each, Rule

__all__ = ["YearRows", "asked_days"]

_DONE = "✓"
_SIGNS = ((Mark.DONE, "d"), (Mark.UNUSED, "u"), (Mark.EXPLAINED, "e"), (Mark.FILLED, "f"))
"""Of several marks the first of these that one of them says is told."""
_BY_SIGN = {sign: Face(sign) for sign in (*SIGN_OF_CAUSE.values(), OPEN, OVER, NOT_ASKED)}
_OPEN, _OVER, _NOT_ASKED = _BY_SIGN[OPEN], _BY_SIGN[OVER], _BY_SIGN[NOT_ASKED]
_ELSEWHERE = SIGN_OF_CAUSE[Cause.ELSEWHERE]
_BY_CAUSE = {cause: _BY_SIGN[sign] for cause, sign in SIGN_OF_CAUSE.items()}
Lines = Sequence[StoredEntry]
Slots = Sequence[ChartCell | None]


class YearRows:
    """The rows of one unit's chart at a site.

    tasks: the versions of each of the unit's tasks, as `Kind.tasks` has them. charts: the unit's of
    the year. signs: `YearChart.days`. done: for each task the lines that say done, by day of the
    year.
    """

    def __init__(
        self,
        year: int,
        on: dt.date,
        tasks: Mapping[str, tuple[Rule, ...]],
        charts: Iterable[Chart],
        signs: str,
        done: Callable[[str], Mapping[int, Lines]],
    ) -> None:
        self._year, self._tasks, self._signs, self._done = year, tasks, signs, done
        self._first_day = dt.date(year, 1, 1).toordinal()
        self._on = on.toordinal() - self._first_day
        self._cells = {chart.task: chart.cells for chart in charts}
        self._initials: dict[int, dict[str, None]] = defaultdict(dict)
        """Who made the marks that are told of a day."""
        self._is_asked, self._is_free = [False] * len(signs), [False] * len(signs)
        """Whether a row asks for a mark on a day of the year, or would take one."""

    def rows(self, plans: Iterable[RowPlan]) -> tuple[ChartRow, ...]:
        """The rows as they are planned, that of initials after all rows of days."""
        return tuple(
            ChartRow(
                role=plan.role,
                task=plan.task,
                title=plan.title,
                each=plan.each,
                turn=plan.turn,
                times=plan.times,
                versions=plan.versions,
                faces=tuple(self._faces(plan)),
            )
            for plan in plans
        )

    def _faces(self, plan: RowPlan) -> Iterator[Face]:
        if plan.role is RowRole.DAY:
            return self._day_faces(plan)
        if plan.role is RowRole.ON_DAY:
            return self._on_day_faces(plan)
        if plan.role is RowRole.INITIALS:
            return self._initials_faces()
        if plan.role is RowRole.DATED:
            return iter(())
        return (_face(cell, plan.turn, _long_text) for cell in self._slots(plan))

    def _slots(self, plan: RowPlan) -> Slots:
        """The cells of a row in the order of time."""
        cells = [c for c in self._cells.get(plan.task, ()) if c.rule.each is plan.each]
        if plan.each is Each.OPEN_DAY and len(cells) == len(self._signs):
            return cells
        if plan.each is Each.OPEN_DAY:
            count, first, size = len(self._signs), self._first_day, 1
        elif plan.each is Each.WEEK:
            count, first, size = weeks_of_year(self._year), first_monday(self._year).toordinal(), 7
        else:
            each = plan.each or Each.YEAR
            months = MONTHS_OF_EACH[each]
            by_place = {(cell.from_on.month - 1) // months: cell for cell in cells}
            return [by_place.get(place) for place in range(periods_of_year(each))]
        by_place = {(cell.from_on.toordinal() - first) // size: cell for cell in cells}
        return [by_place.get(place) for place in range(count)]

    def _day_faces(self, plan: RowPlan) -> Iterator[Face]:
        for day, cell in enumerate(self._slots(plan)):
            if cell is not None and cell.opens_on is not None and plan.turn <= cell.rule.times:
                self._is_asked[day] = True
                if lines := _lines(cell, plan.turn):
                    self._sign(day, lines)
            yield _face(cell, plan.turn, _short_text)

    def _on_day_faces(self, plan: RowPlan) -> Iterator[Face]:
        done = self._done(plan.task)
        is_asked = asked_days(self._year, self._tasks[plan.task], plan.versions)
        for day, sign in enumerate(self._signs):
            if not is_asked[day]:
                yield _NOT_ASKED
            elif day in done and sign != _ELSEWHERE:
                self._sign(day, done[day])
                yield Face("d", _names(done[day]) or _DONE)
            else:
                self._is_free[day] = True
                yield _BY_SIGN[sign]

    def _initials_faces(self) -> Iterator[Face]:
        for day, sign in enumerate(self._signs):
            if day in self._initials:
                yield Face("d", "/".join(self._initials[day]))
            elif sign == OPEN and self._is_asked[day]:
                yield _OVER if day < self._on else _OPEN
            elif sign == OPEN and not self._is_free[day]:
                yield _NOT_ASKED
            else:
                yield _BY_SIGN[sign]

    def _sign(self, day: int, lines: Lines) -> None:
        for line in lines:
            if initials := line.entry.initials.strip():
                self._initials[day][initials] = None


def _face(cell: ChartCell | None, turn: int, text: Callable[[str, Lines], str]) -> Face:
    """One cell in the row of its first mark, its second, and so on."""
    if cell is None or turn > cell.rule.times:
        return _NOT_ASKED
    if cell.reason is not None:
        return _BY_CAUSE[cell.reason.cause]
    if lines := _lines(cell, turn):
        sign, own = _told(lines)
        return Face(sign, text(sign, own))
    return _OVER if cell.state is CellState.GAP else _OPEN


def _lines(cell: ChartCell, turn: int) -> Lines:
    """The marks of a cell that a row tells: one each, the last row all that are left."""
    return cell.marks[turn - 1 :] if turn == cell.rule.times else cell.marks[turn - 1 : turn]


def _told(lines: Lines) -> tuple[str, Lines]:
    """The sign of some marks, and those of them that it is the sign of."""
    if len(lines) == 1:
        return _SIGN_OF[lines[0].entry.mark], lines
    said = {line.entry.mark for line in lines}
    mark, sign = next((mark, sign) for mark, sign in _SIGNS if mark in said)
    return sign, [line for line in lines if line.entry.mark is mark]


_SIGN_OF: Mapping[Mark | None, str] = dict(_SIGNS)


def _short_text(sign: str, lines: Lines) -> str:
    """What a day's cell says of a mark: a reading, or that it is done; initials stand below."""
    return (_readings(lines) or _DONE) if sign == "d" else ""


def _long_text(sign: str, lines: Lines) -> str:
    """What a cell of several days says: a reading and initials, or that it is done."""
    if sign != "d":
        return _names(lines)
    return " ".join(filter(None, (_readings(lines), _names(lines)))) or _DONE


def _readings(lines: Lines) -> str:
    """The last reading, '' where there is none."""
    return next((line.entry.reading for line in reversed(lines) if line.entry.reading), "")


def _names(lines: Lines) -> str:
    """The initials of those who made some marks, each once."""
    names = (line.entry.initials.strip() for line in lines)
    return "/".join(dict.fromkeys(filter(None, names)))


@lru_cache(maxsize=256)
def asked_days(year: int, versions: tuple[Rule, ...], own: tuple[Rule, ...]) -> Sequence[bool]:
    """Whether one of a row's own versions is in force, a day of the year each."""
    first, stop = dt.date(year, 1, 1).toordinal(), dt.date(year + 1, 1, 1).toordinal()
    days = map(dt.date.fromordinal, range(first, stop))
    return [next((r for r in versions if r.speaks_on(on)), None) in own for on in days]
