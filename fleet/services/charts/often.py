"""How often is a duty wanted, and within which limits must its reading lie, in plain words?

The words say what design 4.2 to 4.5 compute: a limit never lies before the due date, and of an
interval only its own component is told, so 'P12M' is every 12 months and 'P1Y' every year.
"""

from __future__ import annotations

from collections.abc import Iterator

from fleet.services.charts.card_words import CardWords
from schedules.rules import First, ReadingRange, Rule

__all__ = ["how_often", "reading_words"]


def how_often(rule: Rule, words: CardWords) -> str:
    """One line: the period or the interval, then, parted by semicolons, what else moves a date."""
    if rule.each is not None:
        each = words.each[rule.each]
        twice, often = words.times
        told = each if rule.times == 1 else twice if rule.times == 2 else often
        return told.format(each=each, count=rule.times)
    return "; ".join(_dated(rule, words))


def reading_words(limits: ReadingRange, words: CardWords) -> str:
    """The limits of a reading, both inside: '2.0 to 8.0 C', 'at least 2.0 C', 'at most 8.0 C'."""
    told = words.between
    if limits.low is None or limits.high is None:
        told = words.most if limits.low is None else words.least
    return told.format(low=limits.low, high=limits.high, unit=limits.unit)


def _dated(rule: Rule, words: CardWords) -> Iterator[str]:
    every, window = _every(rule, words), _window(rule, words)
    if rule.anchor_on is None:
        yield words.anchored.format(every=every, window=window)
    else:
        yield words.fixed.format(every=every, date=rule.anchor_on, window=window)
    if rule.first is First.AT_START:
        yield words.at_start
    if rule.due_after:
        events = [words.events[event] for event in words.events if event in rule.due_after]
        yield words.after_events.format(events=words.any_of.join(events))
    if rule.keep_anchor:
        yield words.keep_anchor.format(days=_days(rule.keep_anchor, words))
    if rule.roll in words.roll:
        yield words.roll[rule.roll]


def _every(rule: Rule, words: CardWords) -> str:
    """The interval as its one ISO 8601 component says it."""
    text = rule.every.text if rule.every else ""
    count, (one, several) = int(text[1:-1]), words.every[text[-1]]
    return one if count == 1 else several.format(count=count)


def _window(rule: Rule, words: CardWords) -> str:
    told = (words.by_date, words.grace, words.early, words.window)
    chosen = told[2 * bool(rule.early) + bool(rule.grace)]
    return chosen.format(early=_days(rule.early, words), grace=_days(rule.grace, words))


def _days(count: int, words: CardWords) -> str:
    one, several = words.days
    return one if count == 1 else several.format(count=count)
