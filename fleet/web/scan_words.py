"""How do pages say what is asked of a scanned cell, and what can be answered?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from typing import Final, NamedTuple

from fleet.domain.scan_sheets import Answer
from fleet.domain.scans import Doubt, Verdict
from fleet.services.scans.proposals import ANSWERS, Question, Why
from notifications.digests.words import day

__all__ = ["Choice", "choices", "days_words", "why_words"]

_DOUBTS: Final[Mapping[Doubt | None, str]] = {
    Doubt.FAINT: "Little or pale ink: a mark, a speck, or one that was rubbed out?",
    Doubt.OVERHANG: "The ink seems to belong to the cell beside it.",
    Doubt.RUN: "One stroke goes through it and its neighbours.",
    Doubt.FIT: "The print round it is not quite where it should be.",
    Doubt.OUTSIDE: "It lies outside of the picture: look at the paper.",
    Doubt.DISAGREE: "Two ways of judging it came to two answers.",
    None: "Whether there is a mark could not be told.",
}
_LABELS: Final[Mapping[Answer, str]] = {
    Answer.FILLED: "Filled",
    Answer.BLANK: "Empty",
    Answer.UNKNOWN: "Cannot tell",
    Answer.UNUSED: "Not in use",
    Answer.DONE: "Done",
    Answer.EXPLAINED: "Explain",
}
_KEYS: Final[Mapping[Answer, str]] = {
    Answer.FILLED: "f",
    Answer.BLANK: "e",
    Answer.UNKNOWN: "c",
    Answer.UNUSED: "n",
    Answer.DONE: "d",
    Answer.EXPLAINED: "x",
}
_FIRST: Final = (Answer.FILLED, Answer.BLANK, Answer.UNKNOWN)


class Choice(NamedTuple):
    """One answer as a button: its letter is a key; is_first: it stands in the first line."""

    answer: Answer
    label: str
    key: str
    is_first: bool


def choices(question: Question) -> list[Choice]:
    """The buttons of a question, in their order."""
    leaves = question.why not in (Why.UNCERTAIN, Why.BLANK)
    found = []
    for answer in _LABELS:
        if answer not in ANSWERS[question.why]:
            continue
        is_first = answer in _FIRST or (question.why is Why.BY_DATE and answer is Answer.DONE)
        if leaves and answer is Answer.BLANK:
            found.append(Choice(answer, "Leave it out", "l", is_first=True))
        else:
            found.append(Choice(answer, _LABELS[answer], _KEYS[answer], is_first))
    return found


def why_words(question: Question) -> str:
    """What is asked, in a sentence or two."""
    read = question.cells[0].read
    ink = "There is ink" if read.verdict is Verdict.MARKED else "There may be ink"
    if question.why is Why.UNCERTAIN:
        return _DOUBTS[read.doubt]
    if question.why is Why.CLOSED:
        return f"Nothing is asked for here any more ({question.cells[0].today.closed}). {ink}."
    if question.why is Why.AHEAD:
        return f"{ink}, but the day is still to come. Is this the right page?"
    if question.why is Why.BY_DATE:
        return f"{ink} in the row of a duty that is due by date. Was it done on that day?"
    many = len(question.slots) > 1
    return f"No mark was found. {'Are they' if many else 'Is it'} truly empty?"


def days_words(from_on: dt.date, to_on: dt.date) -> str:
    """A day, or the first and the last of some: 'Mon 2 to Fri 6 Mar 2026'."""
    if from_on == to_on:
        return day(from_on)
    weekday, number, month, year = day(from_on).split(" ")
    if (from_on.year, from_on.month) == (to_on.year, to_on.month):
        return f"{weekday} {number} to {day(to_on)}"
    shown = f"{weekday} {number} {month}"
    return f"{shown if from_on.year == to_on.year else f'{shown} {year}'} to {day(to_on)}"
