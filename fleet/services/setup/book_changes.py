"""How does one rule book differ from another, kind by kind, rule by rule, field by field?"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields

from fleet.services.setup.record_changes import FieldChange, RecordChange, Sort, field_words
from schedules.rules import Kind, Rule, RuleBook

__all__ = ["book_changes"]

Key = tuple[str, ...]
Told = Mapping[Key, Mapping[str, str]]
"""By the words of a key, the fields in words."""
_OF_KEY = frozenset({"kind", "task"})
_COLUMN_OF = {"anchor_on": "anchor", "from_on": "from", "until_on": "until", "fee_cents": "fee"}
"""Fields that a book calls otherwise (design 7)."""


def book_changes(before: RuleBook, after: RuleBook) -> Iterator[RecordChange]:
    """The kinds and versions of rules that are new, changed or gone, old ones first."""
    yield from _changes("kinds", _kinds(before), _kinds(after))
    yield from _changes("rules", _rules(before), _rules(after))


def _kinds(book: RuleBook) -> Told:
    return {(code,): _kind_fields(kind) for code, kind in book.kinds.items()}


def _kind_fields(kind: Kind) -> dict[str, str]:
    return {"name": kind.name, "retention": kind.retention.text}


def _rules(book: RuleBook) -> Told:
    return {_key(rule): _rule_fields(rule) for k in book.kinds.values() for rule in k.rules}


def _key(rule: Rule) -> Key:
    """A version by kind, task, first day and models: two of the same key cannot be (design 7)."""
    since = f"from {rule.from_on}" if rule.from_on else ""
    return rule.kind, rule.task, since, ", ".join(rule.models)


def _rule_fields(rule: Rule) -> dict[str, str]:
    return {
        _COLUMN_OF.get(field.name, field.name): field_words(getattr(rule, field.name))
        for field in fields(rule)
        if field.name not in _OF_KEY
    }


def _changes(table: str, before: Told, after: Told) -> Iterator[RecordChange]:
    for key in dict.fromkeys((*before, *after)):
        old, new = before.get(key), after.get(key)
        if old != new:
            sort = Sort.NEW if old is None else Sort.GONE if new is None else Sort.CHANGED
            told = [] if new is None else list(_field_changes(old or {}, new))
            yield RecordChange(table, " ".join(filter(None, key)), sort, told)


def _field_changes(old: Mapping[str, str], new: Mapping[str, str]) -> Iterator[FieldChange]:
    for name, after in new.items():
        if (before := old.get(name, "")) != after:
            yield FieldChange(name, before, after)
