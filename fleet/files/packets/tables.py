"""What stands in the CSV files of a packet? A table each: its columns and its rows."""

from __future__ import annotations

import csv
import datetime as dt
import io
import json
import re
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, fields
from operator import attrgetter

from fleet.domain.answers import FindingRow, StatusRow
from fleet.domain.evidence import Action, Extension, ServiceReport
from fleet.domain.prints import Print
from fleet.domain.records import RegisterRecord
from fleet.services.packet_facts import AttachedFile, PacketFacts, Removed
from fleet.services.reviews import ReviewRow

__all__ = ["attachment_path", "csv_files", "packet_rows"]

Row = Sequence[object]
Table = tuple[Sequence[str], Iterable[Row]]
_GUARDED = ("=", "+", "-", "@", "\t")
_ENTRY = (
    *("property_number", "task", "on", "to_on", "mark", "initials", "note", "reading"),
    *("recorded_at", "key", "strikes", "why"),
)
_STORED = ("stored_at", "by", "source", "seq")
_UNSAFE = re.compile(r"[^A-Za-z0-9._-]+")


def csv_files(facts: PacketFacts) -> Iterator[tuple[str, bytes]]:
    """The name and the bytes of every table."""
    for name, make in packet_rows().items():
        columns, rows = make(facts)
        yield f"{name}.csv", _csv(columns, rows)


def packet_rows() -> Mapping[str, Callable[[PacketFacts], Table]]:
    """What makes the columns and rows of each table."""
    return {
        "units": _units,
        "placements": _placements,
        "outages": _outages,
        "renumberings": _renumberings,
        "entries": _entries,
        "cells": _cells,
        "duties": _duties,
        "findings": lambda facts: _plain(FindingRow, facts.findings),
        "reports": lambda facts: _plain(ServiceReport, facts.reports),
        "attachments": _attachments,
        "actions": lambda facts: _plain(Action, [one.action for one in facts.actions]),
        "reviews": lambda facts: _plain(ReviewRow, facts.reviews),
        "extensions": lambda facts: _plain(Extension, facts.extensions),
        "prints": lambda facts: _plain(Print, facts.prints),
        "changes": _changes,
        "removed": lambda facts: _plain(Removed, facts.removed),
    }


def attachment_path(file: AttachedFile) -> str:
    """Where an attached file lies in the ZIP: its hash, and what is harmless of its name."""
    name = _UNSAFE.sub("_", file.attachment.name)[-60:].lstrip(".")
    return f"attachments/{file.attachment.sha256}-{name or 'file'}"


def _csv(columns: Sequence[str], rows: Iterable[Row]) -> bytes:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(columns)
    writer.writerows(map(_cell, row) for row in rows)
    return text.getvalue().encode()


def _cell(value: object) -> object:
    """A text that a spreadsheet would take for a formula gets a ' before it."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dt.datetime):
        return value.astimezone(dt.UTC).isoformat().replace("+00:00", "Z")
    if isinstance(value, str) and value.startswith(_GUARDED):
        return f"'{value}"
    return value


def _plain(kind: type[object], records: Iterable[object]) -> Table:
    """Records as they are, a column a field."""
    names = [field.name for field in fields(kind)]  # type: ignore[arg-type]
    return names, ([getattr(record, name) for name in names] for record in records)


def _units(facts: PacketFacts) -> Table:
    columns = (
        *("property_number", "kind", "kind_name", "manufacturer", "model", "serial", "site"),
        *("in_service_on", "retired_on", "record_from", "former_numbers"),
    )
    rows = (
        [
            *attrgetter("property_number", "kind")(of.unit),
            of.kind.name if of.kind else None,
            *attrgetter("manufacturer", "model", "serial", "site")(of.unit),
            *attrgetter("in_service_on", "retired_on", "record_from_on")(of.unit),
            "; ".join(one.former for one in of.renumberings),
        ]
        for of in facts.units
    )
    return columns, rows


def _placements(facts: PacketFacts) -> Table:
    rows = (
        [
            of.unit.property_number,
            stay.site,
            stay.from_on,
            None if stay.to_on == dt.date.max else stay.to_on,
        ]
        for of in facts.units
        for stay in of.stays
    )
    return ("property_number", "site", "from", "to_included"), rows


def _outages(facts: PacketFacts) -> Table:
    rows = (
        [one.property_number, one.from_on, one.to_on, one.reason]
        for of in facts.units
        for one in of.outages
    )
    return ("property_number", "from", "to_day_of_return", "reason"), rows


def _renumberings(facts: PacketFacts) -> Table:
    rows = (
        [one.former, one.property_number, one.from_on]
        for of in facts.units
        for one in of.renumberings
    )
    return ("former", "property_number", "from"), rows


def _entries(facts: PacketFacts) -> Table:
    entry, stored = attrgetter(*_ENTRY), attrgetter(*_STORED)
    return (*_ENTRY, *_STORED), ((*entry(line.entry), *stored(line)) for line in facts.entries)


def _cells(facts: PacketFacts) -> Table:
    columns = (
        *("property_number", "task", "each", "period_from", "period_to", "opens", "closes"),
        *("state", "cause", "reason", "marks"),
    )
    rows = (
        (
            charts.unit.property_number,
            chart.task,
            cell.rule.each and cell.rule.each.value,
            *cell[:4],
            cell.state.value,
            cell.reason and cell.reason.cause.value,
            cell.reason and cell.reason.words,
            "; ".join(line.entry.key for line in cell.marks),
        )
        for charts in facts.charts
        for chart in charts.charts
        for cell in chart.cells
    )
    return columns, rows


def _duties(facts: PacketFacts) -> Table:
    rows = ((month, *row) for month, rows in facts.duties.items() for row in rows)
    return ("month", *StatusRow._fields), rows


def _attachments(facts: PacketFacts) -> Table:
    rows = (
        (
            *attrgetter("sha256", "name", "media_type", "size")(file.attachment),
            None if file.content is None else attachment_path(file),
        )
        for file in facts.files
    )
    return ("sha256", "name", "media_type", "size", "file"), rows


def _changes(facts: PacketFacts) -> Table:
    rows = (
        (
            line.stored_at,
            line.by,
            type(line.change.record).__name__,
            "/".join(line.change.record.key),
            line.change.initial,
            _json(line.change.old),
            _json(line.change.new),
        )
        for line in facts.changes
    )
    return ("stored_at", "by", "what", "key", "first_load", "old", "new"), rows


def _json(record: RegisterRecord | None) -> str | None:
    if record is None:
        return None
    return json.dumps(asdict(record), ensure_ascii=False, default=str, sort_keys=True)
