"""Why is a rule due when it is? The same answer as `status`, step by step, in words (design 4)."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from schedules.calendars import CalendarIndex, SiteCalendar
from schedules.dates import FAR, NEVER, date_of
from schedules.intervals import Terms, first_reaching, fold, reach
from schedules.rules import Basis, DueAfter, Each, First, Roll, Rule
from schedules.units import UnitColumns

__all__ = ["DatedSteps", "cell_words", "dated_steps", "dated_words", "in_words", "rule_words"]


def in_words(on: dt.date) -> str:
    """A date as it is said: Tue 17 Mar 2026."""
    return f"{on:%a} {on.day} {on:%b %Y}"


@dataclass(frozen=True, slots=True)
class DatedSteps:
    """What each step of design 4.3 leaves of one anchored or fixed rule; None where there is none.

    For a fixed rule base is its anchor, kept the occurrence's number, and step 3 changes nothing.
    """

    base: dt.date
    kept: int
    nominal_counted: dt.date
    from_record: bool
    """Whether nothing was ever done, so that the start of the record stands for the count."""
    event: dt.date | None
    nominal_after_event: dt.date
    nominal_after_outages: dt.date | None
    due: dt.date | None
    limit: dt.date | None
    opens: dt.date | None


def dated_steps(
    rule: Rule, units: UnitColumns, index: CalendarIndex, done: Sequence[int], event: int, on: int
) -> DatedSteps:
    """Walk the steps for the one unit of `units`; raises as `CalendarIndex.roll` does.

    done: the unit's done days, ascending; event: the latest one the rule names, or NEVER.
    """
    in_service, record_from = int(units.in_service[0]), int(units.record_from[0])
    folded = fold(rule, in_service, record_from, done, on)
    if rule.basis is Basis.FIXED:
        base, kept = _occurrence(rule, max(in_service, record_from), folded.last)
        counted, event, unrecorded = reach(rule, base, kept), NEVER, False
    else:
        unrecorded = folded.steps == 0 and folded.base != in_service
        base, kept = (in_service if unrecorded else folded.base), folded.kept
        counted = reach(rule, folded.base, folded.steps)
    counts = event if folded.last < event else NEVER
    after_event = counted if counts == NEVER else min(counted, counts)
    unit = np.zeros(1, dtype=np.int64)
    moved = units.after_outages(np.array([after_event], dtype=np.int32), unit)
    due = limit = opens = None
    if moved[0] != FAR:
        rolled = index.roll(moved, rule.roll, units.calendars_on(on))
        due = date_of(int(rolled[0]))
        limit = date_of(max(int(rolled[0]), int(moved[0]) + rule.grace))
        opens = date_of(min(int(moved[0]) - rule.early, int(rolled[0])))
    return DatedSteps(
        base=date_of(base),
        kept=kept,
        nominal_counted=date_of(counted),
        from_record=unrecorded,
        event=None if counts == NEVER else date_of(counts),
        nominal_after_event=date_of(after_event),
        nominal_after_outages=None if moved[0] == FAR else date_of(int(moved[0])),
        due=due,
        limit=limit,
        opens=opens,
    )


def _occurrence(rule: Rule, since: int, last: int) -> tuple[int, int]:
    """The anchor of a fixed rule and the number of its earliest unsettled occurrence."""
    settled = NEVER if last == NEVER else last + rule.early + 1
    terms = Terms.of([rule])
    turn = first_reaching(terms, np.array([max(since, settled)], dtype=np.int32))
    return int(np.asarray(terms.anchor)[0]), int(turn[0])


_ROLL_WORDS = {
    Roll.NONE: "a closed day does not move it",
    Roll.FOLLOWING: "a closed day moves it to the next open day",
    Roll.PRECEDING: "a closed day moves it to the open day before",
    Roll.MODIFIED_FOLLOWING: (
        "a closed day moves it to the next open day of the month, or else to the one before"
    ),
}
_EACH_WORDS = {
    Each.OPEN_DAY: "each open day",
    Each.WEEK: "each week, Monday to Sunday",
    Each.MONTH: "each month",
    Each.QUARTER: "each quarter",
    Each.HALF_YEAR: "each half-year",
    Each.YEAR: "each year",
}


def _days(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


_LETTER_WORDS = {"D": "day", "W": "week", "M": "month", "Y": "year"}


def _every(rule: Rule) -> str:
    """An interval as it is said: year, 6 months."""
    text = rule.every.text if rule.every else ""
    number, word = int(text[1:-1]), _LETTER_WORDS[text[-1]]
    return word if number == 1 else f"{number} {word}s"


def rule_words(rule: Rule) -> str:
    """One sentence: what the rule asks, and where it comes from."""
    if rule.each is not None:
        times = "a mark" if rule.times == 1 else f"{rule.times} marks"
        asks = f"asks for {times} {_EACH_WORDS[rule.each]}"
    else:
        start = "from the last time it was done"
        if rule.anchor_on is not None:
            start = f"from {in_words(rule.anchor_on)} on, whenever it was last done"
        asks = f"comes back every {_every(rule)} {start}; {_window(rule)}{_ROLL_WORDS[rule.roll]}"
    return f"The rule '{rule.title}' {asks}. Source: {rule.source}."


def _window(rule: Rule) -> str:
    """The days before and after that count as on time, before what else is said; '' for none."""
    told = []
    if rule.early:
        told.append(f"opens {_days(rule.early)} before")
    if rule.grace:
        told.append(f"has {_days(rule.grace)} of grace")
    return f"it {', '.join(told)}, and " if told else ""


def dated_words(
    rule: Rule,
    steps: DatedSteps,
    events: Sequence[DueAfter],
    calendar: SiteCalendar,
    in_service_on: dt.date,
    last_done: dt.date | None,
) -> list[str]:
    """Sentences from the anchor to due date and limit of an anchored or fixed rule.

    events: what happened on the day of the steps' event.
    """
    return [
        *_counting_words(rule, steps, in_service_on, last_done),
        *_moving_words(steps, events),
        *_rolling_words(rule, steps, calendar),
    ]


def _counting_words(
    rule: Rule, steps: DatedSteps, in_service_on: dt.date, last_done: dt.date | None
) -> list[str]:
    nominal = in_words(steps.nominal_counted)
    if rule.basis is Basis.FIXED:
        done = f"last done {in_words(last_done)}" if last_done else "not done yet"
        return [
            f"Counted every {_every(rule)} from {in_words(steps.base)}, the earliest occurrence"
            f" that is not settled ({done}) is {nominal}."
        ]
    if last_done is None:
        anchor = f"It has not been done; the unit entered service on {in_words(in_service_on)}."
        if steps.from_record:
            return [anchor, f"The record begins on {nominal}, so it is wanted from then."]
        if rule.first is First.AT_START:
            return [anchor, f"It is due at the start: {nominal}."]
    elif last_done < in_service_on:
        anchor = f"It was last done on {in_words(last_done)}, before the unit entered service."
        if rule.first is First.AT_START:
            anchor += f" It is due at the start: {nominal}."
    elif steps.kept:
        anchor = (
            f"It was last done on {in_words(last_done)}, within {_days(rule.keep_anchor)} of its"
            f" date, so it is still counted from {in_words(steps.base)} (kept {steps.kept} times)."
        )
    else:
        anchor = f"It was last done on {in_words(last_done)}."
    return [
        anchor,
        f"Counted every {_every(rule)} from {in_words(steps.base)}, that gives {nominal}.",
    ]


_EVENT_WORDS = {DueAfter.MOVED: "was moved", DueAfter.REPAIRED: "came back from repair"}


def _moving_words(steps: DatedSteps, events: Sequence[DueAfter]) -> list[str]:
    words = []
    if steps.event is not None:
        happened = " and ".join(_EVENT_WORDS[event] for event in events)
        words.append(
            f"The unit {happened} on {in_words(steps.event)} and the task has not been"
            f" done since, so it is due by {in_words(steps.nominal_after_event)}."
        )
    if steps.nominal_after_outages is None:
        words.append("That day lies in an outage that has no end yet, so there is no due date.")
    elif steps.nominal_after_outages != steps.nominal_after_event:
        words.append(
            "That day lies in an outage, so it moves to the day of return,"
            f" {in_words(steps.nominal_after_outages)}."
        )
    return words


def _rolling_words(rule: Rule, steps: DatedSteps, calendar: SiteCalendar) -> list[str]:
    nominal, due, limit, opens = (
        steps.nominal_after_outages,
        steps.due,
        steps.limit,
        steps.opens,
    )
    if nominal is None or due is None or limit is None or opens is None:
        return []
    closed = calendar.why_closed(nominal)
    if closed is None or rule.roll is Roll.NONE:
        words = f"{in_words(nominal)} stands: it is due on {in_words(due)}."
    else:
        meant = "the open day before" if due < nominal else "the next open day"
        words = (
            f"{in_words(nominal)} is closed at {calendar.site} ({closed.reason}),"
            f" so {meant} is meant: it is due on {in_words(due)}."
        )
    may = f"may be done from {in_words(opens)} on, and " if opens != due else ""
    return [words, f"It {may}is overdue after {in_words(limit)}."]


def cell_words(
    rule: Rule,
    own: tuple[dt.date, dt.date] | None,
    is_filled: bool,
    missed: int,
    calendar: SiteCalendar,
    on: dt.date,
) -> list[str]:
    """Sentences on the day's own cell and on the cells that closed before it (design 4.5).

    own: first and last expected day of the cell, None where the day belongs to none.
    """
    if own is None:
        closed = calendar.why_closed(on) if rule.each is Each.OPEN_DAY else None
        reason = f": the site is closed ({closed.reason})" if closed else ""
        words = [f"{in_words(on)} belongs to no cell that must be filled{reason}."]
    else:
        span = in_words(own[0])
        if own[1] != own[0]:
            span += f" to {in_words(own[1])}"
        words = [f"Its cell ({span}) {'is filled' if is_filled else 'is not filled yet'}."]
    if missed > 1:
        lack = "have too few marks" if rule.times > 1 else "are empty"
        return [*words, f"The last {missed} cells that closed before {lack}."]
    if missed:
        lack = "has too few marks" if rule.times > 1 else "is empty"
        return [*words, f"The last cell that closed before {lack}."]
    return words
