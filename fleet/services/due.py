"""What is due where: a row a unit × rule on a day, as known now or at an instant (design 6)."""

from __future__ import annotations

import datetime as dt
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from operator import attrgetter
from typing import Any, Literal
from zoneinfo import ZoneInfo

import numpy as np
import numpy.typing as npt

from fleet.domain.answers import StatusRow
from fleet.domain.records import Unit
from fleet.domain.register import Register
from fleet.services.calendars import CalendarMaker
from fleet.services.columns import FleetColumns, book_of, fleet_columns
from fleet.services.extensions import Extensions, extended, extensions_of
from fleet.services.kept import duties_of, marked_years, unpacked
from fleet.services.ports import PublicHolidays, Record
from fleet.services.questions import DueAnswer, Narrow, Question
from schedules.dates import FAR, NEVER, Counts, Days, date_of, day_of
from schedules.marks import MarkedYears
from schedules.status import Prepared, StatusColumns, prepare, status
from schedules.units import STATES

__all__ = ["Group", "Sheet", "answer_sheet", "due_rows", "roll_up", "sheets"]

Group = Literal["site", "county", "region", "kind"]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The units that are asked about one and the same day, with their marks."""

    on: dt.date
    fleet: FleetColumns
    marks: MarkedYears
    known_at: dt.datetime | None
    extensions: Extensions = field(default_factory=dict)


def sheets(
    record: Record,
    public_holidays: PublicHolidays,
    question: Question,
    units: Iterable[Unit] | None = None,
) -> Iterator[Sheet]:
    """Gather what a question needs, a sheet a day: at most a few, where sites' todays differ.

    units: only these; None for all that the register knew.
    """
    register = record.register(question.known_at)
    book = book_of(register)
    calendars = CalendarMaker(register, record.holiday_years(), public_holidays)
    unit_ids = record.unit_ids()
    granted = extensions_of(register)
    chosen = register.units.values() if units is None else units
    for on, some in _by_day(register, question, chosen).items():
        fleet = fleet_columns(register, book, calendars, some)
        marks = _marks(record, fleet, unit_ids, question, is_whole=units is None)
        yield Sheet(on, fleet, marks, question.known_at, granted)


def _by_day(
    register: Register, question: Question, units: Iterable[Unit]
) -> dict[dt.date, list[Unit]]:
    if question.on is not None:
        return {question.on: list(units)}
    today = {
        site.site: question.now.astimezone(ZoneInfo(site.time_zone)).date()
        for site in register.sites.values()
    }
    stands = {unit.property_number: unit.site for unit in units}
    for placement in sorted(register.placements.values(), key=attrgetter("from_on")):
        if placement.from_on <= today[placement.site]:
            stands[placement.property_number] = placement.site
    days: dict[dt.date, list[Unit]] = defaultdict(list)
    for unit in units:
        days[today[stands[unit.property_number]]].append(unit)
    return days


def _marks(
    record: Record,
    fleet: FleetColumns,
    unit_ids: dict[str, int],
    question: Question,
    *,
    is_whole: bool,
) -> MarkedYears:
    """The marks of some units; is_whole: they are all there are, or most."""
    if question.known_at is None:
        ids = None if is_whole else [unit_ids[unit.property_number] for unit in fleet.units]
        return unpacked(record.kept_years(ids), fleet, unit_ids)
    ids = [unit_ids[unit.property_number] for unit in fleet.units]
    marks = record.marks(ids, question.known_at)
    tasks = (marks.task_names[task] for task in marks.tasks.tolist())
    rows = duties_of(fleet, unit_ids, marks.unit_ids, tasks)
    return marked_years(marks, fleet, {i: place for place, i in enumerate(ids)}, rows)


def due_rows(record: Record, public_holidays: PublicHolidays, question: Question) -> DueAnswer:
    """Answer every unit × rule that the question lets through, in the order of site and unit."""
    rows: list[StatusRow] = []
    failures: list[str] = []
    for sheet in sheets(record, public_holidays, question):
        answered, failed = answer_sheet(sheet)
        rows += answered.values()
        failures += failed.values()
    rows.sort(key=attrgetter("site", "property_number"))
    return DueAnswer(_narrowed(rows, question.narrow), failures)


def answer_sheet(sheet: Sheet) -> tuple[dict[int, StatusRow], dict[int, str]]:
    """The rows of one day by their duty, and for duties that have no answer the reason."""
    prepared = prepare(sheet.fleet.duties, sheet.fleet.columns, sheet.marks, day_of(sheet.on))
    answers = status(prepared, sheet.fleet.index(*prepared.span()))
    rows = _rows(sheet.fleet, prepared, answers)
    extended(rows, sheet.extensions, sheet.on)
    return rows, _failures(sheet.fleet, answers)


def _rows(fleet: FleetColumns, prepared: Prepared, answers: StatusColumns) -> dict[int, StatusRow]:
    """The answered rows by duty, in the order of site and unit."""
    duties, stands = fleet.duties, fleet.columns.calendars_on(prepared.on)
    site_of_unit = stands.tolist()
    units_in_order = sorted(
        range(len(fleet.units)),
        key=lambda place: (site_of_unit[place], fleet.units[place].property_number),
    )
    turn_of_unit = np.empty(len(fleet.units), dtype=np.int64)
    turn_of_unit[units_in_order] = np.arange(len(fleet.units))
    is_answered = answers.state >= 0
    is_answered[list(answers.failures)] = False
    shown = np.flatnonzero(is_answered)
    shown = shown[np.argsort(turn_of_unit[duties.unit[shown]], kind="stable")]
    unit, site = duties.unit[shown], stands[duties.unit[shown]]
    version = np.repeat(np.arange(len(duties.versions)), np.diff(duties.starts))[shown]
    columns: tuple[list[Any], ...] = (
        _words([site.site for site in fleet.sites], site),
        _words([site.county for site in fleet.sites], site),
        _words([site.region for site in fleet.sites], site),
        _words([unit.property_number for unit in fleet.units], unit),
        _words([unit.kind for unit in fleet.units], unit),
        _words(fleet.tasks, version),
        _words([rule.basis.value if rule else "" for rule in prepared.speaking], version),
        _words(STATES, answers.state[shown]),
        *(_dates(days[shown]) for days in _day_columns(answers)),
        *(_counts(counts[shown]) for counts in _count_columns(answers)),
    )
    rows = map(StatusRow._make, zip(*columns, strict=True))
    return dict(zip(shown.tolist(), rows, strict=True))


def _day_columns(answers: StatusColumns) -> tuple[Days, ...]:
    return (answers.last_done, answers.nominal, answers.opens, answers.due, answers.limit)


def _count_columns(answers: StatusColumns) -> tuple[Counts, ...]:
    return (answers.days_past_due, answers.open_days_past_due, answers.missed)


def _words(words: Sequence[str], places: npt.NDArray[np.integer[Any]]) -> list[str]:
    """The word at each place."""
    return np.array(words, dtype=object).take(places).tolist()  # type: ignore[no-any-return]


def _dates(days: Days) -> list[dt.date | None]:
    """Day numbers as dates; None for those that say never or far."""
    is_day = (days != FAR) & (days != NEVER)
    if not is_day.any():
        return [None] * len(days)
    low, high = int(days.min(where=is_day, initial=FAR)), int(days.max(where=is_day, initial=NEVER))
    table = np.array([None, *(date_of(day) for day in range(low, high + 1))], dtype=object)
    return table.take((days - low + 1) * is_day).tolist()  # type: ignore[no-any-return]


def _counts(counts: Counts) -> list[int | None]:
    """Counts as numbers; None for -1."""
    table = np.array([None, *range(int(counts.max(initial=0)) + 1)], dtype=object)
    return table.take(counts + 1).tolist()  # type: ignore[no-any-return]


def _failures(fleet: FleetColumns, answers: StatusColumns) -> dict[int, str]:
    version_of = np.repeat(np.arange(len(fleet.tasks)), np.diff(fleet.duties.starts))
    return {
        row: f"unit {fleet.units[fleet.duties.unit[row]].property_number}, "
        f"{fleet.tasks[version_of[row]]}: {error}"
        for row, error in sorted(answers.failures.items())
    }


def _narrowed(rows: list[StatusRow], narrow: Narrow) -> list[StatusRow]:
    """The rows that a question lets through, whatever the case of its words."""
    wanted = {
        "site": narrow.sites,
        "county": narrow.counties,
        "region": narrow.regions,
        "kind": narrow.kinds,
        "task": narrow.tasks,
        "state": narrow.states,
    }
    for name, words in wanted.items():
        if words:
            let_through = {word.casefold() for word in words}
            rows = [row for row in rows if getattr(row, name).casefold() in let_through]
    return rows


def roll_up(rows: Sequence[StatusRow], by: Group) -> list[dict[str, str | int | None]]:
    """Count rows by group: group, units, rows, a count a state, longest_days_past_due.

    Groups in the order of their names; the state columns are the state's words joined by '_'.
    """
    groups: dict[str, list[StatusRow]] = defaultdict(list)
    for row in rows:
        groups[getattr(row, by)].append(row)
    found: list[dict[str, str | int | None]] = []
    for group, some in sorted(groups.items()):
        counts = Counter(row.state for row in some)
        late = [row.days_past_due for row in some if row.state == "overdue" and row.days_past_due]
        found.append(
            {
                "group": group,
                "units": len({row.property_number for row in some}),
                "rows": len(some),
                **{state.replace(" ", "_"): counts[state] for state in STATES},
                "longest_days_past_due": max(late, default=None),
            }
        )
    return found
