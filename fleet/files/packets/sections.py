"""What stands in a packet before its charts: units, changes, rules; and how to check it?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import fields

from fleet.domain.prints import Print
from fleet.domain.records import RegisterRecord
from fleet.domain.register import Change
from fleet.files.packets.check import CHECK_PYTHON, CHECK_SHELL, check_paragraphs
from fleet.files.packets.pages import LEFT, PacketPages
from fleet.services.packet_facts import PacketFacts, PacketUnit
from fleet.services.ports import ChangeLine
from schedules.rules import Rule

__all__ = ["Cells", "before_charts", "begun", "check_page", "instant", "old_and_new"]

Cells = Sequence[str]


def before_charts(pages: PacketPages, facts: PacketFacts) -> None:
    """The units and their history, what was changed in the register, the rules."""
    _units(pages, facts)
    _changes(pages, facts)
    _rules(pages, facts)


def check_page(pages: PacketPages, pdf_name: str, root: str) -> None:
    """How to check the packet with standard tools alone, on one page."""
    pages.new_page_section("How to check this packet with standard tools alone")
    for text in check_paragraphs(pdf_name, root):
        pages.paragraph(text, 7.6, gap=0.6)
    top = pages.y + 3
    for left, program in ((LEFT, CHECK_SHELL), (LEFT + 128, CHECK_PYTHON)):
        pages.write_in(6.8)
        for number, line in enumerate(program.rstrip().split("\n")):
            indent = len(line) - len(line.lstrip())
            pages.text(left + indent * 0.9, top + 3.9 * number, line.lstrip())


def instant(at: dt.datetime) -> str:
    """An instant in UTC, to the second."""
    return f"{at.astimezone(dt.UTC):%Y-%m-%d %H:%M:%SZ}"


def begun(pages: PacketPages, title: str, count: int, nothing: str) -> bool:
    """Begin a section; say so where it holds nothing."""
    pages.section(title)
    if not count:
        pages.paragraph(nothing)
    return bool(count)


def _units(pages: PacketPages, facts: PacketFacts) -> None:
    pages.section("Units and their history")
    if not facts.units:
        pages.paragraph("No unit was in service at this site on any day of the span.")
        return
    headings = ("unit", "kind, make, model, serial", "in service", "where it stood", "outages")
    rows = ([*_unit_cells(of), _outage_words(of)] for of in facts.units)
    pages.rows_under(headings, (20, 55, 45, 45, 55), rows)


def _unit_cells(of: PacketUnit) -> Iterator[str]:
    unit = of.unit
    former = "".join(
        f"\nbore {one.former} until {one.from_on - dt.timedelta(days=1)}" for one in of.renumberings
    )
    yield unit.property_number + former
    make = (of.kind.name if of.kind else unit.kind, unit.manufacturer, unit.model)
    yield ", ".join(filter(None, (*make, unit.serial and f"serial {unit.serial}")))
    record = f"\non record from {unit.record_from_on}" if unit.record_from_on else ""
    retired = f"\nretired {unit.retired_on}" if unit.retired_on else ""
    yield f"since {unit.in_service_on}{record}{retired}"
    yield "\n".join(
        f"{stay.from_on} {'on' if stay.to_on == dt.date.max else f'to {stay.to_on}'}: {stay.site}"
        for stay in of.stays
    )


def _outage_words(of: PacketUnit) -> str:
    told = (
        f"{one.from_on} to {one.to_on or 'not back yet'}: {one.reason or 'no reason given'}"
        for one in of.outages
    )
    return "\n".join(told) or "none"


def _changes(pages: PacketPages, facts: PacketFacts) -> None:
    later = [
        line
        for line in facts.changes
        if not line.change.initial and not isinstance(line.change.record, Print)
    ]
    first = sum(line.change.initial for line in facts.changes)
    nothing = "Nothing of the site, its calendar, its people and its units was changed."
    if begun(pages, "Changes of the register", len(later), nothing):
        rows = (_change_cells(line) for line in later)
        pages.rows_under(
            ("stored", "by", "what", "old", "new"), (32, 34, 46, 60, 60), rows, size=6.5
        )
    pages.paragraph(
        f"Lines that came with the first load of what they speak of: {first:,}; changes.csv in the"
        " ZIP lists them with all others.",
        8,
    )


def _change_cells(line: ChangeLine) -> Cells:
    record = line.change.record
    what = f"{_word(type(record).__name__)} {' / '.join(filter(None, record.key))}"
    return (instant(line.stored_at), line.by, what, *old_and_new(line.change))


def _word(name: str) -> str:
    return {"ServiceReport": "service report"}.get(name, name.lower())


def old_and_new(change: Change) -> tuple[str, str]:
    """Only the fields that differ, or all where there is no other side."""
    old, new = _fields(change.old), _fields(change.new)
    if not (old and new):
        return _listed(old) or "none", _listed(new) or "withdrawn"
    differ = [name for name in new if new[name] != old.get(name)]
    return (
        _listed({name: old.get(name, "") or "none" for name in differ}),
        _listed({name: new[name] or "none" for name in differ}),
    )


def _fields(record: RegisterRecord | None) -> dict[str, str]:
    if record is None:
        return {}
    values = ((field.name, getattr(record, field.name)) for field in fields(record))
    return {name: "" if value is None else str(value) for name, value in values}


def _listed(values: dict[str, str]) -> str:
    return "; ".join(f"{name}: {value}" for name, value in values.items() if value)


def _rules(pages: PacketPages, facts: PacketFacts) -> None:
    rules = list(dict.fromkeys(rule for of in facts.units for rule in of.rules))
    nothing = "No unit of the site has a rule."
    if not begun(
        pages, "Rules in force in the span, with sources and cautions", len(rules), nothing
    ):
        return
    pages.paragraph(
        "Cautions are the rule book's; the manufacturer's manual, the site's safety officer and"
        f" local rules come first. Rule book: rules.toml in the ZIP, SHA-256 {facts.book_sha256}.",
        8,
    )
    headings = ("kind and task", "what", "how often", "source", "cautions")
    pages.rows_under(headings, (30, 46, 36, 52, 84), map(_rule_cells, rules), size=6.5)


def _rule_cells(rule: Rule) -> Cells:
    models = f"\nonly models {', '.join(rule.models)}" if rule.models else ""
    return (
        f"{rule.kind}\n{rule.task}{models}",
        rule.title,
        "\n".join(_often(rule)),
        rule.source,
        " ".join(rule.cautions) or "none given",
    )


def _often(rule: Rule) -> Iterator[str]:
    if rule.each:
        yield f"each {rule.each.value}" + (f", {rule.times} times" if rule.times > 1 else "")
    elif rule.every:
        yield f"every {rule.every.text}" + (f" from {rule.anchor_on}" if rule.anchor_on else "")
        yield f"early {rule.early}, grace {rule.grace} days, roll {rule.roll.value}"
    if rule.range:
        low, high = rule.range.low, rule.range.high
        yield (
            f"reading {low if low is not None else '…'} to {high if high is not None else '…'}"
            + (f" {rule.range.unit}")
        )
    if rule.from_on:
        yield f"from {rule.from_on}"
    if rule.until_on:
        yield f"until {rule.until_on}"
