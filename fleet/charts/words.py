"""What is written on a chart, apart from where it stands?"""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Iterable, Iterator, Set

from fleet.domain.prints import Print
from fleet.domain.records import Unit
from fleet.services.charts.cautions import defers
from fleet.services.charts.facts import (
    ChartRow,
    DatedDuty,
    Note,
    PrintedChart,
    RowRole,
    YearChart,
)
from fleet.services.charts.periods import MONTHS_OF_EACH, end_month, periods_of_year
from fleet.services.readings import limits_words
from schedules.rules import Each

__all__ = [
    "DEFERS",
    "LETTERS",
    "MARKS",
    "MONTHS",
    "STRIP",
    "duty_words",
    "face_words",
    "fill_words",
    "label_words",
    "note_words",
    "page_words",
    "period_words",
    "print_words",
    "reissue_words",
    "state_words",
    "unit_words",
    "warnings",
]

MONTHS = tuple(calendar.month_name)[1:]
LETTERS = {
    "H": "holiday",
    "C": "closure",
    "O": "out of service",
    "N": "not in service yet",
    "R": "retired",
    "B": "before the record begins",
    "E": "at another site",
    "X": "not asked for then",
}
"""Signs that stand as a letter in a crossed-out cell; a closed weekday has none."""
MARKS = {
    "d": "✓ or initials: done",
    "u": "u: not in use",
    "f": "f: ink was seen on paper",
    "e": "e: explained afterwards",
}
STRIP = (
    "Copy test: where a copy lacks one of the 8 strokes, light ink is lost too; copy or scan again."
)
DEFERS = (
    "The manufacturer's manual, your site's safety officer and local rules come before this chart."
)
_HOW = "Each empty cell, on its day: ✓ when done (or the reading), U when the unit was not in use."
_INITIALS = "On each day you wrote in a cell: your initials in the row Initials; two people: both."
_WEEKS = "An arrow: the box of that week is in the month it points to."
_BOXES = "Boxes of a week, a month or longer: date and initials, in the box."
_BLANK = "left blank is a gap. Forgotten? Leave it; say in Notes what was done, with today's date."
_BROKEN = "Broken or away for days: tell the site lead, who enters it. Draw no line through days."
_BEYOND = "A reading out of range: tell the site lead at once; say in Notes what was done."
_ON_DAY = "Dotted cells: ✓ (or the reading) on the day the task is done, and on no other."
_OVERDUE = "overdue"
_STRUCK = "Struck out: nothing to do."
_LETTER = "The letter in the top row tells why, for the whole column:"
_NO_LETTER = "no letter, a closed day."
_EACH = {
    Each.QUARTER: "{first} to {last}",
    Each.HALF_YEAR: "{first} to {last}",
    Each.YEAR: "the year",
}


def warnings(chart: YearChart) -> tuple[tuple[str, ...], str]:
    """What is to be warned of, the gravest first, and what comes before it all: the book's own
    words about the maker's manual, or where it has none DEFERS.
    """
    own = [line for line in chart.cautions if defers(line)]
    rest = tuple(line for line in chart.cautions if line not in own)
    return rest, " ".join(own) or DEFERS


def page_words(page: int, pages: int, months: range) -> str:
    """'page 2 of 4: April to June'."""
    first, last = MONTHS[months[0] - 1], MONTHS[months[-1] - 1]
    told = first if first == last else f"{first} to {last}"
    return f"page {page} of {pages}: {told}"


def label_words(row: ChartRow) -> tuple[str, str]:
    """A grid row's title, and what else a bench worker must know of it, or ''."""
    if row.role is RowRole.INITIALS:
        return row.title, "of who filled the day's cells"
    told = []
    if limits := row.versions[-1].range if row.versions else None:
        told.append(limits_words(limits))
    if row.times > 1:
        told.append(f"{row.turn} of {row.times}")
    if row.role is RowRole.WEEK:
        told.append("once a week")
    if row.role is RowRole.ON_DAY:
        told.append("write on the day it is done")
    return row.title, ", ".join(told)


def period_words(row: ChartRow, month: int, last_day: int) -> str:
    """The period of a box that ends with a month, and by when: 'Apr to Jun, by 30 Jun'."""
    assert row.each is not None  # noqa: S101 - a box has a period
    first, last = MONTHS[month - MONTHS_OF_EACH[row.each]][:3], MONTHS[month - 1][:3]
    told = [] if row.each is Each.MONTH else [_EACH[row.each].format(first=first, last=last)]
    if row.times > 1:
        told.append(f"{row.turn} of {row.times}")
    if limits := row.versions[-1].range if row.versions else None:
        told.append(limits_words(limits))
    return ", ".join([*told, f"by {last_day} {last}: date, initials"])


def note_words(notes: Iterable[Note]) -> str:
    """Why days of a month are crossed out: '4 Independence Day; 20-24 closure: flood'."""
    return "; ".join(_note(note) for note in notes)


def _note(note: Note) -> str:
    days = f"{note.first}" if note.first == note.last else f"{note.first}-{note.last}"
    cause = LETTERS.get(note.sign, "")
    if note.sign == "H" and note.words:
        return f"{days} {note.words}"
    return f"{days} {cause}: {note.words}" if note.words else f"{days} {cause}"


def unit_words(unit: Unit) -> str:
    """Maker, model and serial number of a unit, as far as they are known."""
    serial = f"serial {unit.serial}" if unit.serial else ""
    return ", ".join(filter(None, (f"{unit.manufacturer} {unit.model}".strip(), serial)))


def state_words(duty: DatedDuty, chart: YearChart) -> str:
    """How a dated duty stands on a chart's day; where there is no answer, why there is none."""
    if duty.state:
        return duty.state
    if duty.rule.from_on is not None and duty.rule.from_on > chart.on:
        return "not in force yet"
    if chart.unit.in_service_on > chart.on:
        return "not in service yet"
    if duty.rule.until_on is not None and duty.rule.until_on < chart.on:
        return "no longer in force"
    return "not told"


def duty_words(duty: DatedDuty, chart: YearChart) -> tuple[str, str, str]:
    """A dated duty's title, when it was last done and by whom, when it is due and its window."""
    by = f" by {duty.done_by}" if duty.done_by else ""
    last = f"last done {_date(duty.last_done)}{by}" if duty.last_done else "never done on record"
    if duty.due is None:
        return duty.rule.title, last, f"no due date: {state_words(duty, chart)}"
    if duty.state == _OVERDUE:
        return duty.rule.title, last, f"OVERDUE: was due {_date(duty.due)}"
    window = _window(duty)
    return duty.rule.title, last, f"next due {_date(duty.due)}{window}"


def _window(duty: DatedDuty) -> str:
    """' (from 1 Apr 2027 to 31 May 2027)', as far as it differs from the date it is due."""
    told = []
    if duty.opens is not None and duty.opens != duty.due:
        told.append(f"from {_date(duty.opens)}")
    if duty.limit is not None and duty.limit != duty.due:
        told.append(f"no later than {_date(duty.limit)}")
    return f" ({', '.join(told)})" if told else ""


def _date(on: dt.date) -> str:
    return f"{on.day} {MONTHS[on.month - 1][:3]} {on.year}"


def face_words(role: RowRole, sign: str, text: str) -> str:
    """What is written in a cell that the record holds a mark for."""
    if sign == "d":
        return text or "✓"
    if role is RowRole.INITIALS:
        return text
    return sign if text in ("", "✓") else f"{sign} {text}"


def fill_words(chart: YearChart) -> list[str]:
    """How the chart is filled, sentence by sentence; of the letters those that it has."""
    roles = {row.role for row in chart.rows}
    signs = {face.sign for row in chart.rows for face in row.faces}
    told = []
    if RowRole.DAY in roles:
        told.append(_HOW)
    if RowRole.ON_DAY in roles:
        told.append(_ON_DAY)
    if RowRole.INITIALS in roles:
        told.append(_INITIALS)
    if roles & {RowRole.WEEK, RowRole.BOX}:
        told.append(_BOXES)
    if RowRole.WEEK in roles:
        told.append(_WEEKS)
    if roles & {RowRole.DAY, RowRole.WEEK, RowRole.BOX}:
        told.append(f"{_what_is_asked(roles)} {_BLANK}")
    told += _struck(signs)
    if RowRole.DAY in roles:
        told.append(_BROKEN)
    in_months = (row for row in chart.rows if row.role is not RowRole.DATED)
    if any(rule.range for row in in_months for rule in row.versions):
        told.append(_BEYOND)
    told += _long_boxes(chart)
    if marks := [words for sign, words in MARKS.items() if sign in signs]:
        told.append(f"In type, from the record: {', '.join(marks)}.")
    return told


def _struck(signs: Set[str]) -> Iterator[str]:
    """What is struck out, and what the letters that the chart has say."""
    letters = [f"{sign} {words}" for sign, words in LETTERS.items() if sign in signs]
    if letters:
        yield f"{_STRUCK} {_LETTER} {', '.join(letters)}; {_NO_LETTER}"
    elif "W" in signs:
        yield _STRUCK


def _long_boxes(chart: YearChart) -> Iterator[str]:
    """In which months the boxes of a quarter or longer stand: they are not on every page."""
    told: dict[str, tuple[str, ...]] = {}
    for row in chart.rows:
        if row.role is RowRole.BOX and row.each in _EACH:
            each, count = row.each, periods_of_year(row.each)
            told[row.title] = tuple(MONTHS[end_month(each, n) - 1] for n in range(count))
    for title, months in told.items():
        yield f"{title}: box in {', '.join(months)}."


def _what_is_asked(roles: Set[RowRole]) -> str:
    """Which cells must not stay blank; dotted ones may, and initials where no day is asked for."""
    if RowRole.ON_DAY not in roles:
        return "A cell"
    return "Any other cell" if RowRole.DAY in roles else "A box"


def print_words(one: Print) -> str:
    """Which print it is, of when, and instead of which."""
    told = f"printed {_date(one.printed_on)}"
    if one.known_at:
        return f"COPY FOR THE FILE, as known at {_known_at(one)}; {told}"
    return f"{told}, replaces print {one.replaces}" if one.replaces else told


def _known_at(one: Print) -> str:
    return f"{one.known_at[:16].replace('T', ' ')} UTC"


def reissue_words(printed: PrintedChart) -> str:
    """What holds for a chart that was printed when part of its days were over already, or ''."""
    told = [_empty_words(printed)] if printed.chart.holds_record else []
    if printed.print.replaces:
        told.append("Keep the chart printed before this one, and return it too.")
    return " ".join(told)


def _empty_words(printed: PrintedChart) -> str:
    """What an empty cell of a chart means that holds something of the record."""
    chart, one = printed.chart, printed.print
    if one.known_at:
        return f"As known at {_known_at(one)}: cells that are empty were empty in the record then."
    if chart.on >= dt.date(chart.year, 12, 31) and one.printed_on != chart.on:
        return "Empty cells are empty in the record."
    return (
        f"Cells before {_date(chart.on)} that are empty here are empty in the record: leave them"
        " so. From that day on fill each in on its day."
    )
