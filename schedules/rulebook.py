"""What does a rule book say, and if it cannot be used, what is wrong with it, all at once?

A book is TOML (design 7): tables `[kind.X]`, each with a name and a list of `[[kind.X.rule]]`.
What a field may hold stands in `schedules.rule_fields`; here is what fields, rules and kinds ask
of each other. A fault names the file, the line, what is wrong and how to mend it.
"""

from __future__ import annotations

import datetime as dt
import hashlib
import re
import tomllib
from collections.abc import Iterator, Mapping
from decimal import Decimal
from functools import cache
from importlib import resources
from itertools import combinations
from typing import Any

from schedules.errors import BookError, RuleError
from schedules.rule_fields import (
    BASIS_WORDS,
    FIELDS,
    MONTH_DAYS,
    REQUIRED,
    Check,
    nearest,
    one_line,
    retention,
    short_name,
    shown,
    unknown,
)
from schedules.rules import LEAST_RETENTION, Basis, Each, Interval, Kind, Rule, RuleBook

__all__ = ["read_book", "shipped_book"]

_Path = tuple[str | int, ...]


def read_book(text: str, file: str = "rules.toml") -> RuleBook:
    """Read a rule book from its TOML text; `file` is the name its faults are told under.

    Raises BookError with every fault of the text, in the order of its lines.
    """
    faults = _Faults(file, text)
    kinds = {}
    for code, table in _kind_tables(_parsed(text, file), faults):
        rules = _rules(code, table, faults)
        kept = _retention(code, table, faults)
        kinds[code] = Kind(code, table.get("name", code), tuple(rules.values()), kept)
        _check_versions(rules, faults)
        _check_overrides(rules, faults)
    faults.raise_if_any()
    return RuleBook(kinds, text, hashlib.sha256(text.encode()).hexdigest())


@cache
def shipped_book() -> RuleBook:
    """The book that is used where none was loaded (design 7)."""
    shipped = resources.files("schedules").joinpath("rulebook.toml")
    return read_book(shipped.read_text(encoding="utf-8"), "rulebook.toml")


# Where things stand in the text.

_NAME = r"""(?:[A-Za-z0-9_-]+|"[^"]*"|'[^']*')"""
_DOTTED = rf"{_NAME}(?:\s*\.\s*{_NAME})*"
_HEADER = re.compile(rf"\s*(\[\[?)\s*({_DOTTED})\s*\]\]?\s*(?:#.*)?")
_KEY = re.compile(rf"\s*({_DOTTED})\s*=")
_SYNTAX = re.compile(r"(.*) \(at (?:line (\d+), column (\d+)|end of document)\)", re.DOTALL)


def _names(dotted: str) -> list[str]:
    return [name.strip("\"'") for name in re.findall(_NAME, dotted)]


def _table_path(header: re.Match[str], latest: dict[_Path, int]) -> _Path:
    """The path a header opens; `latest` holds the number of the latest table of each list."""
    path: _Path = ()
    names = _names(header[2])
    for place, name in enumerate(names, start=1):
        path += (name,)
        if header[1] == "[[" and place == len(names):
            latest[path] = latest.get(path, -1) + 1
        if path in latest:
            path += (latest[path],)
    return path


def _line_numbers(text: str) -> dict[_Path, int]:
    """The line, counted from 1, on which each table and each field of the text begins."""
    numbers: dict[_Path, int] = {}
    latest: dict[_Path, int] = {}
    table: _Path = ()
    is_inside_text = False
    for number, line in enumerate(text.split("\n"), start=1):
        if is_inside_text:
            pass
        elif header := _HEADER.fullmatch(line.rstrip("\r")):
            table = _table_path(header, latest)
            numbers.setdefault(table, number)
        elif key := _KEY.match(line):
            path = table
            for name in _names(key[1]):
                path += (name,)
                numbers.setdefault(path, number)
        is_inside_text ^= (line.count('"""') + line.count("'''")) % 2 == 1
    return numbers


class _Faults:
    """The faults found so far, each with the line it stands on."""

    def __init__(self, file: str, text: str) -> None:
        self._file, self._number_of = file, _line_numbers(text)
        self._found: list[tuple[int, RuleError]] = []

    def __len__(self) -> int:
        return len(self._found)

    def line(self, path: _Path) -> int:
        """The line of a path, or of the nearest table around it."""
        while path and path not in self._number_of:
            path = path[:-1]
        return self._number_of.get(path, 1)

    def add(self, path: _Path, problem: str, mend: str, field: str = "") -> None:
        """Note a fault at a path; `field` is told beside the line."""
        line = self.line(path)
        where = f"{self._file} line {line}" + (f", {field}" if field else "")
        self._found.append((line, RuleError(where, problem, mend)))

    def checked(self, path: _Path, value: object, check: Check, field: str = "") -> object:
        """The value as its check answers it; a refusal becomes a fault, and None the answer."""
        try:
            return check(value)
        except RuleError as wrong:
            self.add(path, wrong.problem, wrong.mend, field)
            return None

    def raise_if_any(self) -> None:
        """Refuse the book with all faults, in the order of their lines."""
        if self._found:
            ordered = sorted(self._found, key=lambda fault: fault[0])
            raise BookError([fault for _, fault in ordered])


def _parsed(text: str, file: str) -> dict[str, Any]:
    try:
        return tomllib.loads(text, parse_float=Decimal)
    except (ValueError, ArithmeticError, RecursionError) as wrong:
        # tomllib lets a number of too many digits and too many open brackets through unwrapped.
        match = _SYNTAX.fullmatch(str(wrong))
        what, line, column = match.groups() if match else (str(wrong), None, None)
        where = f"{file} line {line or text.rstrip().count(chr(10)) + 1}"
        at = f" at column {column}" if column else ""
        problem = f"this is not TOML{at} ({what})"
        mend = "put text in double quotes, lists in square brackets, dates as 2026-03-01"
        raise BookError([RuleError(where, problem, mend)]) from wrong


# Kinds and rules.


def _kind_tables(book: dict[str, Any], faults: _Faults) -> Iterator[tuple[str, dict[str, Any]]]:
    """Each kind's code and table, as far as they are fit to be read."""
    _check_names(book, (), "a rule book", ("kind",), faults)
    kinds = book.get("kind")
    if not isinstance(kinds, dict) or not kinds:
        faults.add(("kind",), "the book has no kind", "write a table as [kind.microscope]")
        return
    for code, table in kinds.items():
        if isinstance(table, dict):
            _check_kind(code, table, faults)
            yield code, table
        else:
            mend = "write it in square brackets, as [kind.microscope]"
            faults.add(("kind", code), f"kind {shown(code)} is not a table", mend)


def _check_names(
    table: Mapping[str, object], path: _Path, of: str, known: tuple[str, ...], faults: _Faults
) -> set[str]:
    """Fault every unknown name of a table; answer the known ones that were probably meant."""
    strange = [name for name in table if name not in known]
    for name in strange:
        wrong = unknown(name, of, known)
        faults.add((*path, name), wrong.problem, wrong.mend)
    return {near for name in strange if (near := nearest(name, known))}


def _check_kind(code: str, table: dict[str, Any], faults: _Faults) -> None:
    path: _Path = ("kind", code)
    faults.checked(path, code, short_name)
    meant = _check_names(table, path, "a kind", ("name", "retention", "rule"), faults)
    if "name" in table:
        faults.checked((*path, "name"), table["name"], one_line, "name")
    elif "name" not in meant:
        mend = 'add what people call it, as name = "Bench microscope"'
        faults.add(path, f"kind {shown(code)} has no name", mend)
    if table.get("rule", []) == [] and "rule" not in meant:
        mend = "add one as [[kind.microscope.rule]], with the kind's own short name"
        faults.add(path, f"kind {shown(code)} has no rule", mend)


def _retention(code: str, table: dict[str, Any], faults: _Faults) -> Interval:
    """How long the kind's records are kept; two years where it does not say."""
    if "retention" not in table:
        return LEAST_RETENTION
    path: _Path = ("kind", code, "retention")
    checked = faults.checked(path, table["retention"], retention, "retention")
    return checked if isinstance(checked, Interval) else LEAST_RETENTION


def _rules(code: str, table: dict[str, Any], faults: _Faults) -> dict[_Path, Rule]:
    """The kind's rules that have no fault, each under its path in the book."""
    tables, path = table.get("rule", []), ("kind", code, "rule")
    if not isinstance(tables, list) or not all(isinstance(each, dict) for each in tables):
        mend = "write each in double square brackets, as [[kind.microscope.rule]]"
        faults.add(path, f"the rules of {shown(code)} are not a list of tables", mend)
        return {}
    read = {(*path, at): _rule(code, raw, (*path, at), faults) for at, raw in enumerate(tables)}
    return {path: rule for path, rule in read.items() if rule is not None}


def _rule(code: str, raw: dict[str, Any], path: _Path, faults: _Faults) -> Rule | None:
    found_before = len(faults)
    meant = _check_names(raw, path, "a rule", tuple(FIELDS), faults)
    values: dict[str, Any] = {}
    for name, value in raw.items():
        if field := FIELDS.get(name):
            values[field.attribute] = faults.checked((*path, name), value, field.check, name)
    for name, mend in REQUIRED.items():
        if name not in raw and name not in meant:
            faults.add(path, f"a rule of {shown(code)} has no {name}", mend)
    if not meant & {"each", "every", "anchor"}:
        _check_basis(raw, path, faults)
    from_on, until_on = values.get("from_on"), values.get("until_on")
    if from_on and until_on and until_on < from_on:
        mend = "until is the last day of the version, from its first"
        faults.add((*path, "until"), f"{until_on} is before {from_on}, its from", mend, "until")
    return None if len(faults) > found_before else Rule(kind=code, **values)


def _check_basis(raw: dict[str, Any], path: _Path, faults: _Faults) -> None:
    if ("each" in raw) == ("every" in raw):
        has = "both each and every" if "each" in raw else "neither each nor every"
        mend = 'write one: each = "month" for cells, or every = "P1Y" for dates'
        faults.add(path, f"the rule has {has}", mend)
        return
    basis = Basis.CELL if "each" in raw else Basis.FIXED if "anchor" in raw else Basis.ANCHORED
    for name in raw:
        if name in FIELDS and basis not in FIELDS[name].bases:
            homes = " or ".join(BASIS_WORDS[home] for home in FIELDS[name].bases)
            problem = f"it has no place in {BASIS_WORDS[basis]}"
            faults.add((*path, name), problem, f"leave it out; it belongs to {homes}", name)


# Versions of one task beside each other.


def _check_versions(rules: Mapping[_Path, Rule], faults: _Faults) -> None:
    for (earlier_path, earlier), (path, rule) in combinations(rules.items(), 2):
        meet = set(earlier.models) & set(rule.models) or not (earlier.models or rule.models)
        if earlier.task == rule.task and earlier.from_on == rule.from_on and meet:
            begins = f"from {rule.from_on}" if rule.from_on else "without from"
            line = faults.line(earlier_path)
            problem = f"'{rule.task}' has a version {begins} on line {line} already"
            faults.add(path, problem, "give the changed rule a later from")


def _check_overrides(rules: Mapping[_Path, Rule], faults: _Faults) -> None:
    """An override may only shorten what a rule for every model asks on the same days (design 7)."""
    for path, override in rules.items():
        for general_path, general in rules.items():
            if override.models and not general.models and _meet(override, general):
                _check_override(path, override, general, faults.line(general_path), faults)


def _meet(rule: Rule, other: Rule) -> bool:
    """Say whether two versions are of one task and speak on a common day."""
    first_on = max(rule.from_on or dt.date.min, other.from_on or dt.date.min)
    last_on = min(rule.until_on or dt.date.max, other.until_on or dt.date.max)
    return rule.task == other.task and first_on <= last_on


def _check_override(
    path: _Path, override: Rule, general: Rule, general_line: int, faults: _Faults
) -> None:
    beside = f"the rule for every model (line {general_line})"
    (field, word), (general_field, general_word) = _counted(override), _counted(general)
    shorten = "an override may only shorten: write"
    if field != general_field:
        problem = f"{beside} has {general_field} in its place"
        mend = f"an override keeps the way of counting: write {general_field}"
        faults.add((*path, field), problem, mend, field)
    elif _length(override) > _length(general):
        problem = f"'{word}' is longer than '{general_word}' of {beside}"
        faults.add((*path, field), problem, f"{shorten} {general_word} or less", field)
    elif override.each == general.each and override.times < general.times:
        problem = f"{override.times} is fewer than the {general.times} of {beside}"
        faults.add((*path, "times"), problem, f"{shorten} {general.times} or more", "times")


def _counted(rule: Rule) -> tuple[str, str]:
    return ("every", rule.every.text) if rule.every else ("each", str(rule.each))


def _length(rule: Rule) -> Decimal:
    """How long a rule waits: days, or for cell rules the place of its period among periods."""
    if rule.every is None:
        return Decimal([*Each].index(rule.each or Each.YEAR))
    return rule.every.count * (MONTH_DAYS if rule.every.in_months else Decimal(1))
